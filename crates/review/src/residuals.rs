//! What is left of each note's deviation when the pass's slow drift is taken off: the figure that groups are judged by.
//!
//! Drift is a local-linear fit over at least two repeats of the line (Cleveland 1979, J. Am. Stat. Assoc. 74:829,
//! tricube weights). Where places of the line were played three times and more, their means are taken out before the
//! drift is fitted, so that a late place does not bend it. Slips are pulled in to 4 MAD for the fit only.

use std::collections::BTreeMap;
use takegauge_stats::{Sample, robust};

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
        let repeats: Vec<usize> = pass.iter().map(|&i| notes[i].grid.repeat).collect();
        let drift = smooth(&time, &rest, window(&repeats));
        for (k, &i) in pass.iter().enumerate() {
            out.drift[i] = Some(drift[k]);
            out.local[i] = notes[i].deviation.map(|d| d - drift[k]);
        }
    }
    centre(&mut out.local);
    out
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
    let median = |d: &Vec<f64>| Sample::new(d).map_or(0.0, robust::median);
    by_place.iter().map(|(place, d)| (*place, median(d))).collect()
}

/// Notes under the window: two repeats' worth, at least [`LEAST_WINDOW`].
fn window(repeats: &[usize]) -> usize {
    let longest = repeats.chunk_by(|a, b| a == b).map(<[usize]>::len).max().unwrap_or(0);
    (2 * longest).max(LEAST_WINDOW)
}

/// Local-linear fit with tricube weights over the nearest `window` values; the straight line where all lie within it.
fn smooth(time: &[f64], y: &[f64], window: usize) -> Vec<f64> {
    let n = time.len();
    if n <= window {
        let all = line(time, y, |_| 1.0);
        return time.iter().map(|t| all(*t)).collect();
    }
    // Long takes are fitted at every `step`-th note and joined by straight lines: the fit bends slower than that.
    let step = (window / 64).max(1);
    let knots: Vec<usize> = (0..n).step_by(step).chain([n - 1]).collect();
    let fitted: Vec<f64> = knots
        .iter()
        .map(|&i| {
            let low = i.saturating_sub(window / 2).min(n - window);
            let (t, v) = (&time[low..low + window], &y[low..low + window]);
            let reach = (time[i] - t[0]).max(t[window - 1] - time[i]) * 1.000_001;
            line(t, v, |x| (1.0 - ((x - time[i]).abs() / reach).powi(3)).max(0.0).powi(3))(time[i])
        })
        .collect();
    (0..n)
        .map(|i| {
            let k = (i / step).min(knots.len() - 2);
            let (a, b) = (knots[k], knots[k + 1]);
            let part = if b > a { (time[i] - time[a]) / (time[b] - time[a]).max(1e-9) } else { 0.0 };
            fitted[k] + part * (fitted[k + 1] - fitted[k])
        })
        .collect()
}

/// The weighted straight line; a constant where the times do not spread.
fn line(time: &[f64], y: &[f64], weight: impl Fn(f64) -> f64) -> impl Fn(f64) -> f64 {
    let w: Vec<f64> = time.iter().map(|t| weight(*t)).collect();
    let total: f64 = w.iter().sum::<f64>().max(1e-12);
    let mt = w.iter().zip(time).map(|(w, t)| w * t).sum::<f64>() / total;
    let my = w.iter().zip(y).map(|(w, y)| w * y).sum::<f64>() / total;
    let stt: f64 = w.iter().zip(time).map(|(w, t)| w * (t - mt) * (t - mt)).sum();
    let sty: f64 = w.iter().zip(time).zip(y).map(|((w, t), y)| w * (t - mt) * (y - my)).sum();
    let slope = if stt > 1e-12 { sty / stt } else { 0.0 };
    move |t| my + slope * (t - mt)
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
        let notes = reached(&grid, &m);
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
    fn a_long_take_joined_from_knots_is_the_fit_itself() {
        let time: Vec<f64> = (0..2000).map(f64::from).collect();
        let y: Vec<f64> = time.iter().map(|t| 0.02 * t - 3.0).collect();
        for (got, want) in smooth(&time, &y, 640).iter().zip(&y) {
            assert!((got - want).abs() < 1e-6);
        }
    }

    #[test]
    fn one_note_or_none_is_no_trouble() {
        assert!(residuals(&[]).local.is_empty());
        assert_eq!(smooth(&[1.0], &[5.0], 64), [5.0]);
    }
}
