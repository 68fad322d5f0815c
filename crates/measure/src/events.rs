//! Everything that the alignment placed or left over, in order of time: what the second look goes through.

use crate::tuning::second_look::{CONCERT, RINGS_S, UNSURE_S};
use takegauge_align::{Alignment, Placed, Status};
use takegauge_drill::{Drill, GridNote};
use takegauge_units::{Attack, MidiKey};

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
    /// `alignment.extra[..]`, then `alignment.faint[..]`.
    Extra(usize),
}

/// A point of the take to look at.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Event {
    /// Seconds into the take: where it was heard, or where the grid expects it.
    pub(crate) at: f64,
    /// One standard deviation of `at`, seconds.
    pub(crate) sd: f64,
    /// Whether it sounds.
    pub(crate) heard: bool,
    pub(crate) target: Target,
    /// Index of the attack matched.
    pub(crate) attack: Option<usize>,
    /// Index into the grid, for notes.
    pub(crate) grid: Option<usize>,
    /// Frequencies that sound, as far as they are known.
    pub(crate) hz: Vec<f64>,
    /// The frequency that the drill asks for, where it is one.
    pub(crate) expected_hz: Option<f64>,
    /// The string, for notes of one string.
    pub(crate) string: Option<u8>,
    /// When it sounds no longer, seconds into the take.
    pub(crate) ends: f64,
}

/// All reached notes and extra attacks, by time. Times that are no finite number are left out.
pub(crate) fn events(
    alignment: &Alignment,
    grid: &[GridNote],
    drill: &Drill,
    attacks: &[Attack],
    rate_hz: f64,
) -> Vec<Event> {
    let off = 2f64.powf(alignment.cents_off / 1200.0);
    let mut events = Vec::new();
    for (pass, p) in alignment.passes.iter().enumerate() {
        for (note, n) in p.notes.iter().enumerate() {
            let Some(g) = grid.get(n.index).filter(|_| n.status != Status::NotReached) else { continue };
            events.push(Event {
                at: n.played.unwrap_or(n.expected).0,
                sd: n.uncertainty.map_or(UNSURE_S, |u| u.seconds().0),
                heard: n.played.is_some(),
                target: Target::Note { pass, note },
                attack: n.attack,
                grid: Some(n.index),
                hz: sounding(n, g).iter().map(|k| k.frequency(drill.a4).0 * off).collect(),
                expected_hz: match g.keys.as_slice() {
                    [key] if !g.dead => Some(key.frequency(drill.a4).0 * off),
                    _ => None,
                },
                string: (g.fingered.len() == 1).then(|| g.string()),
                ends: 0.0,
            });
        }
    }
    for (i, e) in alignment.extra.iter().chain(&alignment.faint).enumerate() {
        if let Some(a) = attacks.get(e.attack) {
            events.push(Event {
                at: (a.at.sample() as f64 + a.at.fraction()) / rate_hz,
                sd: a.uncertainty.seconds().0,
                heard: i < alignment.extra.len(),
                target: Target::Extra(i),
                attack: Some(e.attack),
                grid: None,
                hz: a.pitch.best().iter().map(|k| k.frequency(CONCERT).0).collect(),
                expected_hz: None,
                string: None,
                ends: 0.0,
            });
        }
    }
    events.retain(|e| e.at.is_finite() && e.at >= 0.0);
    events.sort_by(|a, b| a.at.total_cmp(&b.at));
    for i in 0..events.len() {
        let longest = events[i].at + RINGS_S;
        let again = struck_again(&events, i).unwrap_or(longest);
        events[i].ends = again.min(longest);
    }
    events
}

/// The pitches at which a note sounds: the one heard where it is wrong, else those expected; none of a dead note.
fn sounding(placed: &Placed, note: &GridNote) -> Vec<MidiKey> {
    match (placed.status, placed.heard) {
        _ if note.dead => Vec::new(),
        (Status::WrongPitch, Some(key)) => vec![key],
        _ => note.keys.clone(),
    }
}

/// When the string of event `i` is struck next, seconds into the take; `None` if not within [`RINGS_S`].
pub(crate) fn struck_again(events: &[Event], i: usize) -> Option<f64> {
    let string = events[i].string?;
    let later = events[i + 1..].iter().take_while(|e| e.at < events[i].at + RINGS_S);
    later.into_iter().find(|e| e.heard && e.string == Some(string)).map(|e| e.at)
}
