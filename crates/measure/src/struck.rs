//! Whether a string was struck at all: extras that are none, and notes too soft to be heard without knowing that they
//! are to come. All told by what goes on sounding afterwards.

use crate::events::Target;
use crate::lasting::{Place, newness};
use crate::second_look::{RELEASE_STRETCH, SecondLook};
use takegauge_align::Status;

/// What goes on sounding after a string is struck is so many times less foretold than before; of an attack that was
/// heard only because a drill is known, more is asked.
const NEW: f64 = 1.4;
const NEW_IF_FAINT: f64 = 1.5;
/// A note not heard is sought so far around where it is expected, seconds, and over the distance to the nearer
/// neighbour, in such steps; this much must be new, which shows about so long before the attack; it is known to about so
/// much.
const SOUGHT: f64 = 0.03;
const SOUGHT_OF_GAP: f64 = 0.2;
const STEP: f64 = 1e-3;
const NEW_IF_SOUGHT: f64 = 1.6;
const SEEN_BEFORE: f64 = 0.007;
const SOUGHT_SD: f64 = 2.2e-3;

impl SecondLook<'_> {
    /// Whether a string was struck at event `i`, which is no note of the drill; `clear`: it was heard without knowing
    /// the drill.
    pub(crate) fn struck(&self, i: usize, clear: bool) -> bool {
        let least = if clear { NEW } else { NEW_IF_FAINT };
        self.newness(i, self.events[i].at).map_or(clear, |n| n >= least)
    }

    /// How much of what goes on sounding after `at`, near event `i`, is new.
    fn newness(&self, i: usize, at: f64) -> Option<f64> {
        let next = self.events[i + 1..].iter().find(|e| e.heard);
        let until_next = next.map_or(f64::INFINITY, |e| e.at - at);
        let (stretch, place) = self.around(at, RELEASE_STRETCH);
        newness(stretch, self.rate.as_f64(), Place { at: place, since_last: self.since_last(i, at), until_next })
    }

    /// Seconds from the attack before event `i` to `at`.
    pub(crate) fn since_last(&self, i: usize, at: f64) -> f64 {
        let last = self.events[..i].iter().rev().find(|e| e.heard);
        last.map_or(f64::INFINITY, |e| (at - e.at).max(0.0))
    }

    /// Looks for a note that was not heard near where it is expected: too soft beside what rings for a listener who does
    /// not know that it is to come.
    pub(crate) fn sought(&mut self, i: usize) -> bool {
        let Target::Note { pass, note } = self.events[i].target else { return false };
        if self.alignment.passes[pass].notes[note].status != Status::Missed {
            return false;
        }
        let at = self.events[i].at;
        let next = self.events[i + 1..].iter().find(|e| e.heard).map_or(f64::INFINITY, |e| e.at - at);
        let reach = SOUGHT.min(SOUGHT_OF_GAP * next.min(self.since_last(i, at)));
        // A place further on either side: what is most new there is something else.
        let steps = (reach / STEP) as i64 + 1;
        let new_at = |k: i64| self.newness(i, at + k as f64 * STEP - SEEN_BEFORE).unwrap_or(0.0);
        let best = (-steps..=steps).map(|k| (k, new_at(k))).fold((0, 0.0), |b, p| if p.1 > b.1 { p } else { b });
        if best.1 < NEW_IF_SOUGHT || best.0.abs() == steps {
            return false;
        }
        self.alignment.passes[pass].notes[note].status = Status::Played;
        self.events[i].at = at + best.0 as f64 * STEP;
        self.events[i].sd = SOUGHT_SD;
        self.events[i].heard = true;
        true
    }
}
