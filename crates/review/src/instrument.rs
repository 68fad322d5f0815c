//! Whether what was found is the hand's, or may be the instrument's: strings and pitches differ in how their sound
//! begins, and a detector hears them differently late.
//!
//! A finding stands if it stands twice more. Once by a second reference: the moment of each note's steepest rise instead
//! of its foot. Once held apart from what its strings do anyway: against notes of the same string that were not just
//! changed to (for one note of the line: the same string and fret elsewhere in it), for a string that always speaks late
//! says nothing about the change to it. What is left of it must be at least half, and more than chance.

use std::collections::BTreeSet;
use takegauge_stats::{Estimate, Sample, robust};

use crate::basis::{Basis, difference, scatter};
use crate::estimates::TRIM;
use crate::group_key::GroupKey;
use crate::residuals::residuals;
use crate::take::Judged;
use crate::told::Subject;

/// Of a finding this share must be left.
const LEFT: f64 = 0.5;
/// A string's own lateness is told from so many notes on.
const LEAST_OWN: usize = 3;
/// The second reference needs so large a share of the notes.
const LEAST_SHARE: f64 = 0.8;

/// The notes' residuals by the moment of their steepest rise, ms, parallel to `notes`; `None` where too few were heard
/// rising.
pub(crate) fn by_steepest_rise(notes: &[Judged]) -> Option<Vec<Option<f64>>> {
    let rise = |n: &Judged| n.measure.and_then(|m| m.rise).map(|r| r.0).filter(|r| r.is_finite());
    let mut shifted = notes.to_vec();
    for n in &mut shifted {
        n.deviation = n.deviation.and_then(|d| Some(d + rise(n)?));
    }
    let timed = |of: &[Judged]| of.iter().filter(|n| n.deviation.is_some()).count() as f64;
    (timed(&shifted) >= LEAST_SHARE * timed(notes)).then(|| residuals(&shifted).local)
}

/// A finding as it was first told.
#[derive(Clone, Copy)]
pub(crate) struct First<'a> {
    pub(crate) key: GroupKey,
    /// The note of the line it comes down to.
    pub(crate) position: Option<usize>,
    pub(crate) members: &'a [usize],
    /// What its scatter is held against.
    pub(crate) others: &'a [usize],
    pub(crate) value: f64,
}

impl<'a> First<'a> {
    /// A stroke is no instrument's.
    fn is_of_strokes(self) -> bool {
        matches!(self.key, GroupKey::Stroke(_)) && self.position.is_none()
    }

    pub(crate) fn of(subject: &'a Subject, others: &'a [usize], value: f64) -> Self {
        Self { key: subject.found.key, position: subject.position, members: &subject.members, others, value }
    }
}

/// Why an early or late group may be the instrument's, as a sentence; `None` where it is the hand's. `second` is its
/// effect by the second reference, where there is one.
pub(crate) fn of_bias(basis: &Basis, first: First, second: Option<Option<Estimate>>) -> Option<String> {
    let stands = |e: &Estimate| e.value / first.value >= LEFT && (e.interval.low > 0.0 || e.interval.high < 0.0);
    if let Some(second) = second.filter(|_| !first.is_of_strokes())
        && !second.as_ref().is_some_and(stands)
    {
        let by = "Timed by the steepest rise of each note instead of its beginning";
        return Some(told(&second.map_or_else(|| format!("{by} it cannot be told"), |e| left(by, e, first.value))));
    }
    let apart = held_apart(basis, first)?;
    (!stands(&apart)).then(|| {
        let notes = match first.position {
            Some(_) => "against the same fret elsewhere in the line",
            None => "against other notes on the same strings",
        };
        told(&left(&format!("Held {notes}"), apart, first.value))
    })
}

/// What is left of a bias of `value`, which does not stand.
fn left(by: &str, e: Estimate, value: f64) -> String {
    if e.value / value >= LEFT { format!("{by} it could be chance") } else { format!("{by} it is {:.1} ms", e.value) }
}

