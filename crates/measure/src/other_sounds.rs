//! Extra attacks that no string made are told from those that a string made, and set aside.

use crate::events::Target;
use crate::no_string::{Usual, strings, weighed};
use crate::release::{self, Release};
use crate::second_look::SecondLook;
use crate::tuning::extra::MOST_RELEASES;
use crate::tuning::release::STRETCH_S;
use takegauge_align::SetAside;
use takegauge_locate::Located;
use takegauge_units::Seconds;

impl SecondLook<'_> {
    /// Takes note of how event `i`, placed as `located`, begins.
    pub(crate) fn remember_release(&mut self, i: usize, located: &Located) {
        let event = &self.events[i];
        let note = matches!(event.target, Target::Note { .. });
        if self.extra.is_empty() || note && self.releases_of_notes.len() >= MOST_RELEASES {
            return;
        }
        let until_next = self.events[i + 1..].iter().find(|e| e.heard).map_or(f64::INFINITY, |e| e.at - event.at);
        let (stretch, place) = self.kept.around(event.at, STRETCH_S);
        let release = release::release(stretch, self.rate.as_f64(), place, located, until_next);
        match event.target {
            Target::Note { .. } => self.releases_of_notes.extend(release),
            Target::Extra(k) => self.releases_of_extras[k] = release,
        }
    }

    /// Sets extras aside that are no string's. What was weighed of each extra, and when it was played.
    pub(crate) fn set_aside_other_sounds(&mut self) -> Vec<(Seconds, [f64; 5])> {
        let held: Vec<usize> = (0..self.extra.len()).filter(|k| self.extra[*k].is_some()).collect();
        let releases: Vec<Option<Release>> = held.iter().map(|k| self.releases_of_extras[*k]).collect();
        let usual = Usual::of(&self.releases_of_notes);
        let weighed: Vec<Option<[f64; 5]>> = releases.iter().map(|r| r.as_ref().map(|r| weighed(r, &usual))).collect();
        let played = held.iter().map(|k| self.extra[*k].as_ref().map(|m| m.played));
        let seen = played.zip(&weighed).filter_map(|(at, w)| Some((at?, (*w)?))).collect();
        let aside = held.iter().zip(strings(&weighed)).filter(|(_, string)| !string);
        let mut at: Vec<Seconds> = aside.filter_map(|(k, _)| self.extra[*k].take()).map(|m| m.played).collect();
        at.sort_by(|a, b| a.0.total_cmp(&b.0));
        if let (Some(from), Some(to)) = (at.first(), at.last()) {
            let sounds = if at.len() == 1 { "sound that is" } else { "sounds that are" };
            let why = format!("{} {sounds} no string's", at.len());
            let all = &mut self.alignment.set_aside;
            let place = all.partition_point(|s| s.from <= *from);
            all.insert(place, SetAside { from: *from, to: *to, why });
        }
        seen
    }
}
