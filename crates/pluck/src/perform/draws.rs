//! Every note's random draws: the same number whatever happens to it.

use rand::RngExt;
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;

/// All that can happen to a note, drawn before it is known what does.
pub(super) struct Draws {
    pub(super) spread: f64,
    pub(super) wander: f64,
    pub(super) loose: Vec<f64>,
    pub(super) slip: [f64; 2],
    pub(super) missed: f64,
    pub(super) wrong: [f64; 2],
    pub(super) extra: [f64; 2],
    pub(super) brushed: [f64; 3],
    pub(super) soft: f64,
    pub(super) ring: f64,
}

impl Draws {
    pub(super) fn new(rng: &mut ChaCha8Rng, loose: usize) -> Self {
        Self {
            spread: rng.sample(StandardNormal),
            wander: rng.sample(StandardNormal),
            loose: (0..loose).map(|_| rng.sample(StandardNormal)).collect(),
            slip: rng.random(),
            missed: rng.random(),
            wrong: rng.random(),
            extra: rng.random(),
            brushed: rng.random(),
            soft: rng.random(),
            ring: rng.random(),
        }
    }
}
