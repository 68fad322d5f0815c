//! Where in a tenth of a second of sound a string was let go.
//!
//! The estimator in a paragraph: the sound around a rough place is told frame by frame, half a millisecond apart, by the
//! levels of some bands, and by the levels of what the past does not predict and of what the future does not predict
//! (linear prediction at two rates: whatever sounded before, and whatever sounds after, is taken off as far as it is
//! predictable). A small convolutional net turns these levels into evidence of "released here" for every frame within
//! 18 ms, and of "nothing is released here at all". Evidence times what was known before is a distribution over time:
//! its strongest hump is the instant, between frames; its width the uncertainty, other humps (a period early, a period
//! late) included; its whole the chance that there is an attack.
//!
//! Two nets of one build differ in size alone: [`Size::Quick`] for listening blind, [`Size::Thorough`] where the drill says
//! what to look at. The thorough one, where its first look leaves a doubt, looks again at the sound a little slower and a
//! little faster: what the net errs in differs, where the string was let go does not, and the looks' evidence is joined.
//! Their weights are fitted by `tests/measure/fit_ear.py` to the moment at which a note, alone, first reaches -20 dB of its
//! peak; crates/locate/weights/README.md says on what, and how well they do on other guitars.

mod dense;
mod features;
mod join;
mod located;
mod log;
mod net;
mod posterior;
mod predict;
mod resample;
mod tuning;
mod weights;
mod windowed_sinc;

pub use located::{Located, Rival, Size};
pub use tuning::{MOST_RIVALS, REACH_MS};
pub use weights::{Weights, WeightsError};
pub use windowed_sinc::windowed_sinc;

use features::{Features, window_samples};
use posterior::posterior;
use resample::Resampler;
use takegauge_units::Millis;

/// Finds instants in sound of one rate; keeps its buffers from one to the next.
#[derive(Debug, Clone)]
pub struct Locator {
    weights: Weights,
    resampler: Resampler,
    /// For the looks at other speeds, and those.
    again: Vec<(f64, Resampler)>,
    features: Features,
    scratch: net::Scratch,
    window: Vec<f32>,
    logits: Vec<f32>,
    joined: Vec<f32>,
}

impl Locator {
    /// For sound at `rate` samples a second, with the weights that are built in.
    pub fn new(size: Size, rate: f64) -> Self {
        Self::with(Weights::built_in(size), rate)
    }

    /// The same with other weights.
    pub fn with(weights: Weights, rate: f64) -> Self {
        let speeds: &[f64] = if weights.size() == Size::Thorough { &tuning::OTHER_SPEEDS } else { &[] };
        Self {
            weights,
            resampler: Resampler::new(rate),
            again: speeds.iter().map(|s| (*s, Resampler::new(rate / s))).collect(),
            features: Features::default(),
            scratch: net::Scratch::default(),
            window: Vec::new(),
            logits: Vec::new(),
            joined: Vec::new(),
        }
    }

    /// Sound before and after the rough place that is looked at; what is not there counts as silence.
    pub fn looks_at(&self) -> Millis {
        Millis(0.5e3 * window_samples(self.weights.reach()) as f64 / tuning::RATE_HZ)
    }

    /// Looks for the release near sample `near` of `sound`; `known` is the standard deviation of `near`, ms.
    pub fn locate(&mut self, sound: &[f32], near: f64, known: Millis) -> Located {
        let near = if near.is_finite() { near } else { 0.0 };
        let rate = self.resampler.rate();
        let Self { weights, resampler, again, features, scratch, window, logits, joined } = self;
        let mut look = |resampler: &Resampler, logits: &mut Vec<f32>| {
            let centre = resampler.window(sound, near, window_samples(weights.reach()), window);
            let heard = level(window);
            weights.run(window, features, scratch, logits);
            (centre, heard)
        };
        let (centre, heard) = look(resampler, logits);
        let mut found = posterior(logits, known);
        if heard && !again.is_empty() && found.sd.0 > tuning::AGAIN_FROM_MS {
            let mut attacks = found.attack;
            let mut join = join::Join::new(logits);
            for (speed, resampler) in again.iter() {
                let (other, _) = look(resampler, logits);
                attacks += posterior(logits, known).attack;
                join.add(logits, *speed, Millis(1e3 * (centre - other) / rate));
            }
            join.finish(joined);
            found = posterior(joined, known);
            found.attack = attacks / (1 + again.len()) as f64;
        }
        Located {
            at: centre + found.after.0 * 1e-3 * rate,
            sd: found.sd,
            attack: if heard { found.attack } else { 0.0 },
            rivals: found.rivals,
        }
    }
}

/// Makes the window's highest sample 1; false of silence.
fn level(window: &mut [f32]) -> bool {
    let highest = window.iter().fold(0.0f32, |m, x| m.max(x.abs()));
    if highest.is_normal() {
        let gain = 1.0 / highest;
        window.iter_mut().for_each(|x| *x = (*x * gain).clamp(-1.0, 1.0));
    } else {
        window.fill(0.0);
    }
    highest.is_normal()
}
