//! Everything that the alignment placed or left over, in order of time: what the second look goes through.

use takegauge_align::{Alignment, Status};
use takegauge_drill::GridNote;
use takegauge_units::Attack;

/// What an event is in the alignment.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Target {
    /// `alignment.passes[pass].notes[note]`.
    Note {
        /// Index of the pass.
        pass: usize,
        /// Index of the note in it.
        note: usize,
    },
    /// `alignment.extra[..]`.
    Extra(usize),
}

/// A point of the take to look at.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Event {
    /// Seconds into the take: where it was heard, or where the grid expects it.
    pub(crate) at: f64,
    /// One standard deviation of `at`, seconds.
    pub(crate) sd: f64,
    /// Whether an attack was heard there.
    pub(crate) heard: bool,
    pub(crate) target: Target,
    /// Index of the attack matched.
    pub(crate) attack: Option<usize>,
    /// Index into the grid, for notes.
    pub(crate) grid: Option<usize>,
}

/// All reached notes and extra attacks, by time. Times that are no finite number are left out.
pub(crate) fn events(alignment: &Alignment, grid: &[GridNote], attacks: &[Attack], rate_hz: f64) -> Vec<Event> {
    let mut events = Vec::new();
    for (pass, p) in alignment.passes.iter().enumerate() {
        for (note, n) in p.notes.iter().enumerate() {
            if n.status == Status::NotReached || n.index >= grid.len() {
                continue;
            }
            events.push(Event {
                at: n.played.unwrap_or(n.expected).0,
                sd: n.uncertainty.map_or(2e-3, |u| u.seconds().0),
                heard: n.played.is_some(),
                target: Target::Note { pass, note },
                attack: n.attack,
                grid: Some(n.index),
            });
        }
    }
    for (i, e) in alignment.extra.iter().enumerate() {
        if let Some(a) = attacks.get(e.attack) {
            events.push(Event {
                at: (a.at.sample() as f64 + a.at.fraction()) / rate_hz,
                sd: a.uncertainty.seconds().0,
                heard: true,
                target: Target::Extra(i),
                attack: Some(e.attack),
                grid: None,
            });
        }
    }
    events.retain(|e| e.at.is_finite() && e.at >= 0.0);
    events.sort_by(|a, b| a.at.total_cmp(&b.at));
    events
}
