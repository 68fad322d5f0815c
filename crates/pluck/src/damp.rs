//! When strings stop: the fretting hand leaves, or the pick comes back to the string.

use crate::performance::{Damping, Event, Touch};
use crate::touch::Manner;
use takegauge_units::{Hertz, Seconds};

/// A string set sounding, before it is known what comes after it.
pub(crate) struct Draft {
    pub at: f64,
    /// Strings struck together share one.
    pub group: usize,
    pub string: u8,
    pub frequency: Hertz,
    pub manner: Manner,
    pub touch: Touch,
    /// The hand moves on from it and to it; not so for a string brushed in passing.
    pub main: bool,
    /// Set where a rest follows: when it is to end.
    pub ends: Option<f64>,
    /// How long the string left sounds into this note, seconds.
    pub overlap: f64,
}

/// The next attack on each string and the next group of notes, looking backward through time.
struct Coming {
    on_string: [Option<(f64, f64)>; 256],
    /// Of the next main group: number, attack, overlap, strings.
    next: Option<(usize, f64, f64, [bool; 256])>,
    after: Option<(usize, f64, f64, [bool; 256])>,
}

/// Orders the drafts in time and gives each its end. The second answer is, by group, how long the strings left still
/// sound after its attack (seconds); `None` where nothing rings into it.
pub(crate) fn settle(mut drafts: Vec<Draft>) -> (Vec<Event>, Vec<Option<f64>>) {
    drafts.sort_by(|a, b| a.at.total_cmp(&b.at));
    let groups = drafts.iter().map(|d| d.group + 1).max().unwrap_or(0);
    let mut overlaps: Vec<Option<f64>> = vec![None; groups];
    let mut coming = Coming { on_string: [None; 256], next: None, after: None };
    let mut events = Vec::with_capacity(drafts.len());
    for d in drafts.iter().rev() {
        coming.step(d);
        let pick = coming.pick_damping(d);
        let (hand, into) = coming.hand_damping(d);
        if let Some((group, attack)) = into {
            let stops = pick.map_or(hand.down_20_db.0, |p| p.down_20_db.0.min(hand.down_20_db.0));
            let rings = stops - attack;
            if let Some(o) = overlaps.get_mut(group) {
                *o = Some(o.map_or(rings, |was: f64| was.max(rings)));
            }
        }
        events.push(Event {
            at: Seconds(d.at),
            string: d.string,
            frequency: d.frequency,
            sounding: d.manner.sounding,
            dead: d.manner.dead,
            palm_muted: d.manner.palm_muted,
            touch: d.touch,
            hand_damps: hand,
            pick_damps: pick,
        });
        coming.on_string[usize::from(d.string)] = Some((d.at, picked_contact(d)));
    }
    events.reverse();
    (events, overlaps)
}

/// Seconds that the pick rests on the string before; a legato note has none.
fn picked_contact(d: &Draft) -> f64 {
    if d.manner.sounding == takegauge_drill::Sounding::Picked { d.touch.contact.0 * 1e-3 } else { 0.0 }
}

impl Coming {
    /// Takes note of `d`, so that `after` is the main group that follows d's own.
    fn step(&mut self, d: &Draft) {
        if !d.main {
            return;
        }
        match &mut self.next {
            Some(next) if next.0 == d.group => {
                next.3[usize::from(d.string)] = true;
                next.1 = d.at;
            }
            _ => {
                let mut strings = [false; 256];
                strings[usize::from(d.string)] = true;
                self.after = self.next.take();
                self.next = Some((d.group, d.at, d.overlap, strings));
            }
        }
    }

    fn pick_damping(&self, d: &Draft) -> Option<Damping> {
        let (at, contact) = self.on_string[usize::from(d.string)]?;
        // Held down it takes about a millisecond or two until the string is still; a legato note re-tunes it at once.
        let contact = contact.min(0.8 * (at - d.at)).max(0.0);
        let fall = (0.5 * contact).clamp(0.0008, 0.002);
        Some(Damping { down_20_db: Seconds(at - contact + fall), fall: Seconds(fall) })
    }

    /// When the hand lets the string of `d` go, and into which group (number, attack) it rings.
    fn hand_damping(&self, d: &Draft) -> (Damping, Option<(usize, f64)>) {
        let after = if d.main { self.after.as_ref() } else { None };
        let rest = d.ends.map(|e| (e, 0.030));
        let Some(&(group, attack, overlap, strings)) = after else {
            let (ends, fall) = rest.unwrap_or((d.at + 0.6, 0.080));
            return (Damping { down_20_db: Seconds(ends + fall), fall: Seconds(fall) }, None);
        };
        let same_string = strings[usize::from(d.string)];
        let overlap_here = overlap.max(d.at - attack + 0.010);
        let fall = overlap_here.clamp(0.006, 0.020);
        match rest {
            Some((ends, fall)) if ends + overlap_here < attack => {
                (Damping { down_20_db: Seconds(ends + fall.max(overlap_here)), fall: Seconds(fall) }, None)
            }
            _ if same_string => {
                // The pick or the new fret ends it.
                (Damping { down_20_db: Seconds(attack + 0.5), fall: Seconds(0.05) }, None)
            }
            _ => (Damping { down_20_db: Seconds(attack + overlap_here), fall: Seconds(fall) }, Some((group, attack))),
        }
    }
}
