//! Which candidates are attacks, once the whole take is heard.

use takegauge_units::{Attack, Decibels, Instant, Millis, PitchEvidence};

/// Everything heard about a candidate.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Candidate {
    pub(crate) at: f64,
    pub(crate) uncertainty_ms: f64,
    /// Flux above its surroundings, octaves a band.
    pub(crate) rise: f32,
    /// Transient, octaves a band.
    pub(crate) transient: f32,
    /// Mean power of the 30 ms after it.
    pub(crate) power: f32,
    /// Largest sample just after it.
    pub(crate) peak: f32,
    pub(crate) pitch: PitchEvidence,
}

/// Share of the strongest candidates whose median rise is the take's own measure: most are notes.
const STRONGEST: f64 = 0.6;
/// The take's loud attacks: the level that a quarter of the stronger candidates exceeds.
const LOUD_QUANTILE: f64 = 0.75;
/// A candidate softer than this is the noise floor, not a note.
const SOFTEST_DB: f64 = -45.0;
/// What the evidence comes to where notes and noises part.
const THRESHOLD: f64 = 0.084;
/// Weakest strength handed on.
const FAINTEST: f64 = 0.25;

/// Attacks of strength 0.25 and up, in order of time. `candidates` are those of the whole take.
pub(crate) fn decide(mut candidates: Vec<Candidate>) -> Vec<Attack> {
    let mut rises: Vec<f32> = candidates.iter().map(|c| c.rise).collect();
    rises.sort_by(f32::total_cmp);
    let from = (rises.len() as f64 * (1.0 - STRONGEST)) as usize;
    let usual = rises.get((from + rises.len()) / 2).copied().unwrap_or(1.0).max(1e-6);
    let mut levels: Vec<f32> = candidates.iter().map(|c| c.power).collect();
    levels.sort_by(f32::total_cmp);
    let loud = levels.get((levels.len() as f64 * LOUD_QUANTILE) as usize).copied().unwrap_or(0.0).max(1e-20);
    candidates.sort_by(|a, b| a.at.total_cmp(&b.at));
    candidates.iter().filter_map(|c| attack(c, f64::from(usual), f64::from(loud))).collect()
}

fn attack(c: &Candidate, usual: f64, loud: f64) -> Option<Attack> {
    let softer_db = (10.0 * (f64::from(c.power) / loud).max(1e-10).log10()).min(0.0);
    if softer_db < SOFTEST_DB {
        return None;
    }
    // Evidence multiplies: the rise against what the take's notes usually show and against nothing (half each), a
    // little for a transient, and a factor 2 for every 20 dB of softness.
    let evidence =
        f64::from(c.rise) / usual.sqrt() * (f64::from(c.transient) + 0.05).powf(0.25) * 2f64.powf(softer_db / 20.0);
    let strength = evidence / THRESHOLD;
    (strength >= FAINTEST).then(|| Attack {
        at: Instant::new(0, c.at),
        uncertainty: Millis(c.uncertainty_ms),
        strength: strength as f32,
        level: Decibels::from_amplitude(f64::from(c.peak)),
        pitch: c.pitch,
    })
}
