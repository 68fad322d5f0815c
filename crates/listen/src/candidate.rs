//! A place where an attack may be, with all that was heard of it.

use crate::decay::Decay;
use crate::tuning::decide::LOUD_QUANTILE;
use takegauge_units::PitchEvidence;

/// Everything heard about a candidate.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Candidate {
    /// Samples of the take from its start.
    pub(crate) at: f64,
    pub(crate) uncertainty_ms: f64,
    /// The chance that a string was let go here.
    pub(crate) attack: f64,
    /// Flux above its surroundings, octaves a band.
    pub(crate) rise: f32,
    /// Transient, octaves a band.
    pub(crate) transient: f32,
    /// Mean power of the 30 ms after it.
    pub(crate) power: f32,
    pub(crate) decay: Decay,
    /// Largest sample just after it.
    pub(crate) peak: f32,
    pub(crate) pitch: PitchEvidence,
}

/// The mean power that a quarter of `candidates` exceed.
pub(crate) fn loud<'a>(candidates: impl Iterator<Item = &'a Candidate>) -> f64 {
    let mut powers: Vec<f32> = candidates.map(|c| c.power).collect();
    powers.sort_by(f32::total_cmp);
    f64::from(powers.get((powers.len() as f64 * LOUD_QUANTILE) as usize).copied().unwrap_or(0.0)).max(1e-20)
}
