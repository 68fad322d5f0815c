//! The take's samples as far as events to come need them.
//!
//! Places are seconds of the take, from 0. A stretch ends where the samples do that are there.

/// The samples from number `base` on.
pub(crate) struct Kept {
    /// Samples a second.
    rate: f64,
    samples: Vec<f32>,
    base: u64,
}

impl Kept {
    /// None yet.
    pub(crate) fn new(rate: f64) -> Self {
        Self { rate, samples: Vec::new(), base: 0 }
    }

    /// The next samples of the take.
    pub(crate) fn push(&mut self, samples: &[f32]) {
        self.samples.extend_from_slice(samples);
    }

    /// Whether the sample at `at` is there, or was.
    pub(crate) fn reaches(&self, at: f64) -> bool {
        self.number(at) < self.end()
    }

    /// Drops the samples before `needed`; all where none is needed.
    pub(crate) fn forget(&mut self, needed: Option<f64>) {
        let needed = needed.map_or(self.end(), |at| self.number(at)).min(self.end());
        let drop = needed.saturating_sub(self.base) as usize;
        // Moving the rest costs as much as it is long: only when at least half goes.
        if drop * 2 >= self.samples.len() {
            self.samples.drain(..drop);
            self.base = needed;
        }
    }

    /// The sound from `from` to `to`, and the number of its first sample in the take.
    pub(crate) fn between(&self, from: f64, to: f64) -> (&[f32], f64) {
        let place = |t: f64| (self.number(t).saturating_sub(self.base) as usize).min(self.samples.len());
        let (from, to) = (place(from), place(to));
        (&self.samples[from.min(to)..to], (self.base + from as u64) as f64)
    }

    /// The sound from `before` to `after` seconds around `at`, and where `at` is in it, seconds. `after` may be negative:
    /// then the sound ends before `at`.
    pub(crate) fn around(&self, at: f64, (before, after): (f64, f64)) -> (&[f32], f64) {
        let (sound, first) = self.between(at - before, at + after);
        (sound, at - first / self.rate)
    }

    fn end(&self) -> u64 {
        self.base + self.samples.len() as u64
    }

    fn number(&self, at: f64) -> u64 {
        (at.max(0.0) * self.rate) as u64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A stretch is the same before and after what lies in front of it was dropped, and ends with the take.
    #[test]
    fn what_is_needed_stays_where_it_was() {
        let mut kept = Kept::new(10.0);
        kept.push(&(0u8..40).map(f32::from).collect::<Vec<_>>());
        assert!(kept.reaches(3.9) && !kept.reaches(4.0));
        let before = kept.around(3.0, (0.5, 0.3));
        assert_eq!((before.0, before.1), (&[25.0, 26.0, 27.0, 28.0, 29.0, 30.0, 31.0, 32.0][..], 0.5));
        let before = before.0.to_vec();
        kept.forget(Some(2.0));
        assert_eq!((kept.samples.len(), kept.around(3.0, (0.5, 0.3)).0), (20, &before[..]));
        assert_eq!(kept.between(3.8, 9.0), (&[38.0, 39.0][..], 38.0));
        kept.forget(None);
        assert!(kept.samples.is_empty() && kept.between(3.8, 9.0).0.is_empty());
    }
}
