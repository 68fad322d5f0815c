//! A player on paper: attacks as a listener would hear them, with the truth beside them.
// Each test file uses its own part; a test may fail by unwrapping.
#![allow(dead_code, unreachable_pub, clippy::unwrap_used)]

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::ops::Range;
use takegauge_align::{AlignError, Alignment, Options, Pass, Status, Timebase, align};
use takegauge_drill::Drill;
use takegauge_units::{Attack, Decibels, FIRST_KEY, Instant, KEYS, Millis, PitchEvidence, SampleRate, Seconds};

pub fn rate() -> SampleRate {
    SampleRate::new(48_000).unwrap()
}

pub fn drill(line: &str, repeats: u32, tempo: f64) -> Drill {
    let text = format!(
        "name = \"test\"\ntempo_bpm = {tempo}\nsteps_per_beat = 4\nbeats_per_bar = 4\nrepeats = {repeats}\n\
         tuning = \"E2 A2 D3 G3 B3 E4\"\npicking = \"alternate\"\nfirst_stroke = \"down\"\nline = \"{line}\"\n"
    );
    Drill::parse(&text, "test").unwrap()
}

pub fn scale() -> Drill {
    drill("6:3 6:5 6:7 5:3 5:5 5:7 4:4 4:5 4:7 3:4 3:5 3:7 3:5 3:4 4:7 4:5 4:4 5:7 5:5 5:3 6:7 6:5", 4, 160.0)
}

pub fn roll() -> Drill {
    drill("3:9 2:10 1:8 2:10 3:9 2:8 1:7 2:8", 10, 150.0)
}

pub fn tremolo() -> Drill {
    drill("2:5 2:5 2:5 2:5 2:5 2:5 2:7 2:7 2:7 2:7 2:7 2:7 2:8 2:8 2:8 2:8", 6, 170.0)
}

pub fn rests() -> Drill {
    drill("4:5> 4:7 3:5 3:7 2:5> ~ ~ - 2:5> 3:7 3:5 4:7 4:5> ~ - -", 6, 132.0)
}

pub fn mixed() -> Drill {
    drill("6:5 6:7h 6:8h 5:5 5:7h 5:8h [4:5 3:5] - 4:7x 4:7x 3:5 ~ 3:7p 3:5 2:5 2:7", 5, 140.0)
}

pub fn every_kind() -> Vec<Drill> {
    vec![scale(), roll(), tremolo(), rests(), mixed()]
}

/// What goes wrong, as shares of notes; scatter in seconds.
#[derive(Clone, Copy, Default)]
pub struct Faults {
    pub scatter: f64,
    pub missed: f64,
    pub extra: f64,
    pub wrong: f64,
    pub brushed: f64,
    /// Semitones above the drill.
    pub transpose: i32,
    /// Tempo gained from the first note to the last, as a share.
    pub faster: f64,
}

pub fn tidy() -> Faults {
    Faults { scatter: 0.005, ..Faults::default() }
}

/// What became of one note in truth.
pub type Truth = (usize, Status, f64);

pub struct Player {
    pub rng: ChaCha8Rng,
    pub attacks: Vec<Attack>,
    pub passes: Vec<Vec<Truth>>,
    pub extra: Vec<f64>,
}

impl Player {
    pub fn new(seed: u64) -> Self {
        Self { rng: ChaCha8Rng::seed_from_u64(seed), attacks: Vec::new(), passes: Vec::new(), extra: Vec::new() }
    }

    pub fn chance(&mut self, share: f64) -> bool {
        self.rng.random::<f64>() < share
    }

