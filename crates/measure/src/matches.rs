//! The matches of pairs of notes that were played alike, by the lag of the later in the list against the earlier.

use crate::alike::Match;
use crate::prior::Prior;
use crate::tuning::settle::ENOUGH;

/// One for each pair of notes that was asked for.
pub(crate) struct Matches {
    notes: usize,
    /// At `i * notes + j`, for i < j: by the lag of j against i. `None` where it was not asked for.
    pairs: Vec<Option<Match>>,
}

impl Matches {
    /// `compare` is asked for the match of notes i < j where one of them is in doubt.
    pub(crate) fn of(priors: &[Prior], mut compare: impl FnMut(usize, usize) -> Match) -> Self {
        let notes = priors.len();
        // Where enough notes are sure, each doubtful one is held against the first of those alone: it costs less.
        let sure_before = |k: usize| priors[..k].iter().filter(|o| o.sure()).count();
        let enough = sure_before(notes) >= ENOUGH;
        let witness = |k: usize| if priors[k].sure() { sure_before(k) < ENOUGH } else { !enough };
        let mut pairs = Vec::with_capacity(notes * notes);
        for i in 0..notes {
            pairs.extend((0..notes).map(|j| {
                let doubtful = !priors[i].sure() || !priors[j].sure();
                let asked = i < j && doubtful && (witness(i) || witness(j));
                asked.then(|| compare(i, j))
            }));
        }
        Self { notes, pairs }
    }

    pub(crate) fn get(&self, i: usize, j: usize) -> Option<&Match> {
        self.pairs.get(i * self.notes + j)?.as_ref()
    }

    /// Adds to each of `sums` the log-likelihood ratio that a match gives a place of `note`, if `other` is at
    /// `other_off`. The places begin at `first_ms` and lie a step of the match apart; between its steps the ratio is on
    /// the line.
    pub(crate) fn add_to(&self, sums: &mut [f32], first_ms: f64, note: usize, other: usize, other_off: f64) {
        let later = note > other;
        let Some(m) = (if later { self.get(other, note) } else { self.get(note, other) }) else { return };
        let lag = if later { first_ms - other_off } else { other_off - first_ms };
        let place = (lag - m.first_ms) / m.step_ms;
        let whole = place.floor();
        let (whole, share) = (whole as i64, (place - whole) as f32);
        let between = |w: &[f32; 2]| w[0] + (w[1] - w[0]) * share;
        let (pairs, n) = (m.values.array_windows::<2>(), sums.len() as i64);
        let count = m.values.len() as i64 - 1;
        let index = |i: i64| usize::try_from(i).unwrap_or(0);
        if later {
            // Step s takes pair whole + s.
            pairs.skip(index(whole)).zip(sums.iter_mut().skip(index(-whole))).for_each(|(w, s)| *s += between(w));
        } else {
            // Step s takes pair whole - s.
            let last = whole.min(count - 1);
            if last >= 0 && whole - last < n {
                let backwards = pairs.take(index(last + 1)).rev();
                backwards.zip(sums.iter_mut().skip(index(whole - last))).for_each(|(w, s)| *s += between(w));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Sums by slices against the match itself, one lag at a time.
    #[test]
    fn sums_are_the_matches_at_their_lags() {
        let priors = [4.0; 2].map(|sd_ms| Prior { sd_ms });
        let values: Vec<f32> = (0..641).map(|k| ((k * 37) % 101) as f32).collect();
        let m = Match { first_ms: -15.98, step_ms: 0.05, values };
        let matches = Matches::of(&priors, |_, _| m.clone());
        for other_off in [0.0, 0.013, -9.3, 14.2, 40.0, -40.0] {
            for (note, other, sign) in [(0, 1, -1.0), (1, 0, 1.0)] {
                let mut sums = vec![0.0f32; 639];
                matches.add_to(&mut sums, -15.9, note, other, other_off);
                for (k, s) in sums.iter().enumerate() {
                    let lag = sign * (-15.9 + k as f64 * 0.05 - other_off);
                    let inside = lag > m.first_ms && lag < m.lag(640) - 0.06;
                    assert!(!inside || (f64::from(*s) - m.at(lag)).abs() < 1e-3, "{other_off} {k}: {s} {}", m.at(lag));
                    assert!(*s == 0.0 || lag > m.first_ms - 0.06 && lag < m.lag(640) + 0.06);
                }
            }
        }
    }
}
