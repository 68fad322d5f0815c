//! What to practise next: three things, by plain rules in one table, each with a drill.
//!
//! The shares of tempo, numbers of tries and rests are common practice, no source.

use takegauge_drill::{Drill, GridNote};

use crate::basis::Basis;
use crate::caution::caution;
use crate::cut::{change_loop, run_loop, whole};
use crate::declared::{BIAS, LIMIT, MARGIN, SPREAD};
use crate::group_key::GroupKey;
use crate::round::milli_or_zero;
use crate::score::{ChangeRow, GroupRow, Measure, PlanItem, Reliability};
use crate::tab::tab;
use crate::told::Told;

/// How many things a plan holds.
const ITEMS: usize = 3;

/// From this margin on (distances to the limit in units of the scatter) a tempo is begun at.
const MARGIN_TO_BEGIN: f64 = 3.0;

/// What leads to an item of the plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Case {
    LateChange,
    LooseChange,
    Strokes,
    OneNote,
    Mistakes,
    RingingOver,
    AlongTheTake,
    Tempo,
    OtherNotes,
    ThinnestMargin,
    Unknown,
    GoUp,
    MoreNotes,
}

/// One rule: what it leads to and why. `start` is the share of the tempo played at which to begin where the take's
/// margin does not say better; `step` a share of it; `bursts` the share of the goal for short bursts, where they help.
struct Rule {
    case: Case,
    why: &'static str,
    start: f64,
    step: f64,
    bursts: Option<f64>,
    stop: &'static str,
}

const STOP_LATE: &str = "Stop, or go back a step, when two of three tries scatter or come late again";
const STOP_ERRORS: &str = "Stop, or go back a step, at the second note that does not sound or sounds wrong in one try";
const STOP_LENGTH: &str = "Stop when the end of a try is looser than its start";

#[rustfmt::skip]
const RULES: [Rule; 13] = [
    Rule { case: Case::LateChange,     why: "these changes come early or late by more than chance",          start: 0.80, step: 0.03, bursts: Some(1.10), stop: STOP_LATE },
    Rule { case: Case::LooseChange,    why: "these changes do not come out alike",                           start: 0.75, step: 0.03, bursts: Some(1.10), stop: STOP_LATE },
    Rule { case: Case::Strokes,        why: "down- and upstrokes are not evenly spaced",                     start: 0.80, step: 0.03, bursts: Some(1.10), stop: STOP_LATE },
    Rule { case: Case::OneNote,        why: "one note of the line stands out, not its kind",                 start: 0.80, step: 0.03, bursts: None,       stop: STOP_LATE },
    Rule { case: Case::Mistakes,       why: "notes here go wrong more often than chance",                    start: 0.70, step: 0.03, bursts: None,       stop: STOP_ERRORS },
    Rule { case: Case::RingingOver,    why: "the string left rings into the new one",                        start: 0.60, step: 0.04, bursts: None,       stop: "Stop when the string left is heard under the new note" },
    Rule { case: Case::AlongTheTake,   why: "the take does not end as it begins",                            start: 0.90, step: 0.02, bursts: None,       stop: STOP_LENGTH },
    Rule { case: Case::Tempo,          why: "the take is not at the tempo asked for",                        start: 1.00, step: 0.02, bursts: None,       stop: STOP_LATE },
    Rule { case: Case::OtherNotes,     why: "these notes differ from the rest by more than chance",          start: 0.80, step: 0.03, bursts: None,       stop: STOP_LATE },
    Rule { case: Case::ThinnestMargin, why: "nothing is wrong with it, but it has the least margin",         start: 0.95, step: 0.02, bursts: Some(1.10), stop: STOP_LATE },
    Rule { case: Case::Unknown,        why: "this take cannot say how it stands",                            start: 0.90, step: 0.03, bursts: None,       stop: STOP_LATE },
    Rule { case: Case::GoUp,           why: "the take is clean enough to go up",                             start: 1.00, step: 0.02, bursts: Some(1.10), stop: STOP_ERRORS },
    Rule { case: Case::MoreNotes,      why: "this take is too short, or has too many errors, to say that its tempo holds", start: 0.95, step: 0.02, bursts: None, stop: STOP_ERRORS },
];