/// The same of a group that scatters more; `value` is a ratio.
pub(crate) fn of_spread(second: &Basis, first: First) -> Option<String> {
    if first.is_of_strokes() {
        return None;
    }
    let sd = |of: &[usize]| scatter(second, of).map(|s| s.within.variance).filter(|v| *v > 0.0).map(f64::sqrt);
    let ratio = sd(first.members)? / sd(first.others)?;
    let stands = (ratio - 1.0) / (first.value - 1.0) >= LEFT;
    (!stands).then(|| {
        told(&format!(
            "Timed by the steepest rise of each note instead of its beginning they scatter {ratio:.1} times as much"
        ))
    })
}

/// The same of a level; `alone` is the difference without what the strings left may add.
pub(crate) fn of_level(value: f64, alone: Option<Estimate>) -> Option<String> {
    let alone = alone.filter(|e| e.value / value < LEFT)?;
    Some(told(&format!("Without what the strings left may add it is {:.1} dB", alone.value)))
}

fn told(why: &str) -> String {
    format!(" {why}: that may be the instrument, not the hand.")
}

/// The effect against notes of the same strings that were not just changed to, for one note of the line against the same
/// string and fret elsewhere; `None` where that is the question itself, or too few such notes were heard.
fn held_apart(basis: &Basis, first: First) -> Option<Estimate> {
    if first.key.is_string() && first.position.is_none() {
        return None;
    }
    let (notes, mut values) = (basis.notes, basis.local.to_vec());
    let place = notes.get(*first.members.first()?)?.grid;
    let like = |n: &Judged, string: u8| {
        n.grid.string() == string
            && if first.position.is_some() {
                n.grid.fret() == place.fret()
            } else {
                n.grid.change.is_none() && !n.starts
            }
    };
    let strings: BTreeSet<u8> = first.members.iter().map(|&i| notes[i].grid.string()).collect();
    let mut others = Vec::new();
    for string in strings {
        let of_string = (0..notes.len()).filter(|&i| basis.local[i].is_some() && notes[i].grid.string() == string);
        let (members, rest): (Vec<usize>, Vec<usize>) = of_string.partition(|i| first.members.binary_search(i).is_ok());
        let stayed: Vec<usize> = rest.into_iter().filter(|&i| like(&notes[i], string)).collect();
        let heard: Vec<f64> = stayed.iter().filter_map(|&i| basis.local[i]).collect();
        let own = robust::trimmed_mean(Sample::at_least(&heard, LEAST_OWN).ok()?, TRIM).ok()?.value;
        members.iter().chain(&stayed).for_each(|&i| values[i] = values[i].map(|v| v - own));
        others.extend(stayed);
    }
    others.sort_unstable();
    difference(&values, first.members, &others)
}

#[cfg(test)]
mod tests {
    use crate::group_key::GroupKey;
    use crate::score::{Measure, ScoreReport};
    use crate::testing::{aligned, drill, input};
    use takegauge_drill::GridNote;
    use takegauge_units::{Decibels, Millis};

    const LINE: &str = "6:3 6:5 6:7 5:3 5:5 5:7 4:4 4:5 4:7 3:4 3:5 3:7 2:5 2:7 2:8 1:5 1:7 1:8 \
                        1:7 1:5 2:8 2:7 2:5 3:7 3:5 3:4 4:7 4:5 4:4 5:7 5:5 5:3 6:7 6:5";

    /// Scatter without chance: within 4 ms, the same on every run.
    fn scatter(g: &GridNote) -> f64 {
        f64::from((g.index as u32).wrapping_mul(2_654_435_761) >> 16 & 0xff) / 32.0 - 4.0
    }

