//! The string that a change leaves: which event left it sounding, and how long it rings over.

use crate::events::{Event, Target, struck_again};
use crate::partials::{Comb, Sounding};
use crate::second_look::SecondLook;
use crate::smear::Change;
use crate::tuning::ringing;
use crate::tuning::second_look::NEIGHBOURS_S;
use takegauge_units::Millis;

impl SecondLook<'_> {
    /// The event of the note before, on another string, that event `i` leaves; `None` where it was not heard.
    pub(crate) fn left_by(&self, i: usize) -> Option<usize> {
        let (Target::Note { pass, .. }, Some(grid)) = (self.events[i].target, self.events[i].grid) else { return None };
        let left = |e: &Event| {
            e.heard
                && e.grid.is_some_and(|g| g + 1 == grid)
                && matches!(e.target, Target::Note { pass: p, .. } if p == pass)
        };
        self.events[..i].iter().rposition(left)
    }

    /// How long the string left at event `i` rings on, or why that cannot be told; `None` where no string is left.
    /// Notes that may sound meanwhile are minded.
    pub(crate) fn smear_at(&self, i: usize) -> Option<Result<Millis, String>> {
        let note = self.events[i].grid.and_then(|g| self.grid.get(g))?;
        note.change.as_ref()?;
        let Some(old) = self.left_by(i) else { return Some(Err("the note before was not heard".to_owned())) };
        let (arriving, left) = (&self.events[i], &self.events[old]);
        if arriving.hz.len() > 1 || left.hz.len() > 1 {
            return Some(Err("several strings were struck together".to_owned()));
        }
        let Some(old_hz) = left.hz.first() else {
            return Some(Err("a dead note has no partials to follow".to_owned()));
        };
        let (stretch, attack) = self.kept.around(arriving.at, ringing::STRETCH_S);
        let at = arriving.at;
        let from = self.events[..i].iter().rposition(|e| e.at < at - NEIGHBOURS_S).map_or(0, |k| k + 1);
        let others = self.events[from..]
            .iter()
            .zip(from..)
            .take_while(|(e, _)| e.at < at + NEIGHBOURS_S)
            .filter(|(e, k)| e.heard && *k != old && *k != i)
            .flat_map(|(e, _)| {
                let (from, to) = (e.at - at, e.ends - at);
                e.hz.iter().map(move |hz| Sounding { comb: Comb::nominal(*hz), from, to })
            })
            .collect();
        let struck_again = struck_again(&self.events, old).map_or(f64::INFINITY, |t| t - at);
        let change = Change {
            stretch,
            rate: self.rate.as_f64(),
            attack,
            old_hz: *old_hz,
            struck_before: at - left.at,
            new_hz: arriving.hz.first().copied(),
            new_alone: self.events[i + 1..].iter().find(|e| e.heard).map_or(f64::INFINITY, |e| e.at - at),
            new_ends: arriving.ends - at,
            others,
            struck_again,
        };
        Some(self.smear.measure(&change))
    }
}
