//! `click --guide`: the drill's notes on a modelled string under the click, at their exact times.

use takegauge_click::ClickTrack;
use takegauge_drill::Drill;
use takegauge_pluck::{Performance, Player, Renderer, Sound};
use takegauge_units::{Decibels, Millis, SampleIndex, SampleRate, Seconds};

/// Well below the click, so that both are told apart and their sum stays below full scale.
const GAIN: Decibels = Decibels(-8.0);

/// Each step of the track, played without a deviation, and the sample on which its own time begins.
pub(super) fn perform(drill: &Drill, track: &ClickTrack, rate: SampleRate) -> Vec<(SampleIndex, Performance)> {
    let ends = track.steps.iter().skip(1).map(|s| s.click_from).chain([track.length]);
    let step = |(step, ends): (&takegauge_click::ClickStep, Seconds)| {
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
        (starts, takegauge_pluck::perform(&drill, &player))
    };
    track.steps.iter().zip(ends).map(step).collect()
}

/// Mixes performances into blocks that follow one another.
pub(super) struct Guides<'a> {
    /// Where each starts and what is left of it.
    renderers: Vec<(SampleIndex, Renderer<'a>)>,
    piece: Vec<f32>,
}

impl<'a> Guides<'a> {
    pub(super) fn new(played: &'a [(SampleIndex, Performance)], rate: SampleRate) -> Self {
        let sound = Sound { rate, noise: None, gain: GAIN, ..Sound::default() };
        let renderers = played.iter().map(|(starts, p)| (*starts, Renderer::new(p, &sound))).collect();
        Self { renderers, piece: Vec::new() }
    }

    /// Adds to a block whose first sample is the track's sample `from`.
    pub(super) fn add(&mut self, from: SampleIndex, out: &mut [f32]) {
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
