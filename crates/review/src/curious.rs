//! Figures for the curious: clock and motor timing, evenness, the line's own profile. None is a headline.

use takegauge_stats::spread::profile;
use takegauge_stats::timing::{LEAST_INTERVALS, timing_split};
use takegauge_stats::{Estimate, Interval, Sample, bootstrap, circular, evenness, intervals};

use crate::basis::Basis;
use crate::estimates::CONFIDENCE;
use crate::score::{Curious, Figure, Mode, Reason};

/// Said with the motor part of the split.
const MOTOR_NOTE: &str = "The detector's own error counts into the motor part; the split is of playing without a click \
     (Wing & Kristofferson 1973).";

/// Most notes that are resampled for an interval here.
const MOST_RESAMPLED: usize = 3000;

pub(crate) fn curious(basis: &Basis, mode: Mode, apart_ms: f64, trial_sd_ms: Figure) -> Curious {
    let chain = Chain::new(basis);
    let split = split(&chain, mode);
    Curious {
        npvi: npvi(&chain),
        resultant_length: resultant(basis, apart_ms),
        systematic_sd_ms: systematic(basis),
        trial_sd_ms,
        note: MOTOR_NOTE.into(),
        ..split
    }
}

/// Inter-onset intervals between neighbours, ms, with what each needs beside it.
struct Chain {
    /// Played less expected.
    deviations: Vec<f64>,
    played: Vec<f64>,
    nominal: Vec<f64>,
    places: Vec<usize>,
    /// Numbers unbroken stretches.
    runs: Vec<usize>,
}

impl Chain {
    fn new(basis: &Basis) -> Self {
        let mut chain = Self {
            deviations: Vec::new(),
            played: Vec::new(),
            nominal: Vec::new(),
            places: Vec::new(),
            runs: Vec::new(),
        };
        let (mut run, mut open) = (0, false);
        for (i, n) in basis.notes.iter().enumerate() {
            let nominal = i.checked_sub(1).map(|b| (n.placed.expected.0 - basis.notes[b].placed.expected.0) * 1e3);
            match (basis.intervals[i], nominal) {
                (Some(deviation), Some(nominal)) if nominal > 0.0 && nominal + deviation > 0.0 => {
                    chain.deviations.push(deviation);
                    chain.played.push(nominal + deviation);
                    chain.nominal.push(nominal);
                    chain.places.push(n.grid.position);
                    chain.runs.push(run);
                    open = true;
                }
                _ => {
                    run += usize::from(open);
                    open = false;
                }
            }
        }
        chain
    }
}

fn split(chain: &Chain, mode: Mode) -> Curious {
    let n = chain.deviations.len();
    let all = |reason: Reason, why: &str| {
        let none = Figure::withheld(reason, why, n);
        Curious {
            timekeeper_sd_ms: none.clone(),
            motor_sd_ms: none.clone(),
            timekeeper_variance_ms2: none.clone(),
            motor_variance_ms2: none.clone(),
            lag1: none,
            ..Curious::default()
        }
    };
    if mode == Mode::Click {
        return all(Reason::ToAClick, "the split is of playing without a click");
    }
    if n < LEAST_INTERVALS {
        return all(Reason::TooFew, &format!("{n} intervals: the split needs {LEAST_INTERVALS}"));
    }
    let split = Sample::new(&chain.deviations).and_then(|s| timing_split(s, &chain.places, &chain.runs, CONFIDENCE));
    let Ok(s) = split else {
        return all(Reason::PlayedOnce, "places of the line were played once, so their profile cannot be taken out");
    };
    let sd = |e: Estimate| {
        if !s.model_holds {
            return Figure::withheld(Reason::ModelFails, "the model does not hold: a variance comes out below 0", e.n);
        }
        // Both variances are at least 0 where the model holds; an interval that reaches below has no root.
        let root = |v: f64| if v >= 0.0 { v.sqrt() } else { 0.0 };
        Figure::estimated(Estimate {
            value: e.value.sqrt(),
            interval: Interval { low: root(e.interval.low), high: root(e.interval.high) },
            n: e.n,
        })
    };
    // Bartlett's standard error of an autocorrelation, about 1 / sqrt(n) (Bartlett 1946).
    let reach = 1.96 / (n as f64).sqrt();
    let r = s.lag1_autocorrelation;
    Curious {
        timekeeper_sd_ms: sd(s.clock),
        motor_sd_ms: sd(s.motor),
        timekeeper_variance_ms2: Figure::estimated(s.clock),
        motor_variance_ms2: Figure::estimated(s.motor),
        lag1: Figure::estimated(Estimate { value: r, interval: Interval { low: r - reach, high: r + reach }, n }),
        ..Curious::default()
    }
}

