//! Which of a take's candidates are of one of two sorts, where how common the sorts are is the take's own affair.

use crate::tuning::extra::SHARE_ROUNDS;

/// Before anything is heard: so many of either sort.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Beforehand {
    pub(crate) wanted: f64,
    pub(crate) other: f64,
}

impl Beforehand {
    /// Chance that one is of the other sort, given how much likelier it sounds when it is of the wanted one, natural
    /// logarithm, and nothing else.
    pub(crate) fn other(self, log_odds: f64) -> f64 {
        other(log_odds, self.other / (self.other + self.wanted))
    }

    /// The same for each of a take's, given all of them.
    pub(crate) fn others(self, log_odds: &[f64]) -> Vec<f64> {
        let all = self.wanted + self.other + log_odds.len() as f64;
        let mut share = self.other / (self.other + self.wanted);
        for _ in 0..SHARE_ROUNDS {
            share = (self.other + log_odds.iter().map(|o| other(*o, share)).sum::<f64>()) / all;
        }
        log_odds.iter().map(|o| other(*o, share)).collect()
    }
}

fn other(log_odds: f64, share: f64) -> f64 {
    1.0 / (1.0 + log_odds.exp() * (1.0 - share) / share)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_in_doubt_is_what_the_take_holds() {
        let before = Beforehand { wanted: 3.0, other: 1.0 };
        assert!((before.other(0.0) - 0.25).abs() < 1e-12 && before.others(&[]).is_empty());
        let among = |odds: f64, n: usize| before.others(&[vec![odds; n], vec![0.0]].concat())[n];
        assert!(among(6.0, 10) < 0.15 && among(-6.0, 10) > 0.7, "{} {}", among(6.0, 10), among(-6.0, 10));
    }
}
