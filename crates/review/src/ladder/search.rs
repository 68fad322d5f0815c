//! Which group comes apart, and where: hinges sought one after another.

use takegauge_stats::Sample;
use takegauge_stats::hinge::{Hinge, LEAST_TEMPOS, LadderGroup, find_hinges};

use super::{LadderGroupRow, Note, Rung, has, reference, residuals};
use crate::group_key::GroupKey;
use crate::round::{interval, milli};

/// A hinge is told up to this corrected p, and from this growth of spread on.
const ALPHA: f64 = 0.05;
/// What is left of a group when a part is taken out stays together where its own p lies above this.
const ALPHA_OF_REST: f64 = 0.1;
const GATE_SPREAD_AT_TOP: f64 = 1.5;

/// Shuffles of the tempos.
const PERMUTATIONS: usize = 999;

/// Finds hinges, the group that fits best first; its notes are then taken out of all others, so that a group does not
/// come apart merely for holding them.
pub(super) fn seek(rows: &mut [LadderGroupRow], rungs: &[Rung], seed: u64) {
    let mut found: Vec<GroupKey> = Vec::new();
    let mut told_of: Vec<String> = Vec::new();
    for round in 0..3u64 {
        let free = |n: &Note| found.iter().all(|f| !has(n, *f));
        let mut open = Vec::new();
        for (k, row) in rows.iter_mut().enumerate().filter(|(_, r)| r.comes_apart_bpm.is_none()) {
            let side = Side::new(rungs, row.group, |n| has(n, row.group) && free(n));
            match side.unusable() {
                None => open.push((k, side)),
                Some(_) if round > 0 && row.p_adjusted.is_some() => {
                    row.withheld = Some(format!("its notes are among the {}", told_of.join(", ")));
                }
                Some(why) => row.withheld = Some(why),
            }
        }
        let sides: Vec<&Side> = open.iter().map(|(_, s)| s).collect();
        let Some(hinges) = hinges(rungs, &sides, seed.wrapping_add(round)) else { return };
        let mut told: Vec<(usize, Hinge)> = Vec::new();
        for ((k, _), hinge) in open.iter().zip(hinges) {
            rows[*k].p_adjusted = Some((hinge.p_adjusted * 1e6).round() / 1e6);
            rows[*k].spread_at_top = milli(hinge.spread_ratio_at_top);
            if hinge.p_adjusted <= ALPHA && hinge.spread_ratio_at_top >= GATE_SPREAD_AT_TOP {
                told.push((*k, hinge));
            }
        }
        let Some((k, hinge)) = best(rows, rungs, &told, &free, seed) else { return };
        rows[k].comes_apart_bpm = milli(hinge.tempo.value);
        rows[k].comes_apart_ci95_bpm = interval(hinge.tempo.interval.low, hinge.tempo.interval.high);
        rows[k].bracketed = Some(hinge.bracketed);
        found.push(rows[k].group);
        told_of.push(rows[k].label.clone());
    }
}

/// The group with the largest likelihood ratio; then, as likelihood ratios of different notes do not compare, the part
/// of it that comes apart by itself while what is left of the whole does not, as long as there is such a part.
fn best(
    rows: &[LadderGroupRow],
    rungs: &[Rung],
    told: &[(usize, Hinge)],
    free: &impl Fn(&Note) -> bool,
    seed: u64,
) -> Option<(usize, Hinge)> {
    let by_ratio = |a: &&(usize, Hinge), b: &&(usize, Hinge)| a.1.likelihood_ratio.total_cmp(&b.1.likelihood_ratio);
    let mut best = *told.iter().max_by(by_ratio)?;
    for _ in 0..told.len() {
        let whole = rows[best.0].group;
        let mut part: Option<(f64, (usize, Hinge))> = None;
        for &(k, hinge) in told {
            let part_of = rows[k].group;
            let notes = || rungs.iter().flat_map(|r| &r.notes).filter(|n| free(n));
            let within = notes().all(|n| !has(n, part_of) || has(n, whole));
            let rest = Side::new(rungs, whole, |n| has(n, whole) && !has(n, part_of) && free(n));
            if k == best.0 || !within || rest.unusable().is_some() {
                continue;
            }
            let Some(left) = hinges(rungs, &[&rest], seed).and_then(|h| h.first().copied()) else { continue };
            let stays = left.p_adjusted > ALPHA_OF_REST || left.spread_ratio_at_top < GATE_SPREAD_AT_TOP;
            let score = hinge.likelihood_ratio - left.likelihood_ratio;
            if stays && part.as_ref().is_none_or(|(s, _)| score > *s) {
                part = Some((score, (k, hinge)));
            }
        }
        match part {
            Some((_, smaller)) => best = smaller,
            None => break,
        }
    }
    Some(best)
}

/// A group's residuals tempo by tempo, and those it is held against.
struct Side {
    group: Vec<Vec<f64>>,
    reference: Vec<Vec<f64>>,
}

impl Side {
    fn new(rungs: &[Rung], group: GroupKey, inside: impl Fn(&Note) -> bool) -> Self {
        Self {
            group: rungs.iter().map(|r| residuals(r, &inside)).collect(),
            reference: rungs.iter().map(|r| reference(r, group)).collect(),
        }
    }

    /// Why it cannot be sought in; `None` where it can.
    fn unusable(&self) -> Option<String> {
        let filled = self.group.iter().filter(|v| !v.is_empty()).count();
        let n: usize = self.group.iter().map(Vec::len).sum();
        if filled < LEAST_TEMPOS {
            return Some(format!(
                "notes at {}: the tempo at which it comes apart needs {LEAST_TEMPOS}",
                crate::tell::count(filled, "tempo", "tempos")
            ));
        }
        if n < 8 {
            return Some(format!("{} in all: too few", crate::tell::count(n, "note", "notes")));
        }
        if self.group.iter().zip(&self.reference).any(|(g, r)| !g.is_empty() && r.len() < 2) {
            return Some("no other notes at a tempo to hold it against".into());
        }
        let still = |v: &Vec<f64>| v.windows(2).all(|w| w[0] == w[1]);
        (self.group.iter().all(still) || self.reference.iter().all(still))
            .then(|| "its notes do not scatter at all".to_owned())
    }
}

fn hinges(rungs: &[Rung], sides: &[&Side], seed: u64) -> Option<Vec<Hinge>> {
    let tempos: Vec<f64> = rungs.iter().map(|r| r.tempo).collect();
    let ladders: Vec<LadderGroup> = sides
        .iter()
        .map(|side| LadderGroup {
            group: side.group.iter().map(Vec::as_slice).collect(),
            reference: side.reference.iter().map(Vec::as_slice).collect(),
        })
        .collect();
    find_hinges(Sample::new(&tempos).ok()?, &ladders, PERMUTATIONS, seed).ok()
}
