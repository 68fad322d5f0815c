//! Audio blocks in, pick attacks out, blind: nothing here knows which notes to expect.
//!
//! [`Listener::push`] takes mono blocks of any size, [`Listener::finish`] hands back the attacks in order of time.
//! The answer does not depend on the block size, and it depends on the take's level only through [`Attack::level`].
//!
//! How it hears: `halfband` lowers the rate; `frames` and `flux` measure every 5 ms how much new partials rise,
//! `transient` whether a band is louder than in the last 20 ms; `peaks` picks what stands out, `refine` has its
//! instant located in a ring of the last second or two at 21 kHz or more, `decay` follows what becomes of the sound,
//! `pitch` weighs which note it was. Once all is heard `evidence` weighs each candidate, `decide` tells attacks from
//! the take's other noises, and `appeal` has second thoughts.

mod appeal;
mod bank;
mod candidate;
mod clock;
mod decay;
mod decide;
mod evidence;
mod floor;
mod flux;
mod frames;
mod halfband;
mod peaks;
mod pitch;
pub mod plain;
mod refine;
mod sliding;
mod transient;
mod tuning;
mod wide;

pub use evidence::{TERMS, Weighed};

use candidate::Candidate;
use clock::Clock;
use flux::Flux;
use frames::Framer;
use halfband::Decimator;
use peaks::{Peak, Peaks};
use pitch::PitchEar;
use refine::{Found, Refiner};
use std::collections::VecDeque;
use takegauge_locate::{Size, Weights};
use takegauge_units::{Attack, PitchEvidence, SampleRate};
use transient::Transient;
use tuning::at_hand::{AFTER_MS, KEEP_MS, OPENING_AFTER_MS};
use tuning::frames::SPECTRUM_EVERY;
use tuning::peaks::PLACED_BEFORE_MS;

/// Hears attacks in a stream of mono samples.
pub struct Listener {
    clock: Clock,
    first: Decimator,
    more: Decimator,
    transient: Transient,
    framer: Framer,
    flux: Flux,
    peaks: Peaks,
    /// The last moments of the take at the transients' rate, the first sample being number `ring_first`.
    ring: Vec<f32>,
    ring_first: u64,
    /// Samples of the take.
    received: u64,
    /// The first sample that is not silence.
    begin: Option<u64>,
    /// Spectra taken.
    frame: u64,
    last_flux: Option<f32>,
    /// The decimated signal of the same moments.
    slow: Vec<f32>,
    slow_first: u64,
    clean: Vec<f32>,
    refiner: Refiner,
    pitch: PitchEar,
    transients: VecDeque<f32>,
    waiting: VecDeque<Peak>,
    candidates: Vec<Candidate>,
    opening: Option<Candidate>,
}

/// Samples taken in at a time, whatever the caller's block size is: keeps the buffers small.
const PIECE: usize = 8192;

impl Listener {
    /// A listener for a take at `rate`.
    pub fn new(rate: SampleRate) -> Self {
        Self::with_weights(rate, Weights::built_in(Size::Quick))
    }

    /// The same with other weights for the instants: how guitars that a fit left out are judged.
    pub fn with_weights(rate: SampleRate, weights: Weights) -> Self {
        let clock = Clock::new(rate);
        let framer = Framer::new(clock);
        let bands = framer.bands();
        Self {
            clock,
            first: Decimator::new(clock.first_halvings),
            more: Decimator::new(clock.more_halvings),
            transient: Transient::new(clock),
            framer,
            flux: Flux::new(clock, bands),
            peaks: Peaks::new(clock),
            ring: Vec::new(),
            ring_first: 0,
            received: 0,
            begin: None,
            frame: 0,
            last_flux: None,
            slow: Vec::new(),
            slow_first: 0,
            clean: Vec::new(),
            refiner: Refiner::new(clock, weights),
            pitch: PitchEar::new(clock),
            transients: VecDeque::new(),
            waiting: VecDeque::new(),
            candidates: Vec::new(),
            opening: None,
        }
    }

    /// The next samples of the take, full scale 1; samples that are not finite count as 0.
    pub fn push(&mut self, block: &[f32]) {
        for piece in block.chunks(PIECE) {
            let mut clean = std::mem::take(&mut self.clean);
            clean.clear();
            clean.extend(piece.iter().map(|x| if x.is_finite() { *x } else { 0.0 }));
            if self.begin.is_none() {
                self.begin = piece.iter().position(|x| *x != 0.0 && x.is_finite()).map(|i| self.received + i as u64);
            }
            self.received += piece.len() as u64;
            self.analyse(&clean);
            self.clean = clean;
            self.locate(false);
        }
    }

    fn analyse(&mut self, samples: &[f32]) {
        let half_window = self.clock.window_samples() as u64 / 2;
        let hop = (SPECTRUM_EVERY * self.clock.hop_samples()) as u64;
        let (begin, frame, last) = (self.begin, &mut self.frame, &mut self.last_flux);
        let Self { first, more, transient, framer, flux, peaks, slow, ring, transients, waiting, .. } = self;
        let (ring_start, slow_start) = (ring.len(), slow.len());
        first.push(samples, ring);
        let halved = &ring[ring_start..];
        more.push(halved, slow);
        transient.push(halved, |t| transients.push_back(t));
        framer.push(&slow[slow_start..], |powers| {
            let whole = begin.is_some_and(|b| *frame * hop >= b + half_window);
            *frame += 1;
            if let Some(f) = flux.push(powers, whole) {
                // A frame reaches half a window ahead of its block, so the block's transient is there already.
                hear(f, last, transients, peaks, waiting);
            }
        });
    }