/// nPVI of intervals over their nominal lengths, as the mean of its terms, with the interval of that mean.
fn npvi(chain: &Chain) -> Figure {
    let neighbours = (1..chain.played.len()).filter(|&k| chain.runs[k] == chain.runs[k - 1]);
    let term = |k: usize| {
        let two = |v: &[f64]| [v[k - 1], v[k]];
        let (played, nominal) = (two(&chain.played), two(&chain.nominal));
        evenness::npvi_of_nominal(Sample::new(&played).ok()?, Sample::new(&nominal).ok()?).ok()
    };
    let terms: Vec<f64> = neighbours.filter_map(term).collect();
    match Sample::new(&terms).and_then(|s| intervals::mean_interval(s, CONFIDENCE)) {
        Ok(e) => Figure::estimated(e),
        Err(_) => Figure::withheld(Reason::TooFew, "fewer than three intervals in a row", terms.len()),
    }
}

/// Mean resultant length of the deviations as phases of one note distance: 1 is a perfect grid, 0 none.
fn resultant(basis: &Basis, apart_ms: f64) -> Figure {
    let all: Vec<f64> = basis.notes.iter().filter_map(|n| n.deviation).collect();
    let n = all.len();
    let phases = Sample::new(&all).and_then(|s| circular::phases(s, apart_ms));
    let Ok(phases) = phases else { return Figure::withheld(Reason::TooFew, "no note was heard", n) };
    let Some(direction) = Sample::new(&phases).ok().and_then(|s| circular::circular(s).mean_direction) else {
        return Figure::withheld(Reason::NoneShown, "the deviations have no common direction", n);
    };
    // R is the mean of the cosines about the mean direction.
    let cosines: Vec<f64> = phases.iter().map(|p| (p - direction).cos()).collect();
    match Sample::new(&cosines).and_then(|s| intervals::mean_interval(s, CONFIDENCE)) {
        Ok(e) => Figure::estimated(Estimate {
            interval: Interval { low: e.interval.low.max(0.0), high: e.interval.high.min(1.0) },
            ..e
        }),
        Err(_) => Figure::withheld(Reason::TooFew, "fewer than two notes were heard", n),
    }
}

/// SD of the places' own means beyond what scatter alone would give (van Vugt, Jabusch & Altenmüller 2012).
fn systematic(basis: &Basis) -> Figure {
    let heard: Vec<usize> = (0..basis.local.len()).filter(|&i| basis.local[i].is_some()).collect();
    let n = heard.len();
    if n > MOST_RESAMPLED {
        let why = format!("more than {MOST_RESAMPLED} notes: score a part of the take for it");
        return Figure::withheld(Reason::TooMany, why, n);
    }
    let value = |drawn: &[usize]| {
        let v: Vec<f64> = drawn.iter().filter_map(|&k| basis.local[heard[k]]).collect();
        let places: Vec<usize> = drawn.iter().map(|&k| basis.notes[heard[k]].grid.position).collect();
        let variance = profile(Sample::new(&v).ok()?, &places, CONFIDENCE).ok()?.systematic_variance;
        Some(if variance > 0.0 { variance.sqrt() } else { 0.0 })
    };
    let clusters: Vec<usize> = heard.iter().map(|&i| basis.notes[i].block).collect();
    let plan = bootstrap::Plan { resamples: 199, seed: 1, confidence: CONFIDENCE };
    match bootstrap::by_cluster(&clusters, plan, value) {
        Ok(e) if e.value > 0.0 => Figure::estimated(e),
        Ok(_) => Figure::withheld(Reason::NoneShown, "no profile shows beyond the scatter", n),
        Err(_) => {
            Figure::withheld(Reason::PlayedOnce, "the line was played once; its profile shows only over repeats", n)
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked out by hand from 100/(m - 1) sum |d_k - d_(k+1)| / ((d_k + d_(k+1))/2) (Grabe and Low 2002): 120, 80, 120
    /// and 200 ms of a nominal 120 make 100/3 (0.4 + 0.4 + 0.5). Two notes of 200 and 100 ms as written add a fourth term,
    /// of 0; from 200 to 200, where the line broke off, there is none.
    #[test]
    fn npvi_is_of_neighbours_in_an_unbroken_stretch() {
        let mut chain = Chain {
            deviations: Vec::new(),
            played: vec![120.0, 80.0, 120.0, 200.0],
            nominal: vec![120.0; 4],
            places: Vec::new(),
            runs: vec![0; 4],
        };
        let told = npvi(&chain);
        assert_eq!((told.value, told.n), (Some(43.333), 3));
        chain.played.extend([200.0, 100.0]);
        chain.nominal.extend([200.0, 100.0]);
        chain.runs.extend([1, 1]);
        let told = npvi(&chain);
        assert_eq!((told.value, told.n), (Some(32.5), 4));
        // One term has no spread and so no interval.
        let two = Chain { played: vec![100.0, 150.0], nominal: vec![100.0; 2], runs: vec![0; 2], ..chain };
        assert_eq!((npvi(&two).value, npvi(&two).reason), (None, Some(Reason::TooFew)));
    }
}
