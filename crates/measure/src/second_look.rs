//! The second pass over the samples: a state machine that is fed blocks and looks at each event once the sound
//! around it is there. Its answer does not depend on how the take is cut into blocks.

use crate::envelope::Outline;
use crate::events::{Event, Target, events};
use crate::model::{ExtraMeasure, Measured, NoteMeasure};
use takegauge_align::Alignment;
use takegauge_drill::GridNote;
use takegauge_units::{Attack, Decibels, MidiKey, Millis, SampleRate, Seconds};

/// How much sound before an event is kept, seconds.
const BEHIND: f64 = 0.3;
/// How much sound after an event is waited for, seconds.
const AHEAD: f64 = 0.7;
/// The level is the highest sample this long after the attack, seconds: the pick's transient and the first periods.
const LEVEL_OVER: f64 = 0.03;

/// Feeds on the take's samples, in blocks of any size.
pub struct SecondLook<'a> {
    rate: SampleRate,
    grid: &'a [GridNote],
    attacks: &'a [Attack],
    alignment: Alignment,
    events: Vec<Event>,
    /// Index of the first event not yet looked at.
    next: usize,
    /// The samples from `base` on.
    kept: Vec<f32>,
    base: u64,
    outline: Outline,
    notes: Vec<Vec<NoteMeasure>>,
    extra: Vec<ExtraMeasure>,
}

impl<'a> SecondLook<'a> {
    /// For one take, given what alignment made of it.
    pub fn new(rate: SampleRate, grid: &'a [GridNote], alignment: Alignment, attacks: &'a [Attack]) -> Self {
        let events = events(&alignment, grid, attacks, rate.as_f64());
        let nothing = NoteMeasure { level: None, heard: None, smear: None };
        let notes = alignment.passes.iter().map(|p| vec![nothing.clone(); p.notes.len()]).collect();
        let extra = alignment
            .extra
            .iter()
            .filter_map(|e| {
                let a = attacks.get(e.attack)?;
                Some(ExtraMeasure { extra: *e, played: a.at.seconds(rate), level: a.level, heard: a.pitch.best() })
            })
            .collect();
        Self {
            rate,
            grid,
            attacks,
            alignment,
            events,
            next: 0,
            kept: Vec::new(),
            base: 0,
            outline: Outline::new(rate),
            notes,
            extra,
        }
    }

    /// The next samples of the take. What is no finite number counts as silence.
    pub fn push(&mut self, samples: &[f32]) {
        let clean: Vec<f32> = samples.iter().map(|x| if x.is_finite() { *x } else { 0.0 }).collect();
        self.outline.push(&clean);
        self.kept.extend_from_slice(&clean);
        let end = self.base + self.kept.len() as u64;
        while let Some(e) = self.events.get(self.next)
            && self.sample_of(e.at + AHEAD) < end
        {
            self.look();
        }
        self.forget();
    }

    /// After the last sample.
    pub fn finish(mut self) -> Measured {
        while self.next < self.events.len() {
            self.look();
        }
        let uncertainties: Vec<f64> =
            self.alignment.passes.iter().flat_map(|p| &p.notes).filter_map(|n| n.uncertainty).map(|u| u.0).collect();
        let square: f64 = uncertainties.iter().map(|u| u * u).sum();
        Measured {
            detector_sd: Millis((square / uncertainties.len().max(1) as f64).sqrt()),
            alignment: self.alignment,
            notes: self.notes,
            extra: self.extra,
            envelope: self.outline.finish(),
        }
    }

    fn sample_of(&self, seconds: f64) -> u64 {
        (seconds.max(0.0) * self.rate.as_f64()) as u64
    }

    /// Drops samples that no event to come needs.
    fn forget(&mut self) {
        let end = self.base + self.kept.len() as u64;
        let needed = self.events.get(self.next).map_or(end, |e| self.sample_of(e.at - BEHIND)).min(end);
        let drop = needed.saturating_sub(self.base) as usize;
        // Moving the rest costs as much as it is long: only when at least half goes.
        if drop * 2 >= self.kept.len() {
            self.kept.drain(..drop);
            self.base = needed;
        }
    }

    fn look(&mut self) {
        let event = self.events[self.next].clone();
        self.next += 1;
        match event.target {
            Target::Note { pass, note } => {
                if event.heard {
                    let m = &mut self.notes[pass][note];
                    m.level = peak(&self.kept, self.base, self.rate, event.at);
                    m.heard = heard(event.attack.and_then(|a| self.attacks.get(a)));
                }
            }
            Target::Extra(i) => {
                if let Some(m) = self.extra.get_mut(i) {
                    m.level = peak(&self.kept, self.base, self.rate, event.at).unwrap_or(m.level);
                    m.played = Seconds(event.at);
                }
            }
        }
    }
}

/// The highest sample in the [`LEVEL_OVER`] after `at`; `None` where the take holds none.
fn peak(kept: &[f32], base: u64, rate: SampleRate, at: f64) -> Option<Decibels> {
    let from = ((at * rate.as_f64()) as u64).checked_sub(base)? as usize;
    let to = (from + rate.samples_in(Seconds(LEVEL_OVER))).min(kept.len());
    let highest = kept.get(from..to)?.iter().fold(None, |m: Option<f32>, x| Some(m.unwrap_or(0.0).max(x.abs())));
    highest.map(|h| Decibels::from_amplitude(f64::from(h)))
}

fn heard(attack: Option<&Attack>) -> Option<MidiKey> {
    attack.and_then(|a| a.pitch.best())
}