    /// Refines the peaks whose surroundings have arrived, then lets go of the audio that no later peak needs.
    fn locate(&mut self, all: bool) {
        let hop = self.clock.hop_transient() as f64;
        let take_samples = f64::from(1 << self.clock.first_halvings);
        let begin = self.begin.unwrap_or(0) >> self.clock.first_halvings;
        let received = self.ring_first + self.ring.len() as u64;
        let after = self.clock.transient_samples(AFTER_MS);
        let opened = begin as f64 + self.clock.transient_samples(OPENING_AFTER_MS) < received as f64;
        if self.begin.is_some() && self.opening.is_none() && (all || opened) {
            let found = self.refiner.opening(&self.ring, self.ring_first, begin);
            let pitch = self.weigh(found.at, f64::MAX);
            self.opening = Some(candidate(found, take_samples, 0.0, 0.0, pitch));
        }
        while let Some(peak) = self.waiting.front().copied() {
            let near = peak.frame * hop;
            let heard =
                (received as f64).min(self.peaks.judged() * hop - self.clock.transient_samples(PLACED_BEFORE_MS));
            if !all && near + after > heard {
                break;
            }
            self.waiting.pop_front();
            let found = self.refiner.find(&self.ring, self.ring_first, begin, near);
            let next = self.waiting.front().map_or(f64::MAX, |p| p.frame * hop);
            let pitch = self.weigh(found.at, next);
            self.candidates.push(candidate(found, take_samples, peak.rise, peak.transient, pitch));
        }
        let keep = self.clock.transient_samples(KEEP_MS) as usize;
        if self.ring.len() > 2 * keep + PIECE {
            let gone = self.ring.len() - keep;
            self.ring.drain(..gone);
            self.ring_first += gone as u64;
            let gone = self.slow.len().saturating_sub(keep >> self.clock.more_halvings);
            self.slow.drain(..gone);
            self.slow_first += gone as u64;
        }
    }

    /// The pitch evidence for an attack at `at`, the next being at `next` or later, in samples at the transients' rate.
    fn weigh(&mut self, at: f64, next: f64) -> PitchEvidence {
        let scale = f64::from(1 << self.clock.more_halvings);
        let first = self.slow_first as f64;
        self.pitch.weigh(&self.slow, at / scale - first, next / scale - first)
    }

    /// The attacks at or above the blind threshold (strength 1), in order of time.
    pub fn finish(self) -> Vec<Attack> {
        let mut all = self.finish_all();
        all.retain(|a| a.strength >= 1.0);
        all
    }

    /// The attacks and, for a reader who knows what to expect, the faint candidates: strength from 0.25 up, 1 being
    /// the blind threshold. In order of time.
    pub fn finish_all(mut self) -> Vec<Attack> {
        self.end();
        decide::decide(self.candidates, self.opening, 1e-3 * self.clock.rate)
    }

    /// All candidates, in order of time, with what is weighed of them: for fitting the weights.
    pub fn finish_weighed(mut self) -> Vec<Weighed> {
        self.end();
        decide::weighed(self.candidates, self.opening, 1e-3 * self.clock.rate)
    }

    /// Hears what is still on its way.
    fn end(&mut self) {
        // Silence after the end pushes the last samples through the decimators; frames that reach beyond the end would
        // hold its splatter, so it goes no further.
        let tail = self.first.tail() + (self.more.tail() << self.clock.first_halvings);
        self.analyse(&vec![0.0; tail]);
        let heard = self.received.div_ceil(1 << self.clock.first_halvings);
        self.ring.truncate(heard.saturating_sub(self.ring_first) as usize);
        while let Some(t) = self.transient.drain() {
            self.transients.push_back(t);
        }
        while let Some(f) = self.flux.drain() {
            hear(f, &mut self.last_flux, &mut self.transients, &mut self.peaks, &mut self.waiting);
        }
        for _ in 0..self.peaks.delay() {
            self.waiting.extend(self.peaks.push(0.0, 0.0));
        }
        self.locate(true);
    }
}

/// Hands the next spectrum's flux on, after that of the frames since the last one, which lies on the line between.
fn hear(
    flux: f32,
    last: &mut Option<f32>,
    transients: &mut VecDeque<f32>,
    peaks: &mut Peaks,
    waiting: &mut VecDeque<Peak>,
) {
    let from = last.replace(flux);
    for i in if from.is_some() { 1 } else { SPECTRUM_EVERY }..=SPECTRUM_EVERY {
        let f = flux + (from.unwrap_or(flux) - flux) * (1.0 - i as f32 / SPECTRUM_EVERY as f32);
        waiting.extend(peaks.push(f, transients.pop_front().unwrap_or(0.0)));
    }
}

fn candidate(found: Found, take_samples: f64, rise: f32, transient: f32, pitch: PitchEvidence) -> Candidate {
    Candidate {
        at: found.at * take_samples,
        uncertainty_ms: found.uncertainty_ms,
        attack: found.attack,
        rise,
        transient,
        power: found.power,
        decay: found.decay,
        peak: found.peak,
        pitch,
    }
}
