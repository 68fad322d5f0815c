//! What is told of a take: groups that differ beyond chance and by enough to matter, ranked, in plain sentences.

use std::collections::BTreeMap;
use takegauge_stats::spread::Spread;
use takegauge_stats::{Estimate, Sample, comparison, intervals, robust};

use crate::advice::advice;
use crate::assumed::hangs_on_assumed;
use crate::basis::{Basis, difference, scatter};
use crate::estimates::{CONFIDENCE, LEAST_FOR_ESTIMATES, middle};
use crate::gates::{GATE_BIAS_MS, GATE_EVENTS, GATE_SMEAR_MS, GATE_SPREAD};
use crate::group_key::GroupKey;
use crate::groups::Group;
use crate::instrument::{self, First};
use crate::levels::level_findings;
use crate::ringing_time::{readings_used, ringing_range, ringing_time};
use crate::round::{interval, milli_or_zero, seconds};
use crate::score::{FindingRow, Measure, Unit};
use crate::search::{self, FoundGroup};
use crate::tell;
use crate::told::{MOST_LISTED, Subject, Told, told};

/// Fewer notes at a single place of the line say nothing about it.
const LEAST_AT_A_PLACE: usize = 3;

/// The findings of the searches, and what group rows need from them.
pub(crate) struct Findings {
    pub(crate) told: Vec<Told>,
    /// What may be the instrument and not the hand.
    pub(crate) may_be_instrument: Vec<FindingRow>,
    /// Bias of each found group.
    pub(crate) bias: BTreeMap<GroupKey, Estimate>,
    /// Notes in no found group.
    pub(crate) reference: Vec<usize>,
    pub(crate) groups_tried: usize,
}

/// Runs the searches. `basis.reference` need not be set yet; `steepest` are the residuals by the second reference, where
/// there is one.
pub(crate) fn findings(
    basis: &Basis,
    steepest: Option<&[Option<f64>]>,
    groups: &[Group],
    hearing_limit: Option<f64>,
    seed: u64,
) -> Findings {
    let sought: Vec<&Group> = groups.iter().filter(|g| g.key.is_lasting()).collect();
    let second = steepest.map(|local| Basis { local, ..basis.clone() });
    let timed = |found: &[FoundGroup]| timing_findings(basis, second.as_ref(), found, hearing_limit, seed);
    let timing = search::of_values(basis, &sought, basis.local, search::ALPHA, seed);
    let mut kept = timing.found;
    let Timed { told: told_of, .. } = timed(&kept);
    // What is too small to tell must not move the reference of what is told.
    let mut is_told = told_of.iter().map(|t| !t.is_empty());
    kept.retain(|_| is_told.next().unwrap_or(false));
    let Timed { told: told_of, bias } = timed(&kept);
    let levels = level_findings(basis, &sought, seed);
    let (maybe, mut told): (Vec<Told>, Vec<Told>) =
        told_of.into_iter().flatten().chain(levels).partition(|t| t.may_be_instrument.is_some());
    let reference = search::outside_all(basis, &kept);
    told.extend(smear_findings(basis, &sought, seed));
    told.extend(event_findings(basis, &sought, seed));
    let may_be_instrument = maybe.into_iter().map(Told::into_the_instruments).collect();
    Findings { told, may_be_instrument, bias, reference, groups_tried: timing.tried }
}

/// What is found of the times.
struct Timed {
    /// Of each found group.
    told: Vec<Vec<Told>>,
    /// The bias of each.
    bias: BTreeMap<GroupKey, Estimate>,
}