/// What the plan is made from.
pub(crate) struct Sources<'a> {
    pub(crate) drill: &'a Drill,
    pub(crate) grid: &'a [GridNote],
    pub(crate) basis: &'a Basis<'a>,
    pub(crate) told: &'a [Told],
    pub(crate) groups: &'a [GroupRow],
    pub(crate) changes: &'a [ChangeRow],
    pub(crate) reliability: &'a Reliability,
    pub(crate) tempo: f64,
}

/// Three things to practise next; fewer where the take holds nothing to go by.
pub(crate) fn plan(s: &Sources) -> Vec<PlanItem> {
    let mut items: Vec<PlanItem> = Vec::new();
    let mut add = |item: Option<PlanItem>| {
        let new = item.filter(|i| items.len() < ITEMS && items.iter().all(|o| o.what != i.what));
        items.extend(new);
    };
    // One recipe a finding, at its worst place.
    for told in s.told {
        add(of_finding(s, told));
    }
    let margin = |c: &ChangeRow| c.row.figures.value(&MARGIN);
    // What a finding speaks of has its recipe, and something is wrong with it.
    let found = |c: &ChangeRow| s.told.iter().filter_map(|t| t.found).any(|g| speaks_of(g, c));
    let mut thin: Vec<&ChangeRow> = s.changes.iter().filter(|c| margin(c).is_some() && !found(c)).collect();
    thin.sort_by(|a, b| margin(a).unwrap_or(0.0).total_cmp(&margin(b).unwrap_or(0.0)));
    for change in thin {
        let at = s
            .grid
            .iter()
            .find(|g| g.change.is_some_and(|c| (c.from, c.to, c.kind) == (change.from, change.to, change.kind)));
        add(at.and_then(|g| {
            item(s, Case::ThinnestMargin, Some(&change.row), |t| change_loop(s.drill, s.grid, g.position, t))
        }));
    }
    let case = if s.reliability.at_most_in_100.is_some_and(|p| p < 5.0) { Case::GoUp } else { Case::MoreNotes };
    if s.reliability.notes > 0 {
        add(item(s, case, None, |t| Some(whole(s.drill, t))));
    }
    for change in s.grid.iter().filter(|g| g.repeat == 0 && g.change.is_some_and(|c| c.kind.is_some())) {
        add(item(s, Case::Unknown, None, |t| change_loop(s.drill, s.grid, change.position, t)));
    }
    items
}

/// Whether all changes of a row are notes of a group.
fn speaks_of(group: GroupKey, change: &ChangeRow) -> bool {
    match group {
        GroupKey::Change => true,
        GroupKey::Kind(kind) => change.kind == Some(kind),
        GroupKey::Pair(from, to) => (change.from, change.to) == (from, to),
        GroupKey::LeavesOn(stroke) => change.leaves_on == Some(stroke),
        group => group == change.row.group,
    }
}

fn of_finding(s: &Sources, told: &Told) -> Option<PlanItem> {
    let row = s.groups.iter().find(|g| g.group == told.row.group);
    let case = case_of(told);
    let at = told.position.or_else(|| worst_places(s, told).first().copied());
    item(s, case, row, |tempo| match (case, told.found) {
        (Case::AlongTheTake | Case::Tempo, _) | (_, None) => Some(whole(s.drill, tempo)),
        (Case::Strokes, _) => run_loop(s.drill, s.grid, |_| true, "Down- and upstrokes on one string", tempo)
            .or_else(|| Some(whole(s.drill, tempo))),
        (_, Some(GroupKey::String(string))) => {
            run_loop(s.drill, s.grid, |g| g.string() == string, &format!("On string {string}, looped"), tempo)
                .or_else(|| Some(whole(s.drill, tempo)))
        }
        _ => at.and_then(|p| change_loop(s.drill, s.grid, p, tempo)).or_else(|| Some(whole(s.drill, tempo))),
    })
}

