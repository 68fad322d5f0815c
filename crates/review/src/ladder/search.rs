//! Which kind of change comes apart, and from which tempo: lateness and scatter together, then mistakes, then ringing.

use takegauge_stats::ladder::{
    ComesApart as Hinge, Counts, Kind, LEAST_TEMPOS, LadderNote, MOST_KINDS, Settings, Unusable, come_apart,
    level_hinges, rate_hinges,
};

use super::model::{ComesApart, LadderGroupRow, LadderHinge};
use super::rungs::{Note, REFERENCE, Rung, has};
use crate::gates::{GATE_BIAS_MS, GATE_SMEAR_MS};
use crate::group_key::GroupKey;
use crate::round::{interval, milli};
use crate::score::Unit;
use takegauge_stats::{Sample, robust};

/// Chance that any kind is named for lateness or scatter where none comes apart; simulated in reports/ladder.md.
const ALPHA: f64 = 0.02;
/// The same for mistakes, and for ringing over.
const ALPHA_OF_OTHERS: f64 = 0.01;
/// Growth of scatter from which on it is told.
const GATE_SPREAD_AT_TOP: f64 = 1.5;
/// Growth of ringing over from which on it is told, as a ratio, beside [`GATE_SMEAR_MS`].
const GATE_SMEAR_RATIO: f64 = 1.5;
/// Simulated ladders behind each p-value.
const DRAWS: usize = 999;

/// Seeks in all rows; identical kinds are sought in once, under the name that says most of the stroke.
pub(super) fn seek(rows: &mut [LadderGroupRow], rungs: &[Rung], seed: u64) {
    let kinds = distinct(rows, rungs);
    timing(rows, rungs, &kinds, seed);
    let open: Vec<usize> = kinds.iter().copied().filter(|k| rows[*k].group != REFERENCE).collect();
    mistakes(rows, rungs, &open, seed);
    ringing(rows, rungs, &open, seed);
}

fn settings(alpha: f64, seed: u64) -> Settings {
    Settings { alpha, draws: DRAWS, seed, least_shift: GATE_BIAS_MS, least_ratio: GATE_SPREAD_AT_TOP }
}

/// Rows to seek in. A row with the same notes as another gives way to it and says so.
fn distinct(rows: &mut [LadderGroupRow], rungs: &[Rung]) -> Vec<usize> {
    let same = |a: GroupKey, b: GroupKey| rungs.iter().flat_map(|r| &r.notes).all(|n| has(n, a) == has(n, b));
    let rank = |g: GroupKey| match g {
        GroupKey::Kind(_) => 0,
        GroupKey::Change => 1,
        GroupKey::Pair(..) => 2,
        GroupKey::LeavesOn(_) => 3,
        _ => 4,
    };
    let mut order: Vec<usize> = (0..rows.len()).filter(|k| rows[*k].group != REFERENCE).collect();
    order.sort_by_key(|k| (rank(rows[*k].group), *k));
    let mut kept: Vec<usize> = Vec::new();
    for k in order {
        match kept.iter().copied().find(|&o| same(rows[o].group, rows[k].group)) {
            Some(other) => {
                rows[k].withheld = Some(format!("the same notes as the {}", rows[other].label));
                let alias = rows[k].group;
                rows[other].or_also.push(alias);
            }
            None => kept.push(k),
        }
    }
    kept.truncate(MOST_KINDS);
    kept
}

/// Tempo of each take, and the takes in that order.
fn takes(rungs: &[Rung]) -> (Vec<f64>, Vec<usize>) {
    let of = |r: &Rung| r.takes.iter().map(|t| (r.tempo, *t)).collect::<Vec<_>>();
    rungs.iter().flat_map(of).unzip()
}

fn timing(rows: &mut [LadderGroupRow], rungs: &[Rung], kinds: &[usize], seed: u64) {
    let (tempos, order) = takes(rungs);
    let bits = |n: &Note| {
        let bit = |(b, k): (usize, &usize)| u128::from(has(n, rows[*k].group)) << b;
        kinds.iter().enumerate().map(bit).fold(0, |a, b| a | b)
    };
    let note = |n: &Note| {
        let take = order.iter().position(|t| *t == n.take)?;
        Some(LadderNote { take, place: n.position, value: n.residual?, kinds: bits(n), reference: has(n, REFERENCE) })
    };
    let notes: Vec<LadderNote> = rungs.iter().flat_map(|r| &r.notes).filter_map(note).collect();
    // Residuals and tempos are finite and there are at most as many kinds as can be told apart.
    let Ok(search) = come_apart(&tempos, &notes, kinds.len(), settings(ALPHA, seed)) else { return };
    for (k, sought) in kinds.iter().zip(&search.kinds) {
        let row = &mut rows[*k];
        row.p_adjusted = sought.p_adjusted.map(|p| (p * 1e6).round() / 1e6);
        row.could_show_late_ms = sought.could_show_shift.and_then(milli);
        row.withheld = withheld(sought, rungs.len());
        if let Some(e) = sought.level {
            row.late_throughout_ms = milli(e.value);
            row.late_throughout_ci95_ms = interval(e.interval.low, e.interval.high);
        }
    }
    for hinge in &search.found {
        let rivals: Vec<GroupKey> = hinge.rivals.iter().filter_map(|r| kinds.get(*r)).map(|r| rows[*r].group).collect();
        if let Some(k) = kinds.get(hinge.kind) {
            tell(&mut rows[*k], hinge, rivals);
        }
    }
}

