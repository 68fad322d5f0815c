//! The second pass over a take's samples: each event of the alignment is looked at, once the sound around it is there.
//!
//! Goes in: the take's alignment with its grid, drill and attacks, then its samples in blocks of any size. Comes out:
//! [`Measured`], the alignment with instants, statuses and extras put right, and what was measured at each note. The
//! answer does not depend on how the take is cut into blocks: an event is looked at when the longest stretch after it
//! is there, or at the take's end, and earlier ones have been by then.
//!
//! Events ([`events`]: the notes of all passes, extras and faint attacks) are gone through in order of time. At each:
//!
//! 1. A note that was not heard is sought (`crate::struck`); one that is not found is left alone.
//! 2. The locator moves the event to the instant of its release. All that follows looks from there.
//! 3. At an attack that is no note: whether a string was struck (`crate::struck`); if that is unlikely, it is dropped.
//! 4. How it begins (`crate::release`), for telling strings from other sounds at the end.
//! 5. Its pitch, if it is a note (`crate::pitch`): this may change its status.
//! 6. Its level; and for a note: how long the string it leaves rings over (`crate::left`), what sounded before it, its
//!    steepest rise (`crate::rise`), and its sound for holding repeats against each other.
//!
//! When all have been: repeats put doubtful instants right (`crate::repeats`), extras where no string was struck are
//! dropped (`crate::struck`), and those that were other sounds set aside (`crate::other_sounds`), in that order.
//!
//! Later events use what was learnt of earlier ones: their instants, whether they sound, at which pitch and until when.
//! Times are seconds of the take; uncertainties are one standard deviation, ms where they leave this file.

use crate::envelope::Outline;
use crate::events::{Event, Target, events};
use crate::kept::Kept;
use crate::model::{ExtraMeasure, Measured, NoteMeasure};
use crate::pitch;
use crate::release::Release;
use crate::repeats::Repeats;
use crate::rise::steepest;
use crate::smear::Smear;
use crate::stroke::Stroke;
use crate::tuning::ringing::SHORTEST_SMEAR;
use crate::tuning::second_look::{
    AHEAD_S, BEHIND_S, FIRST_LOOK_SD, LEVEL_OVER_S, LOCATE_STRETCH_S, NEIGHBOURS_S, SOUNDED_OVER_S,
};
use crate::tuning::{alike, pitch as pitches, rise};
use takegauge_align::{Alignment, Status};
use takegauge_drill::{Drill, GridNote};
use takegauge_locate::{Located, Locator, Rival, Size, Weights};
use takegauge_units::{Attack, Decibels, MidiKey, Millis, SampleRate, Seconds};

/// Feeds on the take's samples, in blocks of any size.
pub struct SecondLook<'a> {
    pub(crate) rate: SampleRate,
    pub(crate) grid: &'a [GridNote],
    pub(crate) attacks: &'a [Attack],
    pub(crate) alignment: Alignment,
    /// In order of time, as they stood before the look.
    pub(crate) events: Vec<Event>,
    /// Index of the first event not yet looked at.
    next: usize,
    pub(crate) kept: Kept,
    outline: Outline,
    pub(crate) smear: Smear,
    /// One list a pass, one entry a note.
    pub(crate) notes: Vec<Vec<NoteMeasure>>,
    pub(crate) repeats: Repeats,
    locator: Locator,
    /// One for each of `alignment.extra`, then of `alignment.faint`; `None` where no string was struck.
    pub(crate) extra: Vec<Option<ExtraMeasure>>,
    /// What was seen at each of them; `None` where it was not looked at.
    pub(crate) strokes: Vec<Option<Stroke>>,
    /// How notes began, and, one for each of `extra`, how those did.
    pub(crate) releases_of_notes: Vec<Release>,
    pub(crate) releases_of_extras: Vec<Option<Release>>,
}

