//! The waveform's outline, gathered in one pass over a take of unknown length with bounded memory.

use crate::model::Envelope;
use takegauge_units::{SampleRate, Seconds};

/// At most this many stretches are kept: more than any plot has columns.
const MOST: usize = 8_192;
/// The first stretches are this long; they double each time the list is full.
const FIRST_STEP_SECONDS: f64 = 1e-3;

/// Gathers lowest and highest samples; what it gives does not depend on how the take is cut into blocks.
pub(crate) struct Outline {
    rate: SampleRate,
    samples_each: usize,
    done: Vec<(f32, f32)>,
    open: (f32, f32),
    in_open: usize,
}

const NOTHING: (f32, f32) = (f32::INFINITY, f32::NEG_INFINITY);

impl Outline {
    pub(crate) fn new(rate: SampleRate) -> Self {
        let samples_each = rate.samples_in(Seconds(FIRST_STEP_SECONDS)).max(1);
        Self { rate, samples_each, done: Vec::new(), open: NOTHING, in_open: 0 }
    }

    /// Takes finite samples.
    pub(crate) fn push(&mut self, samples: &[f32]) {
        for &x in samples {
            self.open = (self.open.0.min(x), self.open.1.max(x));
            self.in_open += 1;
            if self.in_open == self.samples_each {
                self.done.push(self.open);
                self.open = NOTHING;
                self.in_open = 0;
                if self.done.len() == MOST {
                    self.halve();
                }
            }
        }
    }

    fn halve(&mut self) {
        self.done = self.done.chunks(2).map(|c| c.iter().fold(NOTHING, |a, b| (a.0.min(b.0), a.1.max(b.1)))).collect();
        self.samples_each *= 2;
    }

    pub(crate) fn finish(mut self) -> Envelope {
        if self.in_open > 0 {
            self.done.push(self.open);
        }
        Envelope { step: Seconds(self.samples_each as f64 / self.rate.as_f64()), extremes: self.done }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_takes_keep_their_extremes_in_place() {
        let rate = SampleRate::new(8_000).unwrap();
        let mut whole = Outline::new(rate);
        let mut samples = vec![0.0f32; 200_000];
        samples[123_456] = 0.75;
        samples[7] = -0.5;
        whole.push(&samples);
        let whole = whole.finish();
        assert!(whole.extremes.len() <= MOST);
        let covered = whole.step.0 * whole.extremes.len() as f64;
        assert!((25.0..25.0 + whole.step.0).contains(&covered), "{covered}");
        let at = |sample: f64| whole.extremes[(sample / 8_000.0 / whole.step.0) as usize];
        assert_eq!((at(123_456.0).1, at(7.0).0), (0.75, -0.5));

        let mut parts = Outline::new(rate);
        samples.chunks(777).for_each(|c| parts.push(c));
        assert_eq!(parts.finish(), whole);
    }

    #[test]
    fn an_empty_take_has_no_stretches() {
        let outline = Outline::new(SampleRate::new(44_100).unwrap());
        assert!(outline.finish().extremes.is_empty());
    }
}
