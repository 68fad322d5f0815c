//! The instant of an attack within a few milliseconds of where the flux and the transient put it, at the transients'
//! rate: 21 kHz or more at usual sample rates, so a sample is 0.05 ms and all rates hear alike.
//!
//! Two looks are added up: at the sound itself, and at what is left once the note that was sounding is foretold from
//! its own past (`lag`) and taken off. In each, a block of half a millisecond is new as far as its bands exceed all of
//! the last 20 ms. The first block that is nearly as new as the newest holds the attack; within it, the attack is the
//! first sample of the high-passed sound that exceeds all of the last 18 ms and half of what comes.

use crate::bank::{Bank, LANES, Lanes};
use crate::clock::Clock;
use crate::fate::{self, Fate};
use crate::lag::{self, Repeat};
use crate::stilled;
use crate::transient::{BANDS, EDGES_HZ, PAST_MS};

/// How far from the expected place the attack is sought, and the expectation's standard deviation.
const REACH_MS: f64 = 8.0;
const EXPECTED_SD_MS: f64 = 4.0;
/// Loudness is followed in blocks of this length.
const BLOCK_MS: f64 = 0.5;
/// An attack's first swing is over within so many blocks.
const SWING_BLOCKS: usize = 3;
/// A band counts only above this share of its coming peak, -20 dB: the definition of the attack; the pick's touch on
/// a silent string stays below.
const FOOT: f32 = 0.1;
/// The first block with this share of the largest novelty is the attack's: the string's first return, a few
/// milliseconds later, is often stronger than the release itself.
const NEARLY: f64 = 0.45;
/// The lag is fitted on so much sound before the search window, up to the longest lag.
const FIT_MS: f64 = 10.0;
const LONGEST_LAG_MS: f64 = 32.0;
/// The sound before is taken off if this share of its power or less is not foretold ...
const WORTH_TAKING_OFF: f32 = 0.8;
/// ... and the edge is sought in what is left if it is no more than this.
const WELL_FORETOLD: f32 = 0.4;
/// The edge is sought above this frequency: below are the strings' slow movement, hum and rumble.
const HIGH_PASS_HZ: f64 = 500.0;
/// The edge must exceed all of this long a past, and half of the loudest of what follows within this.
const QUIET_MS: f64 = 18.0;
const FOLLOWS_MS: f64 = 1.0;
/// A cut note's attack is sought from the beginning of the recording if it lies this near.
const BEGIN_MS: f64 = 30.0;
/// Lets the filters settle.
const RUN_IN_MS: f64 = 8.0;
/// The stretch after the attack that gives its level.
const LEVEL_MS: f64 = 30.0;
/// The edge is found this much after the -20 dB point (median over plucked notes in quiet).
const LATE_MS: f64 = 0.2;

/// Audio after the place that must be at hand, ms.
pub(crate) const AFTER_MS: f64 = fate::UNTIL_MS;
/// Audio before the place that must be at hand, ms.
pub(crate) const BEFORE_MS: f64 = REACH_MS + FIT_MS + LONGEST_LAG_MS + 1.0;

/// Where an attack was found and how loud it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Found {
    /// Samples at the transients' rate from the take's start.
    pub(crate) at: f64,
    /// One standard deviation, ms.
    pub(crate) uncertainty_ms: f64,
    /// Largest sample of the 30 ms after, amplitude.
    pub(crate) peak: f32,
    /// Mean power of the 30 ms after.
    pub(crate) power: f32,
    pub(crate) fate: Fate,
}

/// Finds the instants of attacks; keeps its buffers from one to the next.
pub(crate) struct Refiner {
    /// Samples to a millisecond.
    ms: f64,
    block: usize,
    past: usize,
    reach: usize,
    bank: Bank,
    blocks: Vec<Lanes>,
    since: Vec<Lanes>,
    novelty: Vec<f64>,
    left: Vec<f32>,
    high: Vec<f32>,
}

impl Refiner {
    pub(crate) fn new(clock: Clock) -> Self {
        let ms = clock.transient_samples(1.0);
        let block = ((BLOCK_MS * ms) as usize).max(1);
        Self {
            ms,
            block,
            past: (PAST_MS * ms) as usize / block,
            reach: ((REACH_MS * ms) as usize / block).max(1),
            bank: Bank::new(&EDGES_HZ, clock.rate),
            blocks: Vec::new(),
            since: Vec::new(),
            novelty: Vec::new(),
            left: Vec::new(),
            high: Vec::new(),
        }
    }