/// What is told of each found group, by both references.
fn timing_findings(
    basis: &Basis,
    second: Option<&Basis>,
    found: &[FoundGroup],
    hearing_limit: Option<f64>,
    seed: u64,
) -> Timed {
    let reference = search::outside_all(basis, found);
    let mut bias = BTreeMap::new();
    let mut told = Vec::new();
    let by_second = second.map(|s| search::effects(s, found, seed));
    for (k, (group, effect)) in found.iter().zip(search::effects(basis, found, seed)).enumerate() {
        let mut of_group = Vec::new();
        if let Some(e) = effect {
            bias.insert(group.key, e);
            let second = second.zip(by_second.as_ref().map(|e| e.get(k).copied().flatten()));
            of_group.extend(bias_finding(basis, second, group, e, hearing_limit));
        }
        if group.spread.is_some() {
            of_group.extend(spread_finding(basis, second, group, &reference));
        }
        told.push(of_group);
    }
    Timed { told, bias }
}

/// The note of the line that a group's effect is really about, where the effect does not hold across the group's
/// places: the place whose mean (or scatter) lies furthest out.
fn single_place(basis: &Basis, found: &FoundGroup, values: &[Option<f64>], of: fn(&[f64]) -> f64) -> Option<usize> {
    if found.places.holds || found.places.inside < 2 {
        return None;
    }
    let mut by_place: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
    for &i in &found.members {
        if let Some(v) = values[i] {
            by_place.entry(basis.notes[i].grid.position).or_default().push(v);
        }
    }
    let size = |v: &Vec<f64>| of(v).abs();
    by_place.iter().max_by(|a, b| size(a.1).total_cmp(&size(b.1)).then(b.0.cmp(a.0))).map(|(place, _)| *place)
}

fn width(v: &[f64]) -> f64 {
    Sample::new(v).map_or(0.0, robust::mad_sd)
}

/// `second` is the basis by the second reference, with the group's effect by it.
fn bias_finding(
    basis: &Basis,
    second: Option<(&Basis, Option<Estimate>)>,
    found: &FoundGroup,
    effect: Estimate,
    hearing_limit: Option<f64>,
) -> Option<Told> {
    let place = single_place(basis, found, basis.local, middle);
    let subject = Subject::new(basis, found, place);
    let others = outside(basis, found);
    let of_subject = |of: &Basis, effect: Option<Estimate>| match place {
        None => effect,
        Some(_) => difference(of.local, &subject.members, &others),
    };
    let effect = of_subject(basis, Some(effect))?;
    if effect.value.abs() < GATE_BIAS_MS || subject.members.len() < LEAST_AT_A_PLACE {
        return None;
    }
    let above = hearing_limit.map(|limit| effect.value.abs() > limit);
    let few = subject.members.len() < LEAST_FOR_ESTIMATES;
    let second = second.map(|(of, effect)| of_subject(of, effect));
    let why = instrument::of_bias(basis, First::of(&subject, &others, effect.value), second);
    let range = (!few).then_some(effect.interval);
    let told = told(basis, &subject, Measure::Bias, effect.value, Unit::Milliseconds, range).with(|row| {
        row.above_hearing_limit = above;
        row.text = tell::bias(&subject, row, hearing_limit);
        row.text.push_str(&hanging(basis, &subject, effect.value, Measure::Bias));
    });
    Some(Told { may_be_instrument: why, ..told })
}

/// Timed notes outside a found group.
fn outside(basis: &Basis, found: &FoundGroup) -> Vec<usize> {
    search::outside_all(basis, std::slice::from_ref(found))
}

/// What of a finding about strokes hangs on notes after a slip, as a sentence to add.
fn hanging(basis: &Basis, subject: &Subject, value: f64, measure: Measure) -> String {
    if !subject.found.key.speaks_of_strokes() {
        return String::new();
    }
    hangs_on_assumed(basis, &subject.members, &outside(basis, subject.found), value, measure)
}

