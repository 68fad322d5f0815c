//! Guide tones: the drill's notes on a modelled string under a click track, at their exact times.

use crate::{Performance, Player, Renderer, Sound, perform};
use takegauge_click::{ClickStep, ClickTrack};
use takegauge_drill::Drill;
use takegauge_units::{Decibels, Millis, SampleIndex, SampleRate, Seconds};

/// Well below the click, so that both are told apart and their sum stays below full scale.
const GAIN: Decibels = Decibels(-8.0);

/// Samples of a click that are made at a time.
const BLOCK: usize = 65_536;

/// Hands out a click from its first sample to its last, block after block, with guide tones for `drill` under it if asked.
/// Ends with the first error of `take`.
pub fn sounded<E>(
    drill: &Drill,
    track: &ClickTrack,
    rate: SampleRate,
    with_guide: bool,
    mut take: impl FnMut(&[f32]) -> Result<(), E>,
) -> Result<(), E> {
    let played = if with_guide { guide(drill, track, rate) } else { Vec::new() };
    let mut guides = Guides::new(&played, rate);
    let mut block = vec![0.0_f32; BLOCK];
    let (mut at, end) = (0, track.samples(rate));
    while at < end {
        let n = (end - at).min(BLOCK as u64) as usize;
        let piece = &mut block[..n];
        track.fill(rate, at, piece);
        guides.add(at, piece);
        take(piece)?;
        at += n as u64;
    }
    Ok(())
}

/// Each step of a click track for `drill`, played without a deviation, and the track's sample on which its own time
/// begins.
fn guide(drill: &Drill, track: &ClickTrack, rate: SampleRate) -> Vec<(SampleIndex, Performance)> {
    let ends = track.steps.iter().skip(1).map(|s| s.click_from).chain([track.length]);
    let step = |(step, ends): (&ClickStep, Seconds)| {
        let drill = Drill { tempo: step.tempo, repeats: step.repeats, ..drill.clone() };
        let starts = rate.samples_in(step.click_from) as SampleIndex;
        let first = drill.grid().first().map_or(Seconds(0.0), |n| n.expected);
        let player = Player {
            lead_in: step.notes_from + first - Seconds(starts as f64 / rate.as_f64()),
            tail: ends - step.notes_to,
            spread: Millis(0.0),
            level_spread: Decibels(0.0),
            ..Player::default()
        };
        (starts, perform(&drill, &player))
    };
    track.steps.iter().zip(ends).map(step).collect()
}

/// Mixes what [`guide`] played into blocks that follow one another.
struct Guides<'a> {
    /// Where each starts and what is left of it.
    renderers: Vec<(SampleIndex, Renderer<'a>)>,
    piece: Vec<f32>,
}

impl<'a> Guides<'a> {
    /// From the track's first sample on; `rate` as [`guide`] had it.
    fn new(played: &'a [(SampleIndex, Performance)], rate: SampleRate) -> Self {
        let sound = Sound { rate, noise: None, gain: GAIN, ..Sound::default() };
        let renderers = played.iter().map(|(starts, p)| (*starts, Renderer::new(p, &sound))).collect();
        Self { renderers, piece: Vec::new() }
    }

    /// Adds to a block whose first sample is the track's sample `from`, the end of the block before.
    fn add(&mut self, from: SampleIndex, out: &mut [f32]) {
        for (starts, renderer) in &mut self.renderers {
            let Ok(skip) = usize::try_from(starts.saturating_sub(from)) else { continue };
            let Some(rest) = out.get_mut(skip..) else { continue };
            self.piece.clear();
            renderer.block(rest.len(), &mut self.piece);
            for (sample, guide) in rest.iter_mut().zip(&self.piece) {
                *sample += guide;
            }
        }
    }
}
