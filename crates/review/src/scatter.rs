//! Scatter: the SD of deviations about the mean of their own place in the line, slips left out and the detector's own
//! variance taken off. One definition for a take's figures and a ladder's.

use takegauge_stats::Sample;
use takegauge_stats::robust;
use takegauge_stats::spread::{Spread, WithinPlaces, within_places};

use crate::estimates::{CONFIDENCE, middle};
use crate::residuals::SLIP_MADS;
use crate::round::milli;
use crate::score::{Figure, Reason};

/// A pooled SD within places with the detector's variance taken off, and the slips that were left out of it.
pub(crate) struct Scatter {
    pub(crate) within: WithinPlaces,
    pub(crate) slips: usize,
}

/// The notes whose scatter is asked for, in parallel columns.
#[derive(Default)]
pub(crate) struct Scattered {
    /// Residuals, ms.
    values: Vec<f64>,
    /// The place of each; values of one place are held against each other.
    places: Vec<usize>,
    /// The detector's SD for each, ms.
    detector_sds: Vec<f64>,
}

impl Scattered {
    /// Adds a note.
    pub(crate) fn push(&mut self, residual_ms: f64, place: usize, detector_sd_ms: f64) {
        self.values.push(residual_ms);
        self.places.push(place);
        self.detector_sds.push(detector_sd_ms);
    }

    /// Scatter within places; slips (beyond 4 MAD of these notes' own) are left out and counted. `None` where no place
    /// holds two values.
    pub(crate) fn scatter(&self) -> Option<Scatter> {
        let slip = slips(&self.values, &self.places);
        let kept: Vec<usize> = (0..self.values.len()).filter(|k| !slip[*k]).collect();
        let v: Vec<f64> = kept.iter().map(|&k| self.values[k]).collect();
        let p: Vec<usize> = kept.iter().map(|&k| self.places[k]).collect();
        let detector: f64 = kept.iter().map(|&k| self.detector_sds[k].powi(2)).sum::<f64>() / kept.len().max(1) as f64;
        let within = within_places(Sample::new(&v).ok()?, &p, CONFIDENCE).ok()?.minus(detector).ok()?;
        Some(Scatter { within, slips: self.values.len() - kept.len() })
    }
}

/// Values of one place are held against the next so many of it: pairs enough, and their number grows with the values.
const PAIRED: usize = 4;

/// Which values lie beyond 4 scaled MADs from the median of their own place. Distances from a median of three are 0 for
/// one in three, so a MAD of them comes out far too small; the scale is taken from differences between values of a place
/// instead, whose variance is twice that of one value however few they are (Rousseeuw and Croux 1993, J. Am. Stat.
/// Assoc. 88:1273).
fn slips(values: &[f64], places: &[usize]) -> Vec<bool> {
    let mut by_place = std::collections::BTreeMap::<usize, Vec<f64>>::new();
    for (v, p) in values.iter().zip(places) {
        by_place.entry(*p).or_default().push(*v);
    }
    let differences: Vec<f64> = by_place
        .values()
        .flat_map(|v| (1..=PAIRED).flat_map(move |lag| v.iter().zip(v.iter().skip(lag)).map(|(a, b)| a - b)))
        .flat_map(|d| [d, -d])
        .collect();
    let reach = Sample::new(&differences).map_or(0.0, |s| SLIP_MADS * robust::mad_sd(s) / std::f64::consts::SQRT_2);
    let middle: std::collections::BTreeMap<usize, (f64, f64)> = by_place
        .iter()
        .map(|(p, v)| {
            // Two values lie half their difference from the middle, with an SD of 1 over root 2 of one value's.
            let narrow = if v.len() == 2 { std::f64::consts::FRAC_1_SQRT_2 } else { 1.0 };
            (*p, (middle(v), narrow))
        })
        .collect();
    let away = |v: f64, p: usize| middle.get(&p).is_some_and(|(m, narrow)| (v - m).abs() > reach * narrow);
    values.iter().zip(places).map(|(v, p)| reach > 0.0 && away(*v, *p)).collect()
}

/// A scatter as a report's figure.
pub(crate) fn spread_figure(scatter: Option<&Scatter>) -> Figure {
    let Some(s) = scatter else {
        let why = "each place of the line was played once; scatter shows only over repeats";
        return Figure::withheld(Reason::PlayedOnce, why, 0);
    };
    match s.within.spread() {
        Spread::Sd(e) => Figure::estimated(e),
        Spread::Below { limit, n } => {
            let why = format!("below {limit:.1} ms: not to be told from the detector's own error");
            Figure { below: milli(limit), ..Figure::withheld(Reason::BelowDetector, why, n) }
        }
        Spread::Unresolved => {
            Figure::withheld(Reason::BelowDetector, "smaller than the detector's own error", s.within.n)
        }
    }
}

/// Both ends of the spread; the lower is `None` where it reaches 0.
pub(crate) fn spread_ends(scatter: Option<&Scatter>) -> Option<[Option<f64>; 2]> {
    match scatter?.within.spread() {
        Spread::Sd(e) => Some([milli(e.interval.low), milli(e.interval.high)]),
        Spread::Below { limit, .. } => Some([None, milli(limit)]),
        Spread::Unresolved => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use takegauge_stats::Seeded;

    /// Normal values of SD 4 at places played `repeats` times: 4 MADs are 4 SDs, which one value in 16 000 passes.
    #[test]
    fn few_repeats_make_no_slips_of_plain_scatter() {
        let mut random = Seeded::new(7);
        for repeats in [2, 3, 4, 5, 12] {
            let places: Vec<usize> = (0..36 * repeats).map(|i| i % 36).collect();
            let mut values: Vec<f64> = places.iter().map(|p| *p as f64 + 4.0 * random.normal()).collect();
            let found = slips(&values, &places).iter().filter(|s| **s).count();
            assert!(found <= 2, "{found} slips with {repeats} repeats");
            if repeats > 2 {
                values[40] += 60.0;
                assert!(slips(&values, &places)[40], "{repeats}");
            }
        }
        assert_eq!(slips(&[1.0, 2.0], &[0, 1]), [false, false]);
    }

    /// Worked out by hand: at two places -3, 3, -3, 3 about their means make 72 squares over 8 - 2 degrees of freedom, a
    /// variance of 12. The detector's variance, the mean of the notes' own, is taken off that, and not cut off at 0. The
    /// upper limit is 72 over 1.6354 (the table's chi-square of 0.05 and 6), less the same.
    #[test]
    fn the_detectors_own_variance_is_taken_off() {
        let of = |sds: [f64; 2]| {
            let mut notes = Scattered::default();
            for k in 0..8 {
                notes.push(10.0 * (k % 2) as f64 + if k / 2 % 2 == 0 { -3.0 } else { 3.0 }, k % 2, sds[k % 2]);
            }
            notes.scatter().unwrap()
        };
        for (sds, variance) in [([0.0, 0.0], 12.0), ([1.0, 1.0], 11.0), ([1.0, 3.0], 7.0), ([4.0, 4.0], -4.0)] {
            let within = of(sds).within;
            assert!((within.variance - variance).abs() < 1e-9, "{sds:?}: {}", within.variance);
            assert_eq!((within.n, within.degrees_of_freedom), (8, 6));
        }
        assert_eq!(spread_figure(Some(&of([1.0, 1.0]))).value, Some(3.317));
        let below = spread_figure(Some(&of([4.0, 4.0])));
        assert_eq!((below.value, below.below, below.reason), (None, Some(5.294), Some(Reason::BelowDetector)));
    }
}
