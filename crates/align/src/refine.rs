//! A second look at a run once its whole course is known: the grid is smoothed over both sides of every note, and the
//! attacks are matched to it again. The path search looks back only; its first notes know little of the grid.

use crate::cost::{Costs, timing};
use crate::line::Line;
use crate::path::{Chain, Link};
use crate::tuning::refine::{
    BISQUARE, LEAN, LEAST_SCATTER, NEAR, REACH, REWEIGHTED, ROUNDS, SD_A_MAD, SMOOTHED, WIDEN,
};
use crate::tuning::timing::{HALF_WAY, LEGATO_SCATTER, SCATTER};
use std::ops::Range;
use takegauge_stats::robust::upper_median;

/// The grid of a run: where each note from `first` on is expected, in seconds.
pub(crate) struct Smooth {
    pub(crate) expected: Vec<f64>,
    /// Robust SD of the matched notes about it, seconds.
    pub(crate) scatter: f64,
}

/// Matches the run's notes again to the attacks `within` reach of it, until nothing changes.
pub(crate) fn refine(costs: &Costs, within: Range<usize>, line: &Line, chain: &mut Chain, rate: f64) {
    for _ in 0..ROUNDS {
        let reached = (chain.first, chain.last);
        widen(chain, line);
        let smooth = smooth(costs, line, chain, rate);
        let links = rematch(costs, within.clone(), line, chain, reached, &smooth, rate);
        let (Some(head), Some(tail)) = (links.first(), links.last()) else {
            (chain.first, chain.last) = reached;
            break;
        };
        (chain.first, chain.last) = (head.note.min(reached.0), tail.note.max(reached.1));
        let settled = links == chain.links;
        chain.links = links;
        if settled {
            break;
        }
    }
}

/// Lets a run begin earlier, back to the line's first note, and end later, on to its last: notes at its ends that the
/// path search gave up because it did not know the tempo yet.
fn widen(chain: &mut Chain, line: &Line) {
    for _ in 0..WIDEN {
        if !line.slot(chain.first).opens && chain.first > 0 {
            chain.first -= 1;
        }
        if !line.slot(chain.last).closes {
            chain.last += 1;
        }
    }
}

/// Local straight lines through the matched notes, one hesitation-free piece at a time.
pub(crate) fn smooth(costs: &Costs, line: &Line, chain: &Chain, rate: f64) -> Smooth {
    let floor = LEAST_SCATTER * line.usual_gap * rate;
    let mut scatter = SCATTER * line.usual_gap * rate;
    let mut expected = Vec::new();
    let starts: Vec<usize> = (0..chain.links.len()).filter(|k| *k == 0 || chain.links[*k].anew).collect();
    for round in 0..SMOOTHED {
        expected = Vec::with_capacity(chain.last - chain.first + 1);
        let mut residuals = Vec::with_capacity(chain.links.len());
        for (s, start) in starts.iter().enumerate() {
            let end = starts.get(s + 1).copied().unwrap_or(chain.links.len());
            let piece = &chain.links[*start..end];
            let until = starts.get(s + 1).map_or(chain.last + 1, |e| chain.links[*e].note);
            for note in chain.first + expected.len()..until {
                let at = local_line(costs, line, piece, note, rate, (round > 0).then_some(scatter));
                if let Ok(k) = piece.binary_search_by_key(&note, |l| l.note)
                    && line.slot(note).picked
                {
                    residuals.push((costs.times[piece[k].attack] - at).abs());
                }
                expected.push(at);
            }
        }
        scatter = upper_median(residuals).map_or(scatter, |m| SD_A_MAD * m).max(floor);
    }
    Smooth { expected, scatter }
}