fn spread_finding(basis: &Basis, second: Option<&Basis>, found: &FoundGroup, reference: &[usize]) -> Option<Told> {
    // Scatter is judged by distances from the place's middle, so a late place is not taken for a loose one.
    let place = single_place(basis, found, basis.local, width);
    let subject = Subject::new(basis, found, place);
    let others: Vec<usize> =
        if reference.len() >= LEAST_FOR_ESTIMATES { reference.to_vec() } else { outside(basis, found) };
    let (inside, outside) = (scatter(basis, &subject.members), scatter(basis, &others));
    let (value, range, no_interval) = match (&inside, &outside) {
        (Some(a), Some(b)) if a.within.variance > 0.0 && b.within.variance > 0.0 => {
            let (a, b) = (a.within, b.within);
            let df = [a.degrees_of_freedom as f64, b.degrees_of_freedom as f64];
            let e = comparison::variance_ratio([a.variance, b.variance], df, subject.members.len(), CONFIDENCE).ok()?;
            (e.value, Some(e.interval), "")
        }
        // What lies below the detector's own error is not known to scatter, however little the rest does.
        (Some(a), _) if !matches!(a.within.spread(), Spread::Sd(_)) => return None,
        // Places played once, or a rest that shows no scatter: the fit's own ratio, without an interval.
        (None, _) => (found.spread?, None, "each of their places was played once"),
        (_, None) => (found.spread?, None, "each place of the rest was played once"),
        _ => (found.spread?, None, "the rest scatters less than the detector's own error"),
    };
    // Notes that scatter less than the rest are nothing to work on.
    if value < GATE_SPREAD || range.is_some_and(|r| r.low <= 1.0) {
        return None;
    }
    let few = subject.members.len() < LEAST_FOR_ESTIMATES;
    let sds = [inside, outside].map(|s| match s?.within.spread() {
        Spread::Sd(e) => Some(e.value),
        _ => None,
    });
    let why = second.and_then(|s| instrument::of_spread(s, First::of(&subject, &others, value)));
    let told = told(basis, &subject, Measure::Spread, value, Unit::Ratio, range.filter(|_| !few)).with(|row| {
        row.text = tell::spread(&subject, row, sds, no_interval);
        row.text.push_str(&hanging(basis, &subject, value, Measure::Spread));
    });
    Some(Told { may_be_instrument: why, ..told })
}

fn smear_findings(basis: &Basis, groups: &[&Group], seed: u64) -> Vec<Told> {
    let ms = |n: &crate::take::Judged| n.measure?.smear.as_ref()?.as_ref().ok().map(|s| s.0);
    let values: Vec<Option<f64>> = basis.notes.iter().map(|n| ms(n).filter(|v| v.is_finite())).collect();
    // Lengths of ringing scatter by factors: one string that rings through to the end must not hide the others.
    let logs: Vec<Option<f64>> = values.iter().map(|v| v.map(|ms| ms.max(1.0).ln())).collect();
    let searched = search::of_values(basis, groups, &logs, search::ALPHA_OF_OTHERS, seed.wrapping_add(100));
    let all_found = &searched.found;
    let rest: Vec<f64> =
        (0..values.len()).filter(|i| !all_found.iter().any(|f| f.has(*i))).filter_map(|i| values[i]).collect();
    let tell_one = |found: &FoundGroup| -> Option<Told> {
        let subject = Subject::new(basis, found, single_place(basis, found, &values, middle));
        let inside: Vec<f64> = subject.members.iter().filter_map(|&i| values[i]).collect();
        let outside: Vec<f64> = if rest.len() >= 3 {
            rest.clone()
        } else {
            (0..values.len()).filter(|i| !found.has(*i)).filter_map(|i| values[i]).collect()
        };
        let (value, others) = (ringing_time(&inside), middle(&outside));
        if !found.mean || value - others < GATE_SMEAR_MS || value < 2.0 * others {
            return None;
        }
        let range = ringing_range(&inside, seed);
        Some(told(basis, &subject, Measure::Smear, value, Unit::Milliseconds, range).with(|row| {
            row.text = tell::smear(basis, &subject, row, readings_used(&inside), others);
        }))
    };
    all_found.iter().filter_map(tell_one).collect()
}