fn tell(row: &mut LadderGroupRow, hinge: &Hinge, rivals: Vec<GroupKey>) {
    row.comes_apart_bpm = milli(hinge.tempo.value);
    row.comes_apart_ci95_bpm = interval(hinge.tempo.interval.low, hinge.tempo.interval.high);
    row.bracketed = Some(hinge.bracketed);
    row.at_once = hinge.at_once;
    row.measure = match hinge.parts {
        [true, false] => ComesApart::Bias,
        [false, true] => ComesApart::Spread,
        _ => ComesApart::BiasAndSpread,
    };
    row.late_at_top_ms = milli(hinge.base_shift + hinge.shift_at_top.value);
    row.later_by_ms = milli(hinge.shift_at_top.value);
    row.later_by_ci95_ms = interval(hinge.shift_at_top.interval.low, hinge.shift_at_top.interval.high);
    row.spread_at_top = milli(hinge.ratio_at_top);
    row.or_also.extend(rivals);
    row.withheld = None;
}

fn withheld(kind: &Kind, tempos: usize) -> Option<String> {
    match kind.unusable? {
        Unusable::Tempos(n) => Some(format!(
            "notes at {}: the tempo at which it comes apart needs {LEAST_TEMPOS}",
            crate::words::count(n.min(tempos), "tempo", "tempos")
        )),
        Unusable::Notes(n) => Some(format!("{} in all: too few", crate::words::count(n, "note", "notes"))),
        Unusable::Reference => Some("no other notes that scatter to hold it against".into()),
        Unusable::Named => Some("its notes are among those that come apart".into()),
    }
}

/// Mistakes against those of the other notes.
fn mistakes(rows: &mut [LadderGroupRow], rungs: &[Rung], open: &[usize], seed: u64) {
    let (tempos, order) = takes(rungs);
    let counts = |k: &usize| -> Vec<Counts> {
        let mut of_takes = vec![Counts::default(); order.len()];
        for n in rungs.iter().flat_map(|r| &r.notes) {
            let Some(c) = order.iter().position(|t| *t == n.take).and_then(|t| of_takes.get_mut(t)) else { continue };
            if has(n, rows[*k].group) {
                c.notes += 1;
                c.events += usize::from(n.error);
            } else {
                c.other_notes += 1;
                c.other_events += usize::from(n.error);
            }
        }
        of_takes
    };
    let kinds: Vec<Vec<Counts>> = open.iter().map(counts).collect();
    let chosen = Settings { least_shift: 0.0, ..settings(ALPHA_OF_OTHERS, seed) };
    let Ok(found) = rate_hinges(&tempos, &kinds, chosen) else { return };
    let rate = |counts: &[Counts], wanted: &dyn Fn(f64) -> bool| {
        let at = || counts.iter().zip(&tempos).filter(|(_, t)| wanted(**t));
        let (events, notes): (usize, usize) = at().fold((0, 0), |(e, n), (c, _)| (e + c.events, n + c.notes));
        (notes > 0).then(|| 100.0 * events as f64 / notes as f64)
    };
    let best = found.iter().flatten().max_by(|a, b| a.likelihood_ratio.total_cmp(&b.likelihood_ratio));
    if let Some(h) = best {
        let below = rate(&kinds[h.kind], &|t| t <= h.tempo.value).unwrap_or(0.0);
        let above = rate(&kinds[h.kind], &|t| t > h.tempo.value).unwrap_or(0.0);
        rows[open[h.kind]].mistakes = Some(told(h, below, above, Unit::InHundredNotes));
    }
}

/// Ringing over against what it was at slower tempos.
fn ringing(rows: &mut [LadderGroupRow], rungs: &[Rung], open: &[usize], seed: u64) {
    let (tempos, order) = takes(rungs);
    let values = |k: &usize| -> Vec<Vec<f64>> {
        let mut of_takes = vec![Vec::new(); order.len()];
        for n in rungs.iter().flat_map(|r| &r.notes).filter(|n| has(n, rows[*k].group)) {
            if let (Some(t), Some(ms)) = (order.iter().position(|t| *t == n.take), n.smear) {
                of_takes[t].push(ms.max(1.0));
            }
        }
        of_takes
    };
    let kinds: Vec<Vec<Vec<f64>>> = open.iter().map(values).collect();
    let chosen = Settings { least_shift: GATE_SMEAR_RATIO.ln(), ..settings(ALPHA_OF_OTHERS, seed) };
    let Ok(found) = level_hinges(&tempos, &kinds, chosen) else { return };
    let middle = |takes: &[Vec<f64>], wanted: &dyn Fn(f64) -> bool| {
        let at = takes.iter().zip(&tempos).filter(|(_, t)| wanted(**t));
        let all: Vec<f64> = at.flat_map(|(v, _)| v.iter().copied()).collect();
        Sample::new(&all).map(robust::median).unwrap_or(0.0)
    };
    let best = found.iter().flatten().max_by(|a, b| a.likelihood_ratio.total_cmp(&b.likelihood_ratio));
    if let Some(h) = best {
        let below = middle(&kinds[h.kind], &|t| t <= h.tempo.value);
        let above = middle(&kinds[h.kind], &|t| t > h.tempo.value);
        if above - below >= GATE_SMEAR_MS {
            rows[open[h.kind]].ringing = Some(told(h, below, above, Unit::Milliseconds));
        }
    }
}

fn told(h: &Hinge, below: f64, above: f64, unit: Unit) -> LadderHinge {
    LadderHinge {
        from_bpm: milli(h.tempo.value),
        from_ci95_bpm: interval(h.tempo.interval.low, h.tempo.interval.high),
        below: milli(below),
        above: milli(above),
        unit,
        p_adjusted: (h.p_adjusted * 1e6).round() / 1e6,
    }
}