    /// A take whose notes are late by `late` at their foot, rise so long after it, and are so loud over what is before.
    fn report(
        late: fn(&GridNote) -> f64,
        rise: fn(&GridNote) -> f64,
        levels: fn(&GridNote) -> [f64; 2],
    ) -> ScoreReport {
        let d = drill(LINE, 6);
        let grid = d.grid();
        let mut m = aligned(&grid, 150.0, |g| Some(scatter(g) + late(g)));
        for (n, g) in m.notes[0].iter_mut().zip(&grid) {
            let [level, before] = levels(g);
            n.rise = Some(Millis(rise(g)));
            let level = level + scatter(g) / 8.0;
            (n.level, n.before) = (Some(Decibels(level)), Some(Decibels(before)));
        }
        crate::score(&input(&d, &grid, &m))
    }

    fn even(_: &GridNote) -> [f64; 2] {
        [-12.0, -40.0]
    }

    fn on_six(g: &GridNote) -> bool {
        g.string() == 6
    }

    #[test]
    fn a_string_that_is_late_by_its_foot_alone_may_be_the_instruments() {
        let late = |g: &GridNote| if on_six(g) { 8.0 } else { 0.0 };
        let r = report(late, |g| if on_six(g) { -7.0 } else { 1.0 }, even);
        assert!(r.findings.is_empty(), "{:#?}", r.findings);
        let [row] = r.may_be_instrument.as_slice() else { panic!("{:#?}", r.may_be_instrument) };
        assert_eq!((row.group, row.measure, row.advice.as_str()), (GroupKey::String(6), Measure::Bias, ""));
        assert!(
            row.text.ends_with("may be the instrument, not the hand.") && row.text.contains("steepest"),
            "{}",
            row.text
        );
        // What rises as late as it begins was played late.
        let r = report(late, |_| 1.0, even);
        assert_eq!(r.findings.iter().map(|f| f.group).collect::<Vec<_>>(), [GroupKey::String(6)]);
        assert!(r.may_be_instrument.is_empty());
    }

    #[test]
    fn changes_that_are_louder_by_what_the_string_left_adds_may_be_the_instruments() {
        let changed = |g: &GridNote| g.change.is_some();
        // Two strings of -12 dB, one after the other, are -6.
        let sum = |g: &GridNote| if g.change.is_some() { [-6.0, -12.0] } else { [-12.0, -40.0] };
        let r = report(|_| 0.0, |_| 1.0, sum);
        assert!(r.findings.is_empty() && r.may_be_instrument.len() == 1, "{:#?}", r.may_be_instrument);
        assert_eq!(r.may_be_instrument[0].measure, Measure::Level);
        let louder = |g: &GridNote| if g.change.is_some() { [-6.0, -26.0] } else { [-12.0, -40.0] };
        let r = report(|_| 0.0, |_| 1.0, louder);
        assert!(r.findings.iter().any(|f| f.measure == Measure::Level) && r.may_be_instrument.is_empty());
        assert!(drill(LINE, 1).grid().iter().any(changed));
    }

    #[test]
    fn a_change_to_a_string_that_is_always_late_is_no_finding_about_the_change() {
        let d = drill(LINE, 6);
        let grid = d.grid();
        let to_six = |g: &GridNote| g.change.is_some_and(|c| (c.from, c.to) == (5, 6));
        for (stays_late, held_back) in [(true, true), (false, false)] {
            let late = |g: &GridNote| if to_six(g) || stays_late && on_six(g) { 9.0 } else { 0.0 };
            let m = aligned(&grid, 150.0, |g| Some(scatter(g) + late(g)));
            let notes = crate::take::reached(&grid, &m, crate::AfterSlip::Keep);
            let local = crate::residuals::residuals(&notes).local;
            let basis = crate::basis::Basis {
                notes: &notes,
                local: &local,
                reference: Vec::new(),
                intervals: Vec::new(),
                detector_sd: 0.5,
                level_withheld: None,
            };
            let (members, others): (Vec<usize>, Vec<usize>) = (0..notes.len()).partition(|&i| to_six(notes[i].grid));
            let first = super::First {
                key: GroupKey::Pair(5, 6),
                position: None,
                members: &members,
                others: &others,
                value: 8.0,
            };
            let why = super::of_bias(&basis, first, None);
            assert_eq!(why.is_some(), held_back, "{why:?}");
        }
    }
}