fn event_findings(basis: &Basis, groups: &[&Group], seed: u64) -> Vec<Told> {
    let mut out = Vec::new();
    for (k, measure) in [Measure::Missed, Measure::WrongPitch, Measure::Extra].into_iter().enumerate() {
        let hit = |i: usize| match measure {
            Measure::Missed => basis.notes[i].missed(),
            Measure::WrongPitch => basis.notes[i].wrong(),
            _ => basis.notes[i].extras_before > 0,
        };
        let all: Vec<usize> = (0..basis.notes.len()).filter(|&i| basis.notes[i].grid.picked()).collect();
        let total = all.iter().filter(|&&i| hit(i)).count();
        if total < GATE_EVENTS {
            continue;
        }
        let before = out.len();
        let searched = search::of_events(basis, groups, hit, seed.wrapping_add(300 + k as u64));
        for found in &searched.found {
            let events: Vec<Option<f64>> = (0..basis.notes.len()).map(|i| Some(f64::from(u8::from(hit(i))))).collect();
            let mean: fn(&[f64]) -> f64 = |v| v.iter().sum::<f64>() / v.len().max(1) as f64;
            let subject = Subject::new(basis, found, single_place(basis, found, &events, mean));
            out.extend(event_finding(basis, &subject, measure, &hit, total));
        }
        if out.len() == before {
            out.extend(everywhere(basis, &all, measure, &hit));
        }
    }
    out
}

fn event_finding(
    basis: &Basis,
    subject: &Subject,
    measure: Measure,
    hit: &dyn Fn(usize) -> bool,
    total: usize,
) -> Option<Told> {
    let hits: Vec<usize> = subject.members.iter().copied().filter(|&i| hit(i)).collect();
    if hits.len() < GATE_EVENTS {
        return None;
    }
    let rate = intervals::wilson(hits.len(), subject.members.len(), CONFIDENCE).ok()?;
    let percent = takegauge_stats::Interval { low: 100.0 * rate.interval.low, high: 100.0 * rate.interval.high };
    Some(told(basis, subject, measure, 100.0 * rate.value, Unit::PerCent, Some(percent)).with(|row| {
        row.note_indices = hits.iter().map(|&i| basis.notes[i].grid.index).collect();
        row.note_times_s = hits.iter().map(|&i| seconds(basis.notes[i].time())).collect();
        row.text = tell::events(subject, measure, row, hits.len(), subject.members.len(), total);
    }))
}

/// Mistakes that keep to no group: told of the whole take where they are surely more than 1 in 100.
fn everywhere(basis: &Basis, all: &[usize], measure: Measure, hit: &dyn Fn(usize) -> bool) -> Option<Told> {
    let hits: Vec<usize> = all.iter().copied().filter(|&i| hit(i)).collect();
    let rate = intervals::wilson(hits.len(), all.len(), CONFIDENCE).ok()?;
    if rate.interval.low < 0.01 {
        return None;
    }
    let row = FindingRow {
        group: GroupKey::AllNotes,
        measure,
        label: "all notes".into(),
        value: milli_or_zero(100.0 * rate.value),
        unit: Unit::PerCent,
        ci95: interval(100.0 * rate.interval.low, 100.0 * rate.interval.high),
        n: all.len(),
        p_adjusted: None,
        above_hearing_limit: None,
        text: tell::events_everywhere(measure, hits.len(), all.len()),
        advice: advice(None, measure, rate.value).into(),
        note_indices: hits.iter().take(MOST_LISTED).map(|&i| basis.notes[i].grid.index).collect(),
        note_times_s: hits.iter().take(MOST_LISTED).map(|&i| seconds(basis.notes[i].time())).collect(),
        or_also: Vec::new(),
    };
    Some(Told { row, found: None, position: None, may_be_instrument: None })
}
