//! Audio blocks in, pick attacks out, blind: nothing here knows which notes to expect.
//!
//! [`Listener::push`] takes mono blocks of any size, [`Listener::finish`] hands back the attacks in order of time.
//! The answer does not depend on the block size, and it depends on the take's level only through [`Attack::level`].
//!
//! How it hears: the take is decimated to about 22 kHz and cut into frames 2.5 ms apart (`frames`); `flux` measures
//! how much their bands rise, `peaks` picks what stands out, `refine` looks for the instant at the full rate in a
//! ring of the last second, `pitch` weighs which note it brought, and `decide` tells attacks from the take's other
//! noises once all is heard.

mod clock;
mod decide;
mod decimate;
mod floor;
mod flux;
mod frames;
mod peaks;
mod refine;

use clock::Clock;
use decimate::Decimator;
use flux::Flux;
use frames::Framer;
use peaks::{Peak, Peaks};
use std::collections::VecDeque;
use takegauge_units::{Attack, Decibels, Instant, Millis, PitchEvidence, SampleRate};

/// How to listen. There is nothing to set yet that would serve a player.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Options {}

/// Hears attacks in a stream of mono samples.
pub struct Listener {
    clock: Clock,
    decimator: Decimator,
    framer: Framer,
    flux: Flux,
    peaks: Peaks,
    /// The last second of the take, its first sample being number `ring_first`.
    ring: Vec<f32>,
    ring_first: u64,
    received: u64,
    working: Vec<f32>,
    waiting: VecDeque<Peak>,
    attacks: Vec<Attack>,
}

impl Listener {
    /// A listener for a take at `rate`.
    pub fn new(rate: SampleRate, _options: Options) -> Self {
        let clock = Clock::new(rate);
        let framer = Framer::new(clock);
        let bands = framer.bands();
        Self {
            clock,
            decimator: Decimator::new(clock.factor),
            framer,
            flux: Flux::new(clock, bands),
            peaks: Peaks::new(clock),
            ring: Vec::new(),
            ring_first: 0,
            received: 0,
            working: Vec::new(),
            waiting: VecDeque::new(),
            attacks: Vec::new(),
        }
    }

    /// The next samples of the take, full scale 1; samples that are not finite count as 0.
    pub fn push(&mut self, block: &[f32]) {
        // Small pieces keep the buffers small whatever the caller's block size is.
        for piece in block.chunks(8192) {
            self.take_in(piece);
        }
    }

    fn take_in(&mut self, piece: &[f32]) {
        let start = self.ring.len();
        self.ring.extend(piece.iter().map(|x| if x.is_finite() { *x } else { 0.0 }));
        self.received += piece.len() as u64;
        self.working.clear();
        self.decimator.push(&self.ring[start..], &mut self.working);
        self.analyse();
        self.locate(false);
    }

    fn analyse(&mut self) {
        let Self { framer, flux, peaks, waiting, working, .. } = self;
        framer.push(working, |powers| {
            flux.push(powers, |rise| waiting.extend(peaks.push(rise)));
        });
    }

    /// Refines the peaks whose surroundings have arrived, then lets go of the audio that no later peak needs.
    fn locate(&mut self, all: bool) {
        let after = self.clock.samples(refine::AFTER_MS) as f64;
        while let Some(peak) = self.waiting.front().copied() {
            let near = peak.frame * self.clock.hop_samples() as f64;
            if !all && near + after > self.received as f64 {
                break;
            }
            self.waiting.pop_front();
            let found = refine::refine(self.clock, &self.ring, self.ring_first, near);
            self.attacks.push(Attack {
                at: Instant::new(0, found.at),
                uncertainty: Millis(found.uncertainty_ms),
                strength: peak.strength,
                level: Decibels::from_amplitude(f64::from(found.peak)),
                pitch: PitchEvidence::NONE,
            });
        }
        let keep = self.clock.samples(1_500.0);
        if self.ring.len() > 3 * keep {
            let gone = self.ring.len() - keep;
            self.ring.drain(..gone);
            self.ring_first += gone as u64;
        }
    }

    /// The attacks at or above the blind threshold, in order of time.
    pub fn finish(self) -> Vec<Attack> {
        let mut all = self.finish_all();
        all.retain(|a| a.strength >= 1.0);
        all
    }

    /// The attacks and, for a reader who knows what to expect, the faint candidates: strength from 0.25 up, 1 being
    /// the blind threshold. In order of time.
    pub fn finish_all(mut self) -> Vec<Attack> {
        // Silence after the end: through the decimator, to the middle of the last frame, past the last peak.
        let tail = self.decimator.tail() + self.clock.window * self.clock.factor;
        self.working.clear();
        self.decimator.push(&vec![0.0; tail], &mut self.working);
        self.analyse();
        let Self { flux, peaks, waiting, .. } = &mut self;
        flux.finish(|rise| waiting.extend(peaks.push(rise)));
        for _ in 0..peaks.delay() {
            waiting.extend(peaks.push(flux::Rise { flux: 0.0, power: 0.0 }));
        }
        self.locate(true);
        decide::decide(self.attacks)
    }
}
