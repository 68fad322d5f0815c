//! Pairs of notes played long and short, told as swing rather than as a late stroke.
//!
//! A pair is two neighbouring picked notes on an even and the following odd step of a beat of two or four. Where the
//! second comes so late in nearly all pairs that it is meant, its ratio is told and the shift taken off both notes before
//! anything else is sought.

use takegauge_drill::Drill;
use takegauge_stats::{Estimate, Interval, Sample, intervals};

use crate::estimates::CONFIDENCE;
use crate::take::Judged;

/// The first of a pair takes at least this share of it where swing is told: 3 to 2. A late stroke that is no swing stays
/// below (uneven strokes of recorded and simulated takes: up to 0.58).
const LEAST_SHARE: f64 = 0.6;
/// In so many of the pairs the second is late.
const MOSTLY: f64 = 0.9;
/// Fewer pairs say nothing.
const LEAST_PAIRS: usize = 16;

/// What was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Swing {
    /// Share of a pair that its first note takes.
    pub(crate) share: Estimate,
}

impl Swing {
    /// Long over short.
    pub(crate) fn ratio(self) -> Estimate {
        let of = |s: f64| s / (1.0 - s).max(1e-3);
        let (a, b) = (self.share.interval.low, self.share.interval.high);
        Estimate { value: of(self.share.value), interval: Interval { low: of(a), high: of(b) }, n: self.share.n }
    }

    /// Share in per cent.
    pub(crate) fn percent(self) -> Estimate {
        let i = self.share.interval;
        let interval = Interval { low: 100.0 * i.low, high: 100.0 * i.high };
        Estimate { value: 100.0 * self.share.value, interval, n: self.share.n }
    }

    pub(crate) fn text(self) -> String {
        let r = self.ratio();
        format!(
            "The notes are swung: in each pair the first lasts {:.1} times as long as the second ({:.1} to {:.1}, {} \
             pairs); the drill is written straight. If that is meant, swing = {:.0} in the drill file says so.",
            r.value,
            r.interval.low,
            r.interval.high,
            r.n,
            100.0 * self.share.value
        )
    }
}

/// Swing of a drill that is written straight, with what it shifts each note by, ms.
pub(crate) fn swing(drill: &Drill, notes: &[Judged]) -> Option<(Swing, Vec<f64>)> {
    let straight =
        (drill.swing - 50.0).abs() < 0.5 && drill.steps_per_beat.is_multiple_of(2) && drill.divisions.is_empty();
    if !straight || drill.line.len() % 2 == 1 {
        return None;
    }
    let mut shares = Vec::new();
    let mut pairs = Vec::new();
    for (i, two) in notes.windows(2).enumerate() {
        let (a, b) = (&two[0], &two[1]);
        let step = (a.grid.position + usize::from(drill.pickup_steps)) % 2;
        let apart = 1e3 * (b.placed.expected.0 - a.placed.expected.0);
        let pair = step == 0 && a.pass == b.pass && a.grid.position + 1 == b.grid.position && apart > 0.0;
        if let (true, Some(x), Some(y)) = (pair, a.deviation, b.deviation) {
            shares.push(0.5 * (apart + y - x) / apart);
            pairs.push((i, apart));
        }
    }
    let late = shares.iter().filter(|s| **s > 0.5).count() as f64;
    let share = intervals::mean_interval(Sample::at_least(&shares, LEAST_PAIRS).ok()?, CONFIDENCE).ok()?;
    if share.value < LEAST_SHARE || share.interval.low < 0.5 || late < MOSTLY * shares.len() as f64 {
        return None;
    }
    let apart = pairs.iter().map(|p| p.1).sum::<f64>() / pairs.len() as f64;
    // Half of the shift stands on either note of a pair: the line goes through both.
    let half = (share.value - 0.5) * apart;
    let sign =
        |n: &Judged| if (n.grid.position + usize::from(drill.pickup_steps)).is_multiple_of(2) { -half } else { half };
    Some((Swing { share }, notes.iter().map(sign).collect()))
}
