//! A finding as the searches hand it on, and what it is about.

use crate::advice::advice;
use crate::basis::Basis;
use crate::group_key::GroupKey;
use crate::round::{interval, milli_or_zero, seconds};
use crate::score::{FindingRow, Measure, Unit};
use crate::search::FoundGroup;

/// Notes listed with a finding.
pub(crate) const MOST_LISTED: usize = 100;

/// A finding with what the plan needs to know of it.
#[derive(Debug, Clone)]
pub(crate) struct Told {
    pub(crate) row: FindingRow,
    /// The group that it was found in.
    pub(crate) found: Option<GroupKey>,
    /// The note of the line it is about, where it is about one.
    pub(crate) position: Option<usize>,
    /// Why it may be the instrument and not the hand, as a sentence.
    pub(crate) may_be_instrument: Option<String>,
}

/// The subject of a finding: the group, or the one note of the line that it comes down to.
pub(crate) struct Subject<'a> {
    pub(crate) found: &'a FoundGroup,
    pub(crate) members: Vec<usize>,
    pub(crate) position: Option<usize>,
}

impl<'a> Subject<'a> {
    pub(crate) fn new(basis: &Basis, found: &'a FoundGroup, position: Option<usize>) -> Self {
        let at = |i: &usize| position.is_none_or(|p| basis.notes[*i].grid.position == p);
        Self { found, members: found.members.iter().copied().filter(at).collect(), position }
    }

    pub(crate) fn key(&self) -> GroupKey {
        self.position.map_or(self.found.key, GroupKey::LineStep)
    }

    pub(crate) fn label(&self) -> String {
        self.position.map_or_else(|| self.found.label.clone(), |p| format!("the note on step {} of the line", p + 1))
    }
}

/// A finding of `value` about `subject`, as yet without its sentence.
pub(crate) fn told(
    basis: &Basis,
    subject: &Subject,
    measure: Measure,
    value: f64,
    unit: Unit,
    range: Option<takegauge_stats::Interval>,
) -> Told {
    let found = subject.found;
    let heard = |i: &&usize| basis.notes[**i].placed.played.is_some();
    let listed: Vec<usize> = subject.members.iter().filter(heard).copied().take(MOST_LISTED).collect();
    let mut or_also = found.or_also.clone();
    if subject.position.is_some() {
        or_also.insert(0, found.key);
    }
    let row = FindingRow {
        group: subject.key(),
        measure,
        label: subject.label(),
        value: milli_or_zero(value),
        unit,
        ci95: range.and_then(|r| interval(r.low, r.high)),
        n: subject.members.len(),
        p_adjusted: Some((found.p_adjusted * 1e6).round() / 1e6),
        above_hearing_limit: None,
        text: String::new(),
        advice: advice(subject.position.is_none().then_some(found.key), measure, value).into(),
        note_indices: listed.iter().map(|&i| basis.notes[i].grid.index).collect(),
        note_times_s: listed.iter().map(|&i| seconds(basis.notes[i].time())).collect(),
        or_also,
    };
    Told { row, found: Some(found.key), position: subject.position, may_be_instrument: None }
}

impl Told {
    /// The row of what is no finding: it says why, and advises nothing.
    pub(crate) fn into_the_instruments(self) -> FindingRow {
        let why = self.may_be_instrument.unwrap_or_default();
        FindingRow { text: self.row.text + &why, advice: String::new(), ..self.row }
    }

    pub(crate) fn with(mut self, change: impl FnOnce(&mut FindingRow)) -> Self {
        change(&mut self.row);
        self
    }
}