impl<'a> SecondLook<'a> {
    /// For one take, given what alignment made of it; `grid` and `drill` are those it was aligned with.
    pub fn new(
        rate: SampleRate,
        grid: &'a [GridNote],
        drill: &Drill,
        alignment: Alignment,
        attacks: &'a [Attack],
    ) -> Self {
        let events = events(&alignment, grid, drill, attacks, rate.as_f64());
        let nothing = NoteMeasure { level: None, before: None, heard: None, rise: None, smear: None };
        let notes = alignment.passes.iter().map(|p| vec![nothing.clone(); p.notes.len()]).collect();
        let extra: Vec<Option<ExtraMeasure>> = alignment
            .extra
            .iter()
            .chain(&alignment.faint)
            .map(|e| {
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
            kept: Kept::new(rate.as_f64()),
            outline: Outline::new(rate),
            smear: Smear::new(),
            notes,
            repeats: Repeats::new(rate.as_f64()),
            locator: Locator::new(Size::Thorough, rate.as_f64()),
            releases_of_notes: Vec::new(),
            strokes: vec![None; extra.len()],
            releases_of_extras: vec![None; extra.len()],
            extra,
        }
    }

    /// The same with other weights of the locator, before the first sample.
    #[must_use]
    pub fn with_weights(self, weights: Weights) -> Self {
        Self { locator: Locator::with(weights, self.rate.as_f64()), ..self }
    }

    /// The next samples of the take. What is no finite number counts as silence.
    pub fn push(&mut self, samples: &[f32]) {
        let clean: Vec<f32> = samples.iter().map(|x| if x.is_finite() { *x } else { 0.0 }).collect();
        self.outline.push(&clean);
        self.kept.push(&clean);
        while let Some(e) = self.events.get(self.next)
            && self.kept.reaches(e.at + AHEAD_S)
        {
            self.look();
        }
        self.kept.forget(self.events.get(self.next).map(|e| e.at - BEHIND_S));
    }

    /// After the last sample.
    pub fn finish(mut self) -> Measured {
        while self.next < self.events.len() {
            self.look();
        }
        self.apply_repeats();
        let uncertainties: Vec<f64> =
            self.alignment.passes.iter().flat_map(|p| &p.notes).filter_map(|n| n.uncertainty).map(|u| u.0).collect();
        self.drop_no_strokes();
        let beginnings = self.set_aside_other_sounds();
        let mut extra: Vec<ExtraMeasure> = self.extra.into_iter().flatten().collect();
        extra.sort_by_key(|m| m.extra.attack);
        self.alignment.extra = extra.iter().map(|m| m.extra).collect();
        self.alignment.faint.clear();
        let square: f64 = uncertainties.iter().map(|u| u * u).sum();
        let strokes = self.events.iter().filter_map(|e| match e.target {
            Target::Extra(k) => self.strokes[k].map(|s| (Seconds(e.at), s)),
            Target::Note { .. } => None,
        });
        Measured {
            strokes: strokes.collect(),
            beginnings,
            detector_sd: Millis((square / uncertainties.len().max(1) as f64).sqrt()),
            alignment: self.alignment,
            notes: self.notes,
            extra,
            envelope: self.outline.finish(),
        }
    }

    /// Takes note of a played note at event `i`, so that it can be held against others like it.
    fn remember(&mut self, i: usize, rivals: &[Option<Rival>]) {
        let event = &self.events[i];
        let (Target::Note { pass, note }, Some(grid)) = (event.target, event.grid) else { return };
        let Some(grid) = self.grid.get(grid) else { return };
        if self.alignment.passes[pass].notes[note].status == Status::Played {
            let cut = self.repeats.cut(self.kept.around(event.at, alike::STRETCH_S));
            self.repeats.add((pass, note), grid, 1e3 * event.sd, cut, rivals);
        }
    }

    /// Moves the notes that repeats showed to lie elsewhere, and what was measured from their instants with them.
    fn apply_repeats(&mut self) {
        let nothing = Repeats::new(self.rate.as_f64());
        for ((pass, note), s) in std::mem::replace(&mut self.repeats, nothing).finish() {
            let placed = &mut self.alignment.passes[pass].notes[note];
            placed.played = placed.played.map(|p| Seconds((p.0 + 1e-3 * s.after_ms).max(0.0)));
            placed.uncertainty = Some(Millis(s.sd_ms));
            // What rises, rises when it did before.
            if let Some(rise) = &mut self.notes[pass][note].rise {
                rise.0 -= s.after_ms;
            }
            // The string left rings until the same moment as before.
            if let Some(Ok(smear)) = &mut self.notes[pass][note].smear
                && smear.0 > SHORTEST_SMEAR.0
            {
                smear.0 = (smear.0 - s.after_ms).max(SHORTEST_SMEAR.0);
            }
        }
    }

    /// Looks at the next event: the numbered steps above.
    fn look(&mut self) {
        let i = self.next;
        self.next += 1;
        let extra = match self.events[i].target {
            Target::Extra(k) => Some(k),
            Target::Note { .. } => None,
        };
        if extra.is_none() && !self.events[i].heard && !self.sought(i) {
            return;
        }
        let located = self.refine(i);
        if let Some(k) = extra {
            let stroke = self.stroke_at(i, &located);
            self.strokes[k] = Some(stroke);
            self.events[i].heard = stroke.likely();
            if !self.events[i].heard {
                self.extra[k] = None;
                return;
            }
        }
        self.remember_release(i, &located);
        self.judge_pitch(i);
        let event = &self.events[i];
        let level = peak(self.kept.around(event.at, (0.0, LEVEL_OVER_S)).0);
        match event.target {
            Target::Note { pass, note } => {
                let smear = self.smear_at(i);
                if let (Some(Ok(ms)), Some(old)) = (&smear, i.checked_sub(1).and_then(|_| self.left_by(i))) {
                    let ends = self.events[i].at + ms.seconds().0;
                    self.events[old].ends = self.events[old].ends.min(ends);
                }
                let event = &self.events[i];
                let before = peak(self.kept.around(event.at, (SOUNDED_OVER_S.0, -SOUNDED_OVER_S.1)).0);
                let (stretch, foot) = self.kept.around(event.at, rise::STRETCH_S);
                let rise = steepest(stretch, self.rate.as_f64(), foot);
                let heard = event.attack.and_then(|a| self.attacks.get(a)).and_then(|a| a.pitch.best());
                let placed = &mut self.alignment.passes[pass].notes[note];
                placed.played = Some(Seconds(event.at));
                placed.uncertainty = Some(Millis(1e3 * event.sd));
                let heard: Option<MidiKey> = placed.heard.or(heard);
                self.notes[pass][note] = NoteMeasure { level, before, heard, rise, smear };
                self.remember(i, &located.rivals);
            }
            Target::Extra(k) => {
                let at = event.at;
                if let Some(m) = &mut self.extra[k] {
                    m.level = level.unwrap_or(m.level);
                    m.played = Seconds(at);
                }
            }
        }
    }

    /// Moves event `i` to the instant of its release, as the locator has it, and notes how well that is known.
    fn refine(&mut self, i: usize) -> Located {
        let at = self.events[i].at;
        let rate = self.rate.as_f64();
        let (sound, first) = self.kept.between(at - LOCATE_STRETCH_S.0, at + LOCATE_STRETCH_S.1);
        let located = self.locator.locate(sound, at * rate - first, FIRST_LOOK_SD);
        self.events[i].at = ((first + located.at) / rate).max(0.0);
        self.events[i].sd = located.sd.seconds().0;
        located
    }

    /// Decides whether event `i`, a note of one key, sounds at its expected pitch. Where the sound is clear about it,
    /// the note's status follows, either way; else what listening heard stands.
    fn judge_pitch(&mut self, i: usize) {
        let event = &self.events[i];
        let (Target::Note { pass, note }, Some(hz)) = (event.target, event.expected_hz) else { return };
        let at = event.at;
        let Some(key) = event.grid.and_then(|g| self.grid.get(g)).and_then(|g| g.keys.first()) else { return };
        let alone = self.events[i + 1..].iter().find(|e| e.heard).map_or(f64::INFINITY, |e| e.at - at);
        let ringing: Vec<f64> = self.events[..i]
            .iter()
            .rev()
            .take_while(|e| e.at > at - NEIGHBOURS_S)
            .filter(|e| e.heard && e.ends > at)
            .flat_map(|e| e.hz.iter().copied())
            .collect();
        let (sound, attack) = self.kept.around(at, pitches::STRETCH_S);
        let Some(off) = pitch::off(sound, self.rate.as_f64(), attack, hz, alone, &ringing) else { return };
        let placed = &mut self.alignment.passes[pass].notes[note];
        if off.wrong() {
            let heard = i32::from(key.0) + off.semitones;
            placed.status = Status::WrongPitch;
            placed.heard = u8::try_from(heard).ok().filter(|k| *k < 128).map(MidiKey);
            self.events[i].hz = vec![hz * 2f64.powf(f64::from(off.semitones) / 12.0)];
        } else if off.right() && placed.status == Status::WrongPitch {
            placed.status = Status::Played;
            placed.heard = Some(*key);
            self.events[i].hz = vec![hz];
        }
    }
}

/// The highest sample; `None` of nothing.
fn peak(sound: &[f32]) -> Option<Decibels> {
    let highest = sound.iter().fold(None, |m: Option<f32>, x| Some(m.unwrap_or(0.0).max(x.abs())));
    highest.map(|h| Decibels::from_amplitude(f64::from(h)))
}
