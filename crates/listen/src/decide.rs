//! Which candidates are attacks, once the whole take is heard.

use std::cmp::Ordering;
use takegauge_units::{Attack, Decibels};

/// A candidate this far below the take's loud attacks is handling noise or the noise floor itself: soft strokes are
/// 20 to 30 dB below loud ones.
const TOO_SOFT: Decibels = Decibels(-42.0);
/// Which attack counts as loud: this share of them is softer.
const LOUD_QUANTILE: f64 = 0.75;

/// Puts the candidates in order of time and drops those far too soft.
pub(crate) fn decide(mut candidates: Vec<Attack>) -> Vec<Attack> {
    let mut levels: Vec<f64> = candidates.iter().filter(|a| a.strength >= 1.0).map(|a| a.level.0).collect();
    levels.sort_by(f64::total_cmp);
    let loud = levels.get((levels.len() as f64 * LOUD_QUANTILE) as usize).copied().unwrap_or(f64::MIN);
    candidates.retain(|a| a.level.0 >= loud + TOO_SOFT.0);
    candidates.sort_by(|a, b| a.at.partial_cmp(&b.at).unwrap_or(Ordering::Equal));
    candidates
}