fn case_of(told: &Told) -> Case {
    let change = told.found.is_some_and(GroupKey::is_change);
    match told.row.measure {
        Measure::Tempo => Case::Tempo,
        Measure::TempoChange | Measure::ChangeInTake => Case::AlongTheTake,
        Measure::Missed | Measure::WrongPitch | Measure::Extra => Case::Mistakes,
        Measure::Smear => Case::RingingOver,
        _ if told.position.is_some() => Case::OneNote,
        Measure::Bias if change => Case::LateChange,
        Measure::Spread if change => Case::LooseChange,
        _ if matches!(told.found, Some(GroupKey::Stroke(_))) => Case::Strokes,
        _ => Case::OtherNotes,
    }
}

/// The places of a finding's notes, the one where they lie furthest out on average first.
fn worst_places(s: &Sources, told: &Told) -> Vec<usize> {
    let listed: std::collections::BTreeSet<usize> = told.row.note_indices.iter().copied().collect();
    let mut places = std::collections::BTreeMap::<usize, (f64, f64)>::new();
    for (n, local) in s.basis.notes.iter().zip(s.basis.local) {
        if let Some(v) = local.filter(|_| listed.contains(&n.grid.index)) {
            let sums = places.entry(n.grid.position).or_default();
            *sums = (sums.0 + v.abs(), sums.1 + 1.0);
        }
    }
    let mut ranked: Vec<(usize, f64)> = places.iter().map(|(place, p)| (*place, p.0 / p.1.max(1.0))).collect();
    ranked.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    ranked.into_iter().map(|(place, _)| place).collect()
}

fn item(s: &Sources, case: Case, row: Option<&GroupRow>, drill: impl Fn(f64) -> Option<Drill>) -> Option<PlanItem> {
    let rule = RULES.iter().find(|r| r.case == case)?;
    let start = tempo_with_margin(row, s.tempo).unwrap_or(rule.start * s.tempo).clamp(20.0, 400.0).round();
    let goal = s.drill.tempo.0.max(s.tempo);
    let drill = drill(start)?;
    let step = (rule.step * s.tempo).max(1.0).round();
    Some(PlanItem {
        what: drill.name.clone(),
        why: crate::words::capital(&reason(rule.why, row)),
        drill_toml: drill.to_toml(),
        tab: tab(&drill),
        start_bpm: milli_or_zero(start),
        step_bpm: milli_or_zero(step),
        burst_bpm: rule.bursts.map(|b| milli_or_zero((b * goal).clamp(20.0, 400.0).round())),
        stop: format!("{}; after ten minutes in any case. {}", rule.stop, caution()),
        rest: "Two minutes after every five of playing; ten before the take is recorded again.".into(),
    })
}

fn reason(why: &str, row: Option<&GroupRow>) -> String {
    match row.and_then(|r| r.outside_text.as_ref().map(|t| (r, t))) {
        Some((r, text)) => format!("{}: {why}; {text}.", r.label),
        None => row.map_or_else(|| format!("{why}."), |r| format!("{}: {why}.", r.label)),
    }
}

/// The tempo at which the group's bias and scatter, unchanged, leave a margin of 3: the limit is a quarter of the note
/// distance and grows as the tempo falls. Between half and 95 % of the tempo played.
fn tempo_with_margin(row: Option<&GroupRow>, tempo: f64) -> Option<f64> {
    let row = row?;
    let figure = |f| row.figures.value(f);
    let needed = figure(&BIAS)?.abs() + MARGIN_TO_BEGIN * figure(&SPREAD)?;
    let at = tempo * figure(&LIMIT)? / needed.max(1e-3);
    at.is_finite().then(|| at.clamp(0.5 * tempo, 0.95 * tempo))
}