/// Where the matched notes around `note` put it: weighted least squares, weights falling with distance (tricube) and,
/// where the scatter is known, with the residual from a first line.
fn local_line(costs: &Costs, line: &Line, piece: &[Link], note: usize, rate: f64, scatter: Option<f64>) -> f64 {
    let middle = piece.partition_point(|l| l.note < note);
    let near = &piece[middle.saturating_sub(REACH)..(middle + REACH).min(piece.len())];
    let here = line.at(note);
    let reach = near.iter().map(|l| l.note.abs_diff(note)).max().unwrap_or(1) as f64 + 1.0;
    let points: Vec<(f64, f64, f64)> = near
        .iter()
        .map(|l| {
            let w = 1.0 - (l.note.abs_diff(note) as f64 / reach).powi(3);
            (line.at(l.note) - here, costs.times[l.attack], w.powi(3))
        })
        .collect();
    let mut fit = weighted_line(&points, rate);
    let Some(scatter) = scatter else { return fit.0 };
    for _ in 0..REWEIGHTED {
        let again: Vec<(f64, f64, f64)> = points
            .iter()
            .map(|(x, t, w)| {
                let u = (t - fit.0 - fit.1 * x) / (BISQUARE * scatter);
                (*x, *t, w * (1.0 - u * u).max(0.0).powi(2))
            })
            .collect();
        if again.iter().map(|p| p.2).sum::<f64>() <= 1e-6 {
            break;
        }
        fit = weighted_line(&again, rate);
    }
    fit.0
}

/// Height at 0 and slope; the slope leans on `rate` as firmly as two notes one usual distance apart would, so that a
/// few notes cannot tilt it.
fn weighted_line(points: &[(f64, f64, f64)], rate: f64) -> (f64, f64) {
    let w: f64 = points.iter().map(|p| p.2).sum();
    if w <= 0.0 {
        return (points.first().map_or(0.0, |p| p.1), rate);
    }
    let mx = points.iter().map(|p| p.0 * p.2).sum::<f64>() / w;
    let mt = points.iter().map(|p| p.1 * p.2).sum::<f64>() / w;
    let (mut sxx, mut sxt) = (0.0, 0.0);
    let mut gap = f64::INFINITY;
    for (k, (x, t, weight)) in points.iter().enumerate() {
        sxx += weight * (x - mx).powi(2);
        sxt += weight * (x - mx) * (t - mt);
        if k > 0 {
            gap = gap.min((x - points[k - 1].0).abs().max(1e-6));
        }
    }
    let lean = if gap.is_finite() { LEAN * gap * gap } else { 1.0 };
    let slope = (sxt + lean * rate) / (sxx + lean);
    (mt - slope * mx, slope)
}

#[derive(Clone, Copy, PartialEq)]
enum Move {
    None,
    Match,
    LeaveOut,
    Miss,
}

