//! Which of the drills that are offered a take is of.

use crate::hear::Heard;
use std::path::Path;
use takegauge_align::{Options, Timebase, evidence, resemblance};
use takegauge_drill::{Drill, GridNote};
use takegauge_units::Bpm;

/// Drills that are held against the whole take; the others sound too unlike it.
const LOOKED_AT: usize = 6;
/// Natural-log units by which the likeliest drill must explain the take better than the next: what one note in fifty
/// of a short take says.
const CLEAR: f64 = 12.0;

/// What a take is of.
#[derive(Debug, Clone, PartialEq)]
pub enum Told {
    /// One drill explains it far better than all others that sound different.
    Clear {
        /// Its place among those offered.
        drill: usize,
        /// The next likeliest, where another explains the take at all.
        next: Option<usize>,
        /// Those that sound the same: the same notes at the same steps, with other strokes or on other strings.
        alike: Vec<usize>,
    },
    /// Several explain it about as well; the likeliest first.
    Open(Vec<usize>),
    /// None explains it.
    None,
}

/// Tells which drill a take is of. `tempo` is what was asked for, if anything was.
///
/// The same take and drills give the same answer; of drills that are alike the first stands for all.
pub fn which(heard: &Heard, take: &Path, drills: &[Drill], tempo: Option<Bpm>) -> Told {
    let grids: Vec<Vec<GridNote>> = drills.iter().map(Drill::grid).collect();
    let mut order: Vec<(f64, usize)> =
        (0..drills.len()).filter_map(|i| resemblance(&heard.attacks, &grids[i], &drills[i]).map(|r| (r, i))).collect();
    order.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    // Each sound once: what sounds the same explains the take as well.
    let mut sounds: Vec<usize> = Vec::new();
    let mut like: Vec<Vec<usize>> = Vec::new();
    for (_, i) in order {
        match sounds.iter().position(|s| sounds_alike((&drills[*s], &grids[*s]), (&drills[i], &grids[i]))) {
            Some(k) => like[k].push(i),
            None if sounds.len() < LOOKED_AT => {
                sounds.push(i);
                like.push(Vec::new());
            }
            None => {}
        }
    }
    let in_name = crate::tempo::tempo_in_name(take);
    let options = Options { tempo, tempo_in_name: in_name, timebase: Timebase::Steady };
    let mut told: Vec<(f64, usize)> = (0..sounds.len())
        .filter_map(|k| {
            let i = sounds[k];
            evidence(&heard.attacks, heard.rate, &grids[i], &drills[i], &options).map(|e| (e, k))
        })
        .filter(|t| t.0 > CLEAR)
        .collect();
    told.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let Some(best) = told.first() else { return Told::None };
    match told.get(1) {
        Some(next) if best.0 - next.0 < CLEAR => {
            Told::Open(told.iter().filter(|t| best.0 - t.0 < CLEAR).map(|t| sounds[t.1]).collect())
        }
        next => {
            let mut all: Vec<usize> = std::iter::once(sounds[best.1]).chain(like[best.1].iter().copied()).collect();
            all.sort_unstable();
            let drill = all.remove(0);
            all.retain(|i| !same_line(&drills[*i], &drills[drill]));
            Told::Clear { drill, next: next.map(|n| sounds[n.1]), alike: all }
        }
    }
}

/// Whether two drills differ in name, tempo and repeats at most: then they are one to whoever asks.
fn same_line(a: &Drill, b: &Drill) -> bool {
    a.line == b.line && a.tuning == b.tuning && a.picking == b.picking && a.first_stroke == b.first_stroke
}

/// Whether two drills ask for the same sound at the same steps, round and round: then no recording tells them apart but
/// by tempo, which a player chooses, and repeats, which a player stops at.
fn sounds_alike(a: (&Drill, &[GridNote]), b: (&Drill, &[GridNote])) -> bool {
    round(a) == round(b)
}

/// In 1/5040 of a beat, which every division of one up to ten is a whole number of.
const TICKS: f64 = 5040.0;

/// The shortest stretch that a line goes round in, and its notes: when, which keys, picked or not, dead or not.
type Round = (i64, Vec<(i64, Vec<u8>, bool, bool)>);

/// A line written out twice goes round in half of it.
fn round((drill, grid): (&Drill, &[GridNote])) -> Round {
    let ticks = |beats: f64| (beats * TICKS).round() as i64;
    let beat = drill.tempo.beat().0;
    let notes: Vec<_> = grid
        .iter()
        .take_while(|n| n.repeat == 0)
        .map(|n| (ticks(n.expected.0 / beat), n.keys.iter().map(|k| k.0).collect::<Vec<u8>>(), n.picked(), n.dead))
        .collect();
    let whole = ticks(drill.line.len() as f64 / f64::from(drill.steps_per_beat.max(1)));
    let n = notes.len();
    let again = |k: usize| {
        let later = whole * k as i64 / n as i64;
        notes.iter().zip(&notes[k..]).all(|(a, b)| (a.0 + later, &a.1, a.2, a.3) == (b.0, &b.1, b.2, b.3))
    };
    match (1..n).find(|k| n.is_multiple_of(*k) && again(*k)) {
        Some(k) => (whole * k as i64 / n as i64, notes[..k].to_vec()),
        None => (whole, notes),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drill(line: &str, steps: u8, more: &str) -> Drill {
        let head = format!("name = \"t\"\ntempo_bpm = 120\nsteps_per_beat = {steps}\nbeats_per_bar = 4\nrepeats = 4\n");
        let tail = "tuning = \"E2 A2 D3 G3 B3 E4\"\npicking = \"alternate\"\nfirst_stroke = \"down\"\n";
        Drill::parse(&format!("{head}{tail}{more}line = \"{line}\"\n"), "t").unwrap()
    }

    #[test]
    fn the_same_sound_written_otherwise_is_the_same() {
        let alike = |a: &Drill, b: &Drill| sounds_alike((a, &a.grid()), (b, &b.grid()));
        let once = drill("6:5 6:7 5:5", 4, "");
        assert!(alike(&once, &drill("6:5 6:7 5:5 6:5 6:7 5:5", 4, "")), "written out twice");
        assert!(alike(&once, &drill("6:5 6:7 6:10", 4, "")), "on other strings");
        assert!(alike(&once, &drill("6:5 - 6:7 - 5:5 -", 8, "")), "in finer steps");
        assert!(!alike(&once, &drill("6:5 6:7 5:5 -", 4, "")), "with a rest at the end");
        assert!(!alike(&once, &drill("6:5 6:7 5:5", 3, "")), "as triplets");
        assert!(!alike(&once, &drill("6:5 6:7 5:7", 4, "")), "another note");
        assert!(alike(&drill("6:5 6:5", 4, ""), &drill("6:5", 4, "")));
    }
}
