//! What is left of each note's deviation when the pass's slow drift is taken off: the figure that groups are judged by.
//!
//! Drift is a local-linear fit over at least two repeats of the line (Cleveland 1979, J. Am. Stat. Assoc. 74:829,
//! tricube weights). Where places of the line were played three times and more, their means are taken out before the
//! drift is fitted, so that a late place does not bend it. Slips are pulled in to 4 MAD for the fit only.

use std::collections::BTreeMap;
use takegauge_stats::{Sample, robust};

use crate::estimates::middle;
use crate::take::Judged;

/// How far a slip may pull: beyond so many scaled MADs a note counts as a slip.
pub(crate) const SLIP_MADS: f64 = 4.0;

/// Fewest notes under the drift's window: with less it would follow single groups of notes.
const LEAST_WINDOW: usize = 64;

/// Residuals, ms, parallel to the notes reached; `None` where a note was not judged for timing.
pub(crate) struct Residuals {
    /// Deviation with drift taken off, about 0.
    pub(crate) local: Vec<Option<f64>>,
    /// The drift taken off (a pass's line and its slow bending), ms.
    pub(crate) drift: Vec<Option<f64>>,
}

/// Takes the drift off, pass by pass.
pub(crate) fn residuals(notes: &[Judged]) -> Residuals {
    let mut out = Residuals { local: vec![None; notes.len()], drift: vec![None; notes.len()] };
    let timed: Vec<usize> = (0..notes.len()).filter(|&i| notes[i].deviation.is_some()).collect();
    let profile = place_means(notes, &timed);
    for pass in timed.chunk_by(|&a, &b| notes[a].pass == notes[b].pass) {
        let time: Vec<f64> = pass.iter().map(|&i| notes[i].placed.expected.0).collect();
        let mut rest: Vec<f64> = pass
            .iter()
            .map(|&i| notes[i].deviation.unwrap_or(0.0) - profile.get(&notes[i].grid.position).copied().unwrap_or(0.0))
            .collect();
        // Winsorising cannot fail: the values are finite and the number of MADs is positive.
        let _ = robust::winsorise(&mut rest, SLIP_MADS);
        let drift = drift(&time, &rest, half_width(notes, pass, &time));
        for (k, &i) in pass.iter().enumerate() {
            out.drift[i] = Some(drift[k]);
            out.local[i] = notes[i].deviation.map(|d| d - drift[k]);
        }
    }
    centre(&mut out.local);
    out
}

/// The slow part of a pass; with too few notes to draw a line through, their mean.
fn drift(time: &[f64], rest: &[f64], half_width: f64) -> Vec<f64> {
    let mean = rest.iter().sum::<f64>() / rest.len().max(1) as f64;
    let smoothed = Sample::new(time)
        .and_then(|t| takegauge_stats::smooth::local_linear(t, Sample::new(rest)?, half_width, LEAST_WINDOW / 2));
    smoothed.unwrap_or_else(|_| vec![mean; rest.len()])
}

/// The mean deviation of each place where places were played three times and more on average; else nothing.
fn place_means(notes: &[Judged], timed: &[usize]) -> BTreeMap<usize, f64> {
    let mut by_place: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
    for &i in timed {
        if let Some(d) = notes[i].deviation {
            by_place.entry(notes[i].grid.position).or_default().push(d);
        }
    }
    if timed.len() < 3 * by_place.len() {
        return BTreeMap::new();
    }
    by_place.iter().map(|(place, d)| (*place, middle(d))).collect()
}

/// Half the drift's window, s: a whole repeat, and at least [`LEAST_WINDOW`] notes in all.
fn half_width(notes: &[Judged], pass: &[usize], time: &[f64]) -> f64 {
    let repeats = pass.chunk_by(|&a, &b| notes[a].grid.repeat == notes[b].grid.repeat);
    let span = |r: &[usize]| match (r.first(), r.last()) {
        (Some(&a), Some(&b)) => notes[b].placed.expected.0 - notes[a].placed.expected.0,
        _ => 0.0,
    };
    let longest = repeats.map(span).fold(0.0, f64::max);
    let whole = time.last().zip(time.first()).map_or(0.0, |(b, a)| b - a);
    let notes_apart = whole / (time.len().max(2) - 1) as f64;
    longest.max(notes_apart * (LEAST_WINDOW / 2) as f64).max(1e-3)
}

fn centre(values: &mut [Option<f64>]) {
    let all: Vec<f64> = values.iter().flatten().copied().collect();
    let Ok(middle) = Sample::new(&all).and_then(|s| robust::trimmed_mean(s, 0.2)) else { return };
    for v in values.iter_mut().flatten() {
        *v -= middle.value;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::take::reached;
    use crate::testing::{aligned, drill};

    const LINE: &str = "6:3 6:5 6:7 5:3 5:5 5:7 4:5 4:7 4:5 5:7 5:5 5:3 6:7 6:5";

    #[test]
    fn a_slow_bend_is_taken_off_and_a_late_place_stays() {
        let d = drill(LINE, 12);
        let grid = d.grid();
        let m = aligned(&grid, 120.0, |g| {
            let bend = 30.0 * (g.expected.0 / grid.last().unwrap().expected.0 * 3.0).sin();
            Some(bend + if g.position == 3 { 10.0 } else { 0.0 })
        });
        let notes = reached(&grid, &m, crate::take::AfterSlip::Keep);
        let r = residuals(&notes);
        let of = |place: usize| -> Vec<f64> {
            notes.iter().zip(&r.local).filter(|(n, _)| n.grid.position == place).filter_map(|(_, l)| *l).collect()
        };
        for late in of(3).iter().zip(of(4)).map(|(a, b)| a - b) {
            assert!((late - 10.0).abs() < 0.7, "{late}");
        }
        assert!(of(4).iter().all(|v| v.abs() < 2.5), "{:?}", of(4));
    }

    #[test]
    fn one_note_or_none_is_no_trouble() {
        assert!(residuals(&[]).local.is_empty());
        assert_eq!(drift(&[1.0], &[5.0], 1.0), [5.0]);
    }
}