/// The least-cost order-preserving matching of the run's attacks to its notes, all those `reached` included and those
/// beyond for free; `expected` given.
fn rematch(
    costs: &Costs,
    within: Range<usize>,
    line: &Line,
    chain: &Chain,
    reached: (usize, usize),
    smooth: &Smooth,
    rate: f64,
) -> Vec<Link> {
    let (Some(head), Some(tail)) = (chain.links.first(), chain.links.last()) else { return Vec::new() };
    let usual = line.usual_gap * rate;
    let notes = smooth.expected.len();
    let near = NEAR * usual;
    // Attacks just outside the run may be its first or last note after all.
    let a0 = (within.start..head.attack)
        .rev()
        .take_while(|a| costs.times[*a] > smooth.expected[0] - HALF_WAY * usual)
        .last();
    let a0 = a0.unwrap_or(head.attack);
    let end = smooth.expected[notes - 1] + HALF_WAY * usual;
    let a1 = (tail.attack + 1..within.end).take_while(|a| costs.times[*a] < end).last().unwrap_or(tail.attack);
    // Columns count notes consumed, 0 to `notes`; row r is after attack a0 + r - 1; each row keeps a band of columns.
    let rows = a1 - a0 + 2;
    let bands = bands(costs, smooth, a0, rows, near);
    let mut moves: Vec<Vec<Move>> = Vec::with_capacity(rows);
    let mut last: (usize, Vec<f64>) = (0, Vec::new());
    for (r, (lo, hi)) in bands.iter().copied().enumerate() {
        let mut cost = vec![f64::INFINITY; hi - lo + 1];
        let mut by = vec![Move::None; hi - lo + 1];
        for j in lo..=hi {
            let k = j - lo;
            let above = |j: usize| j.checked_sub(last.0).and_then(|k| last.1.get(k)).copied().unwrap_or(f64::INFINITY);
            if r > 0 {
                let a = a0 + r - 1;
                // After the last note nothing is an extra yet.
                let outside = j > reached.1 - chain.first;
                let skip = above(j) + if outside { 0.0 } else { costs.leave_out(a) };
                if skip < cost[k] {
                    (cost[k], by[k]) = (skip, Move::LeaveOut);
                }
                if j > 0 {
                    let slot = line.slot(chain.first + j - 1);
                    let own = smooth.scatter * if slot.picked { 1.0 } else { LEGATO_SCATTER };
                    let error = costs.times[a] - smooth.expected[j - 1];
                    let time = timing(error, own * own + costs.variance[a], usual);
                    let fit = above(j - 1) + costs.sound(a, slot) + time;
                    if fit < cost[k] {
                        (cost[k], by[k]) = (fit, Move::Match);
                    }
                }
            }
            // Beginning here leaves the notes before unreached.
            if j <= reached.0 - chain.first && 0.0 < cost[k] {
                (cost[k], by[k]) = (0.0, Move::None);
            }
            if k > 0 {
                let again = by[k - 1] == Move::Miss;
                let free = j > reached.1 + 1 - chain.first;
                let passed = cost[k - 1] + if free { 0.0 } else { costs.miss(line.slot(chain.first + j - 1), again) };
                if passed < cost[k] {
                    (cost[k], by[k]) = (passed, Move::Miss);
                }
            }
        }
        moves.push(by);
        last = (lo, cost);
    }
    walk_back(chain, &bands, &moves, a0, notes)
}

/// Which columns each row keeps: those whose next or last note is expected near the attack, and enough to pass on.
fn bands(costs: &Costs, smooth: &Smooth, a0: usize, rows: usize, near: f64) -> Vec<(usize, usize)> {
    let notes = smooth.expected.len();
    let mut bands = vec![(0, 0); rows];
    let (mut lo, mut hi) = (0, 0);
    for (r, band) in bands.iter_mut().enumerate().skip(1) {
        let t = costs.times[a0 + r - 1];
        while lo < notes && smooth.expected[lo] < t - near {
            lo += 1;
        }
        while hi < notes && smooth.expected[hi] <= t + near {
            hi += 1;
        }
        *band = (lo, hi.max(lo));
    }
    for r in 0..rows {
        // Enough for every column of the next row to be reached by passing over notes.
        bands[r].1 = if r + 1 < rows { bands[r].1.max(bands[r + 1].1) } else { notes };
    }
    bands
}

fn walk_back(chain: &Chain, bands: &[(usize, usize)], moves: &[Vec<Move>], a0: usize, notes: usize) -> Vec<Link> {
    let mut links = Vec::new();
    let (mut r, mut j) = (bands.len() - 1, notes);
    loop {
        let by = j.checked_sub(bands[r].0).and_then(|k| moves[r].get(k)).copied().unwrap_or(Move::None);
        match by {
            Move::Match if r > 0 && j > 0 => {
                r -= 1;
                j -= 1;
                links.push(Link { note: chain.first + j, attack: a0 + r, anew: false });
            }
            Move::LeaveOut if r > 0 => r -= 1,
            Move::Miss if j > 0 => j -= 1,
            _ => break,
        }
    }
    links.reverse();
    // A piece after a hesitation begins with the first note heard at or after the one it began with.
    let mut anew: Vec<usize> = chain.links.iter().filter(|l| l.anew).map(|l| l.note).collect();
    anew.reverse();
    for link in &mut links {
        while anew.last().is_some_and(|n| *n <= link.note) {
            anew.pop();
            link.anew = true;
        }
    }
    if let Some(first) = links.first_mut() {
        first.anew = false;
    }
    links
}