    fn normal(&mut self) -> f64 {
        let u = self.rng.random::<f64>().max(1e-12);
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * self.rng.random::<f64>()).cos()
    }

    /// Evidence as a comb would give it: strongest at the key, some at its octaves and neighbours, noise everywhere.
    fn evidence(&mut self, keys: &[i32]) -> PitchEvidence {
        let mut e = [0u8; KEYS];
        for (i, v) in e.iter_mut().enumerate() {
            let noise = 40.0 + 12.0 * self.normal();
            let at = |d: i32| keys.iter().any(|k| k + d == i as i32 + i32::from(FIRST_KEY));
            let heard = [(0, 170.0), (12, 90.0), (-12, 80.0), (1, 50.0), (-1, 50.0)];
            let most = heard.iter().filter(|(d, _)| at(*d)).map(|h| h.1).fold(0.0, f64::max);
            *v = (noise + most).clamp(0.0, 255.0) as u8;
        }
        PitchEvidence(e)
    }

    pub fn attack(&mut self, time: f64, keys: &[i32], strength: f32) {
        let pitch = self.evidence(keys);
        let at = Instant::at(Seconds(time), rate());
        self.attacks.push(Attack { at, uncertainty: Millis(0.5), strength, level: Decibels(-12.0), pitch });
    }

    /// Plays notes `range` of the drill from `start` on; the time of the last one comes back.
    pub fn play(&mut self, drill: &Drill, range: Range<usize>, start: f64, tempo: f64, faults: Faults) -> f64 {
        let grid = drill.grid();
        let slower = drill.tempo.0 / tempo;
        let zero = grid[range.start].expected.0;
        let length = (grid[range.end - 1].expected.0 - zero).max(1e-3) * slower;
        let step = drill.tempo.beat().0 / f64::from(drill.steps_per_beat) * slower;
        let mut truth = Vec::new();
        let mut last = start;
        for note in &grid[range.clone()] {
            let u = (note.expected.0 - zero) * slower;
            let time = start + u - faults.faster * u * u / length / 2.0 + faults.scatter * self.normal();
            let keys: Vec<i32> = note.keys.iter().map(|k| i32::from(k.0) + faults.transpose).collect();
            let inside = note.index > range.start && note.index + 1 < range.end;
            if !note.picked() {
                if self.chance(0.5) {
                    self.attack(time, &keys, 1.5);
                    truth.push((note.index, Status::Played, time));
                } else {
                    truth.push((note.index, Status::NotJudged, time));
                }
                continue;
            }
            if inside && self.chance(faults.missed) {
                truth.push((note.index, Status::Missed, time));
                continue;
            }
            let wrong = !note.dead && self.chance(faults.wrong);
            let sounding: Vec<i32> = keys.iter().map(|k| if wrong { k + 1 } else { *k }).collect();
            self.attack(time, if note.dead { &[] } else { &sounding }, 3.0);
            truth.push((note.index, if wrong { Status::WrongPitch } else { Status::Played }, time));
            last = time;
            if inside && self.chance(faults.extra) {
                let later = step * (0.3 + 0.4 * self.rng.random::<f64>());
                self.spare(time + later);
            }
            if inside && self.chance(faults.brushed) {
                let off = (0.02 + 0.02 * self.rng.random::<f64>()).min(0.45 * step);
                let before = self.chance(0.5);
                self.spare(if before { time - off } else { time + off });
            }
        }
        self.passes.push(truth);
        last
    }

    fn spare(&mut self, time: f64) {
        self.attack(time, &[], 1.5);
        self.extra.push(time);
    }

    /// Notes of the drill in any order, unevenly; the time of the last one comes back.
    pub fn noodle(&mut self, drill: &Drill, start: f64, notes: usize, a_second: f64) -> f64 {
        let keys: Vec<i32> = drill.grid().iter().map(|n| i32::from(n.keys[0].0)).collect();
        let mut time = start;
        for _ in 0..notes {
            let key = keys[self.rng.random_range(0..keys.len())];
            self.attack(time, &[key], 2.0);
            time += (0.4 + 1.2 * self.rng.random::<f64>()) / a_second;
        }
        time
    }

    pub fn in_order(&mut self) -> &[Attack] {
        self.attacks.sort_by(|a, b| a.at.partial_cmp(&b.at).unwrap());
        &self.attacks
    }

    pub fn align(&mut self, drill: &Drill) -> Result<Alignment, AlignError> {
        self.align_with(drill, &steady())
    }

    pub fn align_with(&mut self, drill: &Drill, options: &Options) -> Result<Alignment, AlignError> {
        let attacks = self.in_order().to_vec();
        align(&attacks, rate(), &drill.grid(), drill, options)
    }
}

pub fn steady() -> Options {
    Options { tempo: None, tempo_in_name: None, timebase: Timebase::Steady }
}

/// Notes whose status or time differ from the truth, and notes in all.
pub fn disagreements(pass: &Pass, truth: &[Truth]) -> (usize, usize) {
    let wrong = truth.iter().filter(|(index, status, time)| {
        let note = &pass.notes[*index];
        note.status != *status || note.played.is_some_and(|p| (p.0 - time).abs() > 1e-3)
    });
    (wrong.count(), truth.len())
}

/// First and last note reached.
pub fn reached(pass: &Pass) -> (usize, usize) {
    let within: Vec<usize> = pass.notes.iter().filter(|n| n.status != Status::NotReached).map(|n| n.index).collect();
    (within[0], within[within.len() - 1])
}