    /// Looks for the attack near sample `near`; `audio` starts at its sample `first`, the recording (after
    /// digital silence) at `begin`.
    pub(crate) fn find(&mut self, audio: &[f32], first: u64, begin: u64, near: f64) -> Found {
        let near = near - first as f64;
        let begin = begin as f64 - first as f64;
        let centre = near.round().clamp(0.0, audio.len() as f64) as i64;
        self.novelty.clear();
        self.novelty.resize(2 * self.reach, 0.0);
        self.add_novelty(audio, centre);
        let repeat = self.foretell(audio, centre);
        if repeat.is_some() {
            let left = std::mem::take(&mut self.left);
            self.add_novelty(&left, centre);
            self.left = left;
        }
        let (block, margin) = self.choose();
        let silence = stilled::silence_ends(audio, centre, (self.reach * self.block) as i64, self.ms);
        let (at, edge) = match (silence, block) {
            (Some(end), _) => {
                let edge = self.edge(audio, end as i64 - self.block as i64);
                (edge.unwrap_or(end as f64) - LATE_MS * self.ms, edge.is_some())
            }
            (None, Some(k)) => {
                let from = centre + (k as i64 - self.reach as i64 - 1) * self.block as i64;
                let sound = match repeat {
                    Some(r) if r.left < WELL_FORETOLD => std::mem::take(&mut self.left),
                    _ => Vec::new(),
                };
                let heard = if sound.is_empty() { audio } else { &sound };
                // Once more about the edge itself, so that it does not hang on where the blocks happened to lie.
                let edge =
                    self.edge(heard, from).map(|e| self.edge(heard, e as i64 - 2 * self.block as i64).unwrap_or(e));
                if !sound.is_empty() {
                    self.left = sound;
                }
                let at = edge.unwrap_or((from + self.block as i64) as f64) - LATE_MS * self.ms;
                (at, edge.is_some())
            }
            (None, None) => (near, false),
        };
        let at = if near - begin < BEGIN_MS * self.ms { at.max(begin) } else { at }.max(0.0);
        let after = &audio[clip(at as i64, audio)..clip((at + LEVEL_MS * self.ms) as i64, audio)];
        Found {
            at: first as f64 + at,
            uncertainty_ms: uncertainty_ms(margin, edge),
            peak: after.iter().fold(0.0f32, |m, x| m.max(x.abs())),
            power: fate::mean_power(after),
            fate: Fate::of(audio, at, self.ms),
        }
    }

    /// The recording's first sound as an attack: where it first reaches -20 dB of its first peak. `begin` is its first
    /// sample that is not silence.
    pub(crate) fn opening(&self, audio: &[f32], first: u64, begin: u64) -> Found {
        let from = clip(begin.saturating_sub(first) as i64, audio);
        let sound = &audio[from..clip(from as i64 + (LEVEL_MS * self.ms) as i64, audio)];
        let peak = sound.iter().fold(0.0f32, |m, x| m.max(x.abs()));
        let at = sound.iter().position(|x| x.abs() >= FOOT * peak).unwrap_or(0);
        Found {
            at: begin as f64 + at as f64,
            uncertainty_ms: uncertainty_ms(f64::MAX, true),
            peak,
            power: fate::mean_power(sound),
            fate: Fate::of(audio, (from + at) as f64, self.ms),
        }
    }

    /// Adds to each block of the search window by how many octaves its bands exceed the past, summed over bands.
    fn add_novelty(&mut self, sound: &[f32], centre: i64) {
        let size = self.block as i64;
        let start = centre - (self.reach + self.past) as i64 * size;
        let run_in = start - (RUN_IN_MS * self.ms) as i64;
        let mut bank = self.bank.clone();
        bank.run(&sound[clip(run_in, sound)..clip(start, sound)], &mut [0.0; LANES]);
        self.blocks.clear();
        for k in 0..(2 * self.reach + self.past + SWING_BLOCKS) as i64 {
            let mut top = [0.0; LANES];
            // Blocks before the audio at hand stay silent.
            bank.run(&sound[clip(start + k * size, sound)..clip(start + (k + 1) * size, sound)], &mut top);
            self.blocks.push(top);
        }
        let mut foot = [f32::MIN_POSITIVE; LANES];
        raise(&mut foot, &self.blocks[self.past..]);
        foot.iter_mut().for_each(|f| *f *= FOOT);
        // The loudest from each block of the past on to the search window, and that of the window so far.
        self.since.clear();
        let mut since = foot;
        for block in self.blocks[..self.past].iter().rev() {
            raise(&mut since, std::slice::from_ref(block));
            self.since.push(since);
        }
        let mut within = foot;
        for (k, novelty) in self.novelty.iter_mut().enumerate() {
            let at = k + self.past;
            let mut before = within;
            if k < self.past {
                raise(&mut before, &self.since[self.past - 1 - k..self.past - k]);
            }
            raise(&mut within, &self.blocks[at..=at]);
            let mut swing = self.blocks[at];
            raise(&mut swing, &self.blocks[at..at + SWING_BLOCKS]);
            for b in 0..BANDS {
                if self.blocks[at][b] > before[b] {
                    *novelty += f64::from(swing[b] / before[b]).log2();
                }
            }
        }
    }

