//! Whether a string was struck where an attack was heard that is no note of the drill.
//!
//! One rule in place of several limits: what is seen there is weighed by a sum of logarithms, and how common places are
//! where nothing was struck is the take's own affair: a driven guitar's damped strings make many, a clean one's none.

use crate::shares::Beforehand;
use crate::tuning::extra;

/// What is seen of a place. The order is that of the weights in `tuning::extra`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stroke {
    /// One standard deviation of the instant, ms: a release is a moment, a gliding sound is not.
    pub sd_ms: f64,
    /// How many times less what goes on sounding afterwards is predicted by the sound before; `None` where the
    /// neighbours are too near to tell.
    pub newness: Option<f64>,
    /// The chance that a string was let go, by the locator.
    pub attack: f64,
}

impl Stroke {
    /// The values that are weighed: natural logarithms, within the bounds that were seen while fitting.
    pub fn weighed(&self) -> [f64; 3] {
        [
            (within(self.sd_ms, (0.0, extra::MOST_SD_MS)) + extra::SPREAD_FLOOR_MS).ln(),
            within(self.newness.unwrap_or(extra::USUAL_NEWNESS).ln(), extra::NEWNESS),
            attack_odds(self.attack),
        ]
    }

    /// How much likelier it looks like this where a string was struck than where none was, natural logarithm.
    pub(crate) fn log_odds(&self) -> f64 {
        extra::STRUCK + self.weighed().iter().zip(extra::STRUCK_BY).map(|(x, w)| x * w).sum::<f64>()
    }

    /// Whether it is rather a stroke than none, the take's other places not yet known.
    pub(crate) fn likely(&self) -> bool {
        BEFOREHAND.other(self.log_odds()) < 0.5
    }
}

fn within(x: f64, (least, most): (f64, f64)) -> f64 {
    if x.is_nan() { least } else { x.clamp(least, most) }
}

/// The odds of a chance that a string was let go, natural logarithm.
pub(crate) fn attack_odds(chance: f64) -> f64 {
    let chance = within(chance, (0.0, 1.0));
    within((chance / (1.0 - chance)).ln(), extra::ATTACKS)
}

const BEFOREHAND: Beforehand = Beforehand { wanted: extra::STROKES, other: extra::NO_STROKES };

/// For each of a take's places, whether a string was struck there: told only where that is much likelier than not.
pub(crate) fn struck(strokes: &[Stroke]) -> Vec<bool> {
    let odds: Vec<f64> = strokes.iter().map(Stroke::log_odds).collect();
    BEFOREHAND.others(&odds).into_iter().map(|none| none < extra::DOUBT_AT_MOST).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const CLEAR: Stroke = Stroke { sd_ms: 0.2, newness: Some(3.0), attack: 0.999 };
    const VAGUE: Stroke = Stroke { sd_ms: 2.0, newness: Some(1.5), attack: 0.97 };
    const NONE: Stroke = Stroke { sd_ms: 3.5, newness: Some(1.1), attack: 0.6 };

    #[test]
    fn a_clear_stroke_is_one_wherever_it_is() {
        assert_eq!(struck(&[CLEAR, NONE, NONE, NONE, NONE, NONE, NONE]), [[true].as_slice(), &[false; 6]].concat());
        assert!(CLEAR.likely() && !NONE.likely() && struck(&[]).is_empty());
    }

    #[test]
    fn a_vague_one_is_one_in_a_take_of_clear_ones() {
        let among = |others: Stroke| struck(&[vec![others; 8], vec![VAGUE]].concat())[8];
        assert!(among(CLEAR) && !among(NONE));
    }

    #[test]
    fn no_value_is_beyond_the_weights() {
        for x in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, -1.0, 0.0] {
            let odd = Stroke { sd_ms: x, newness: Some(x), attack: x };
            assert!(odd.log_odds().is_finite(), "{x}: {odd:?}");
        }
    }
}
