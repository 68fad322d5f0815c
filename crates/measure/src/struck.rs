//! Was a string struck here? Asked at the two sorts of event that alignment leaves in doubt.
//!
//! - An attack that is no note of the drill ([`SecondLook::stroke_at`]): what is seen there is gathered as a
//!   [`Stroke`], event by event. Whether it is one is told at the take's end, all of them being known
//!   ([`SecondLook::drop_no_strokes`]).
//! - A note of the drill that nobody heard ([`SecondLook::sought`]): it may be too soft beside what rings for a
//!   listener who does not know that it is to come. It is looked for around where it is expected, and if found is a
//!   played note from then on.
//!
//! Either is told by what goes on sounding afterwards (`crate::lasting`): how much larger the errors of a prediction
//! from the sound before are after a place than before it. A soft note on a string that sounded loudly brings nothing
//! louder; it is told by its pitch taking over from the one before. Times are seconds of the take.

use crate::events::Target;
use crate::lasting::{Newness, Place, newness};
use crate::pitch;
use crate::second_look::SecondLook;
use crate::stroke::{Stroke, struck};
use crate::tuning::sought::{
    ANOTHER_BEFORE_S, NEW, NEW_OF_SHARE, OTHERS_AFTER, OTHERS_BEFORE, REACH_OF_GAP, REACH_S, SD_S, SEEN_BEFORE_S,
    SOUNDED_S, STEP_S,
};
use crate::tuning::{lasting, pitch as pitches};
use takegauge_align::Status;
use takegauge_locate::Located;

impl SecondLook<'_> {
    /// What is seen at event `i`, which is no note of the drill and was placed as `located`.
    pub(crate) fn stroke_at(&self, i: usize, located: &Located) -> Stroke {
        let event = &self.events[i];
        let newness = self.newness(i, event.at).map(|n| n.times);
        Stroke { sd_ms: located.sd.0, newness, attack: located.attack }
    }

    /// Drops the extras where no string was struck, all of the take's being known. Those not looked at stay.
    pub(crate) fn drop_no_strokes(&mut self) {
        let strokes: Vec<Stroke> = self.strokes.iter().flatten().copied().collect();
        let mut of_strokes = struck(&strokes).into_iter();
        for (extra, stroke) in self.extra.iter_mut().zip(&self.strokes) {
            if stroke.is_some() && !of_strokes.next().unwrap_or(true) {
                *extra = None;
            }
        }
    }

    /// How much of what goes on sounding after `at` is new; the neighbours are those of event `i`.
    fn newness(&self, i: usize, at: f64) -> Option<Newness> {
        let next = self.events[i + 1..].iter().find(|e| e.heard);
        let until_next = next.map_or(f64::INFINITY, |e| e.at - at);
        let (stretch, place) = self.kept.around(at, lasting::STRETCH_S);
        newness(stretch, self.rate.as_f64(), Place { at: place, since_last: self.since_last(i, at), until_next })
    }

    /// Seconds from the attack before event `i` to `at`.
    pub(crate) fn since_last(&self, i: usize, at: f64) -> f64 {
        let last = self.events[..i].iter().rev().find(|e| e.heard);
        last.map_or(f64::INFINITY, |e| (at - e.at).max(0.0))
    }

    /// Looks for event `i`, a note that was not heard, around where it is expected; whether it was found. Every step is
    /// tried; it is where most is new, if that is enough and lies within reach. Found, the note is played, its event is
    /// heard and stands at that place, for the locator to put it where it belongs.
    pub(crate) fn sought(&mut self, i: usize) -> bool {
        let Target::Note { pass, note } = self.events[i].target else { return false };
        if self.alignment.passes[pass].notes[note].status != Status::Missed {
            return false;
        }
        let at = self.events[i].at;
        let next = self.events[i + 1..].iter().find(|e| e.heard).map_or(f64::INFINITY, |e| e.at - at);
        let reach = REACH_S.min(REACH_OF_GAP * next.min(self.since_last(i, at)));
        // A place further on either side: what is most new there is something else.
        let steps = (reach / STEP_S) as i64 + 1;
        let news: Vec<(i64, Newness)> = (-steps..=steps)
            .filter_map(|k| Some((k, self.newness(i, at + k as f64 * STEP_S - SEEN_BEFORE_S)?)))
            .collect();
        let most = |of: fn(&Newness) -> f64, least: f64| {
            let (k, new) = news.iter().fold((0, 0.0), |b, (k, n)| if of(n) > b.1 { (*k, of(n)) } else { b });
            (new >= least && k.abs() != steps).then_some(at + k as f64 * STEP_S)
        };
        let another_pitch =
            || most(|n| n.of_share, NEW_OF_SHARE).filter(|t| self.pitch_takes_over(i, *t, next + at - t));
        let Some(found) = most(|n| n.times, NEW).or_else(another_pitch) else { return false };
        self.alignment.passes[pass].notes[note].status = Status::Played;
        self.events[i].at = found;
        self.events[i].sd = SD_S;
        self.events[i].heard = true;
        true
    }

    /// Whether the pitch of note `i`, which is none of those that sounded before, sounds from `at` on instead of them;
    /// `alone` is how long no other is struck, seconds.
    fn pitch_takes_over(&self, i: usize, at: f64, alone: f64) -> bool {
        let Some(hz) = self.events[i].expected_hz else { return false };
        let same = |r: &f64| pitch::same_key(*r, hz);
        let before = self.events[..i].iter().rev().take_while(|e| e.at > at - SOUNDED_S).filter(|e| e.heard);
        let mut sounded = before.flat_map(|e| &e.hz).peekable();
        if sounded.peek().is_none() || sounded.any(same) {
            return false;
        }
        let off = |from: f64, alone: f64| {
            let (sound, place) = self.kept.around(from, pitches::STRETCH_S);
            pitch::off(sound, self.rate.as_f64(), place, hz, alone, &[])
        };
        let before = self.since_last(i, at).min(ANOTHER_BEFORE_S);
        off(at, alone).is_some_and(|o| o.ratio < OTHERS_AFTER)
            && off(at - before, before).is_some_and(|o| o.ratio > OTHERS_BEFORE)
    }
}
