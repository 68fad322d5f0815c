//! From a drill and a player to a [`Performance`]: pure timing, no sound. Cheap enough to be run hundreds of times.
//!
//! Every note takes the same number of random draws whatever happens to it, so a fault put in changes the notes that
//! it names and no others.

mod clock;
mod draws;
mod extras;

use crate::damp::{Draft, settle};
use crate::performance::{Beat, PassPlayed, Performance, Status, asked};
use crate::player::{Pass, Player, finite, of_matching};
use crate::touch::{Hands, Manner};
use clock::Clock;
use draws::Draws;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use takegauge_drill::{Drill, GridNote};
use takegauge_units::{MidiKey, Millis, Seconds};

/// Two attacks of one pick are never closer than this, far beyond any hand: the fastest wrist known gives 20 notes a
/// second (10 strokes a second: Fujii & Moritani 2012, J. Electromyogr. Kinesiol. 22:60-66).
const CLOSEST_S: f64 = 0.010;
/// Correlation from note to note of the slow wander.
const WANDER_KEEPS: f64 = 0.95;

/// Plays the drill.
pub fn perform(drill: &Drill, player: &Player) -> Performance {
    perform_grid(drill, &drill.grid(), player)
}

/// The same, for callers who play one grid many times. `grid` is `drill.grid()`.
pub fn perform_grid(drill: &Drill, grid: &[GridNote], player: &Player) -> Performance {
    let mut take = Playing::new(drill, grid, player);
    let whole = [Pass::WHOLE];
    let passes = if player.passes.is_empty() { &whole[..] } else { &player.passes[..] };
    for (number, pass) in passes.iter().enumerate() {
        take.pass(number, pass);
    }
    take.finish()
}

fn seeded(seed: u64, stream: u64) -> ChaCha8Rng {
    let mut rng = ChaCha8Rng::seed_from_u64(seed);
    rng.set_stream(stream);
    rng
}

struct Playing<'a> {
    drill: &'a Drill,
    grid: &'a [GridNote],
    player: &'a Player,
    timing: ChaCha8Rng,
    hands: Hands,
    free: ChaCha8Rng,
    places: Vec<f64>,
    factor: f64,
    wander: f64,
    now: f64,
    latest: f64,
    /// (index into `done.notes`, group) of notes that sounded.
    sounded: Vec<(usize, usize)>,
    drafts: Vec<Draft>,
    groups: usize,
    done: Performance,
}

impl<'a> Playing<'a> {
    fn new(drill: &'a Drill, grid: &'a [GridNote], player: &'a Player) -> Self {
        let mut rng = seeded(player.seed, 1);
        let steps = grid.iter().map(|n| n.position + 1).max().unwrap_or(0);
        let sd = finite(player.place_spread.0);
        let places = (0..steps).map(|_| sd * rng.sample::<f64, _>(StandardNormal)).collect();
        let factor = if player.tempo_factor.is_finite() { player.tempo_factor.clamp(0.1, 10.0) } else { 1.0 };
        let lead_in = finite(player.lead_in.0).clamp(0.0, 3600.0);
        Self {
            drill,
            grid,
            player,
            timing: seeded(player.seed, 2),
            hands: Hands::new(seeded(player.seed, 3), player),
            free: seeded(player.seed, 4),
            places,
            factor,
            wander: 0.0,
            now: lead_in,
            latest: f64::NEG_INFINITY,
            sounded: Vec::new(),
            drafts: Vec::new(),
            groups: 0,
            done: Performance { tempo_factor: factor, ..Performance::default() },
        }
    }

    fn pass(&mut self, number: usize, pass: &Pass) {
        let pause = finite(pass.pause.0).clamp(0.0, 3600.0);
        let from = if number == 0 { 0.0 } else { self.now };
        if pause > 0.0 {
            self.done.pauses.push((Seconds(from), Seconds(from + pause)));
            self.noodle(from, from + pause, pass.noodling);
            self.now += pause;
        }
        let end = pass.first.saturating_add(pass.notes).min(self.grid.len());
        let notes = self.grid.get(pass.first..end).unwrap_or(&[]);
        let (Some(first), Some(last)) = (notes.first(), notes.last()) else { return };
        let span = last.expected.0 + last.lasts.0 - first.expected.0;
        let change = finite(self.player.tempo_change).clamp(-0.9, 9.0);
        let clock = Clock { offset: self.now, factor: self.factor, change, span };
        self.beats(clock, first.expected.0, from);
        let start = self.done.notes.len();
        for (k, note) in notes.iter().enumerate() {
            let x = note.expected.0 - first.expected.0;
            let progress = if span > 0.0 { x / span } else { 0.0 };
            let next = notes.get(k + 1).map(|n| clock.at(n.expected.0 - first.expected.0));
            self.note(number, note, clock.at(x), progress, next, clock.at(x + note.lasts.0));
        }
        let end = clock.at(span);
        self.done.passes.push(PassPlayed {
            offset: Seconds(clock.offset),
            end: Seconds(end),
            first: pass.first,
            notes: self.done.notes.len() - start,
        });
        self.now = end.max(self.latest);
    }