    /// Fits the repetition of the sound before the search window; if it is worth it, `left` becomes the sound less what
    /// it foretells, as far as it will be looked at.
    fn foretell(&mut self, audio: &[f32], centre: i64) -> Option<Repeat> {
        let window = (self.reach * self.block) as i64;
        let to = usize::try_from(centre - window).ok()?;
        let from = to.checked_sub((FIT_MS * self.ms) as usize)?;
        let least = 2 * self.reach * self.block + self.block;
        let repeat = lag::fit(audio, from, to, least, (LONGEST_LAG_MS * self.ms) as usize)
            .filter(|r| r.left < WORTH_TAKING_OFF)?;
        let last = clip(centre + window + ((SWING_BLOCKS + 2) * self.block) as i64, audio);
        let start = clip(centre - window - ((PAST_MS + RUN_IN_MS) * self.ms) as i64, audio).max(repeat.lag).min(last);
        self.left.clear();
        self.left.resize(start, 0.0);
        let pairs = audio[start..last].iter().zip(&audio[start - repeat.lag..]);
        self.left.extend(pairs.map(|(x, then)| x - repeat.gain * then));
        Some(repeat)
    }

    /// The block of the attack, and how far it stands out of every other place, octaves over all bands.
    fn choose(&mut self) -> (Option<usize>, f64) {
        let block_ms = self.block as f64 / self.ms;
        for (k, n) in self.novelty.iter_mut().enumerate() {
            let away = (k as f64 + 0.5 - self.reach as f64) * block_ms / EXPECTED_SD_MS;
            *n *= (-0.5 * away * away).exp();
        }
        let most = self.novelty.iter().fold(0.0f64, |m, n| m.max(*n));
        let block = self.novelty.iter().position(|n| most > 0.0 && *n >= NEARLY * most);
        let elsewhere = self.novelty.iter().enumerate().filter(|(k, _)| block.is_some_and(|b| k.abs_diff(b) > 4));
        let second = elsewhere.fold(0.0f64, |m, (_, n)| m.max(*n));
        (block, most - second)
    }

    /// The first sample from `from` on, within four blocks, that exceeds all of the last 18 ms and half of what comes.
    fn edge(&mut self, sound: &[f32], from: i64) -> Option<f64> {
        let from = clip(from, sound);
        let to = (from + 4 * self.block).min(sound.len());
        let end = (to + (FOLLOWS_MS * self.ms) as usize).min(sound.len());
        let quiet = from.saturating_sub((QUIET_MS * self.ms) as usize);
        let run_in = quiet.saturating_sub((RUN_IN_MS * self.ms) as usize);
        high_pass(&sound[run_in..end], (std::f64::consts::TAU * HIGH_PASS_HZ * 1e-3 / self.ms) as f32, &mut self.high);
        let high = &self.high;
        let loud = |a: usize, b: usize| high[a - run_in..b - run_in].iter().fold(0.0f32, |m, x| m.max(x.abs()));
        let bar = loud(quiet, from).max(0.5 * loud(from, end));
        (from..to).find(|i| bar > 0.0 && high[i - run_in].abs() >= bar).map(|i| i as f64)
    }
}

/// Standard deviation by how far the attack's block stands out (`margin`, octaves over all bands) and whether an edge
/// was found in it: 0.09 ms where nothing else comes near, 2.2 ms where another place is as likely.
fn uncertainty_ms(margin: f64, edge: bool) -> f64 {
    let doubt = 2.2 * (-(margin / 5.0).powi(2)).exp();
    let blunt = if edge { 0.09 } else { 1.0 };
    doubt.hypot(blunt)
}

fn clip(i: i64, x: &[f32]) -> usize {
    i.clamp(0, x.len() as i64) as usize
}

fn raise(top: &mut Lanes, blocks: &[Lanes]) {
    for block in blocks {
        for (t, x) in top.iter_mut().zip(block) {
            *t = if *x > *t { *x } else { *t };
        }
    }
}

/// Two first-order high-pass filters in a row.
fn high_pass(x: &[f32], omega: f32, out: &mut Vec<f32>) {
    let k = 1.0 / (1.0 + omega);
    let start = x.first().copied().unwrap_or(0.0);
    let (mut in1, mut out1, mut in2, mut out2) = (start, 0.0f32, 0.0f32, 0.0f32);
    out.clear();
    out.extend(x.iter().map(|v| {
        out1 = k * (out1 + v - in1);
        in1 = *v;
        out2 = k * (out2 + out1 - in2);
        in2 = out1;
        out2
    }));
}