    /// One note: `next` is where the following one belongs on the grid, `ends` how long it is to be held.
    fn note(&mut self, pass: usize, note: &GridNote, grid: f64, progress: f64, next: Option<f64>, ends: f64) {
        let p = self.player;
        let draws = Draws::new(&mut self.timing, p.loose.len());
        let soft = p.soft.on(note.index, draws.soft);
        let touches: Vec<_> = (0..note.keys.len().max(1)).map(|_| self.hands.touch(note, soft)).collect();
        let mut record = asked(note, pass, Seconds(grid));
        let at = (grid + self.deviation_ms(note, &draws, progress) * 1e-3).max(self.latest + CLOSEST_S).max(0.0);
        let missed = p.missed.on(note.index, draws.missed);
        if !missed {
            self.latest = at;
            record.played = Some(Seconds(at));
            record.status = Status::Played;
            let mut keys: Vec<MidiKey> = note.keys.clone();
            if !note.dead && p.wrong.on(note.index, draws.wrong[0]) {
                let off = wrong_by(note.fret(), draws.wrong[1]);
                record.status = Status::WrongPitch;
                record.fret = record.fret.saturating_add_signed(off);
                record.key = MidiKey(record.key.0.saturating_add_signed(off).min(127));
                if let Some(k) = keys.first_mut() {
                    *k = record.key;
                }
            }
            let ring = finite(p.ring.0) * (0.9 + 0.2 * draws.ring) + of_matching(&p.smears, note, |m: Millis| m.0);
            let rest_after = next.is_none_or(|n| ends + 1e-6 < n);
            let manner = Manner::of(note);
            for (n, (key, touch)) in keys.iter().zip(touches).enumerate() {
                let string = note.fingered.get(n).map_or(1, |f| f.string);
                self.drafts.push(Draft {
                    // A pick needs about 1.5 ms from one string to the next in a chord (plain choice, no source).
                    at: at + 0.0015 * n as f64,
                    group: self.groups,
                    string,
                    frequency: key.frequency(self.drill.a4),
                    manner,
                    touch,
                    main: true,
                    ends: rest_after.then_some(ends),
                    overlap: ring.clamp(-1000.0, 10_000.0) * 1e-3,
                });
            }
            self.sounded.push((self.done.notes.len(), self.groups));
            self.groups += 1;
        }
        self.done.notes.push(record);
        self.extras(note, if missed { grid } else { at }, next.unwrap_or(ends), &draws);
    }

    fn deviation_ms(&mut self, note: &GridNote, draws: &Draws, progress: f64) -> f64 {
        let p = self.player;
        let growth = (1.0 + finite(p.fatigue) * progress).max(0.0);
        self.wander = WANDER_KEEPS * self.wander + (1.0 - WANDER_KEEPS * WANDER_KEEPS).sqrt() * draws.wander;
        let mut ms = finite(p.spread.0) * growth * draws.spread + finite(p.wander.0) * self.wander;
        ms += self.places.get(note.position).copied().unwrap_or(0.0);
        ms += of_matching(&p.biases, note, |m: Millis| m.0);
        for ((selector, sd), z) in p.loose.iter().zip(&draws.loose) {
            if selector.matches(note) {
                ms += finite(sd.0) * growth * z;
            }
        }
        if draws.slip[0] < p.slips {
            let far = 4.0 * draws.slip[1] - 2.0; // -2..2, then 1..2 to either side
            ms += finite(p.slip_size.0) * (far.signum() * (1.0 + far.abs() / 2.0));
        }
        ms.clamp(-10_000.0, 10_000.0)
    }

    /// The click of a pass, with a bar's count-in as far as there is room after `from`.
    fn beats(&mut self, clock: Clock, first: f64, from: f64) {
        let step = self.drill.step_seconds().0;
        let beat = step * f64::from(self.drill.steps_per_beat.max(1));
        // Bars count from the first bar line, which stands after the pickup.
        let first = first - step * f64::from(self.drill.pickup_steps);
        let bar = i64::from(self.drill.beats_per_bar.max(1));
        if !(beat.is_finite() && beat > 0.0) {
            return;
        }
        let k0 = (first / beat).floor() as i64 - bar;
        let k1 = ((first + clock.span) / beat).floor() as i64;
        for k in k0..=k1.min(k0.saturating_add(1_000_000)) {
            let at = clock.at(k as f64 * beat - first);
            if at >= from {
                self.done.beats.push(Beat { at: Seconds(at), accented: k.rem_euclid(bar) == 0 });
            }
        }
    }

    fn finish(mut self) -> Performance {
        let tail = finite(self.player.tail.0).clamp(0.0, 3600.0);
        let (events, overlaps) = settle(std::mem::take(&mut self.drafts));
        for (note, group) in &self.sounded {
            if let (Some(n), Some(o)) = (self.done.notes.get_mut(*note), overlaps.get(*group)) {
                n.overlap = o.map(|s| Millis(s * 1e3)).filter(|_| n.change.is_some());
            }
        }
        self.forget_overlaps_after_misses();
        self.done.extras.sort_by(|a, b| a.at.0.total_cmp(&b.at.0));
        self.done.length = Seconds(self.now.max(self.latest) + tail);
        self.done.events = events;
        self.done
    }

    /// What rings into a note after a missed one is not the string that the drill leaves.
    fn forget_overlaps_after_misses(&mut self) {
        let mut missed_before = false;
        for n in &mut self.done.notes {
            if missed_before {
                n.overlap = None;
            }
            missed_before = n.status == Status::Missed;
        }
    }
}

/// How many frets off: one or two, either way, never below the open string.
fn wrong_by(fret: u8, draw: f64) -> i8 {
    let off = [1, -1, 2, -2][((draw * 4.0) as usize).min(3)];
    if i16::from(fret) + i16::from(off) < 0 { -off } else { off }
}

#[cfg(test)]
mod tests;
