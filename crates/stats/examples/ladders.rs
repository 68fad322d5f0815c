//! What a ladder shows in simulation: how often a kind of change that comes apart is named, how well its tempo is told,
//! and how often one is named that does not.
//!
//!     cargo run --release -p takegauge-stats --example ladders > reports/ladder.md
//!
//! Attack times of a three-notes-a-string line of 34 notes, up and back, four times a take. Seeded: the same figures on
//! every run. A number after `--` sets how many ladders a case is simulated with, for a quick look; a second one the seed.

use takegauge_stats::Seeded;
use takegauge_stats::ladder::{ComesApart, LadderNote, LadderSearch, Settings, come_apart};

/// The strings of the line, note by note.
const STRINGS: [u8; 34] =
    [6, 6, 6, 5, 5, 5, 4, 4, 4, 3, 3, 3, 2, 2, 2, 1, 1, 1, 1, 1, 2, 2, 2, 3, 3, 3, 4, 4, 4, 5, 5, 5, 6, 6];
const REPEATS: usize = 4;
const SD: f64 = 4.0;
/// Takes of a usual ladder, and of a long one.
const FIVE: [f64; 5] = [120.0, 140.0, 160.0, 180.0, 200.0];
const TEN: [f64; 10] = [90.0, 120.0, 140.0, 160.0, 170.0, 180.0, 190.0, 200.0, 220.0, 240.0];
/// As the review seeks.
const ALPHA: f64 = 0.02;
const DRAWS: usize = 149;
/// The seeds of the report; what was chosen was chosen on others.
const REPORTED: u64 = 20_000;

/// The kinds of every note of the line, by name.
struct Line {
    names: Vec<String>,
    kinds: Vec<u128>,
}

impl Line {
    fn new() -> Self {
        let mut line = Self { names: Vec::new(), kinds: vec![0; STRINGS.len()] };
        for at in 0..STRINGS.len() {
            let (from, to) = (STRINGS[(at + STRINGS.len() - 1) % STRINGS.len()], STRINGS[at]);
            if from == to {
                continue;
            }
            // Down first, alternating: the note before an odd one was a downstroke.
            let (down, toward) = (at % 2 == 1, to < from);
            let kind = if down == toward { "outside" } else { "inside" };
            let leaves = if down { "leaves on down" } else { "leaves on up" };
            let direction = if toward { "toward 1" } else { "away from 1" };
            for name in ["change", kind, leaves, direction, &format!("{from}>{to}")] {
                let k = line.names.iter().position(|n| n == name).unwrap_or_else(|| {
                    line.names.push(name.to_owned());
                    line.names.len() - 1
                });
                line.kinds[at] |= 1 << k;
            }
        }
        line
    }

    fn is(&self, at: usize, name: &str) -> bool {
        self.names.iter().position(|n| n == name).is_some_and(|k| self.kinds[at] & (1 << k) != 0)
    }
}

/// What a ladder is made with.
#[derive(Clone, Copy)]
struct Case<'a> {
    tempos: &'a [f64],
    /// Lateness, ms, and scatter, ms, of inside changes at a tempo.
    inside: fn(f64) -> (f64, f64),
    /// SD by which the mean of inside and of outside changes differs from take to take, ms.
    take_sd: f64,
    /// The same of every pair of strings by itself.
    pair_sd: f64,
}

fn play(line: &Line, case: Case, rng: &mut Seeded) -> Vec<LadderNote> {
    let mut notes = Vec::new();
    for (take, tempo) in case.tempos.iter().enumerate() {
        let (late, sd) = (case.inside)(*tempo);
        let own = [case.take_sd * rng.normal(), case.take_sd * rng.normal()];
        let pairs: Vec<f64> = line.names.iter().map(|_| case.pair_sd * rng.normal()).collect();
        let from = notes.len();
        for _ in 0..REPEATS {
            for (place, kinds) in line.kinds.iter().enumerate() {
                let inside = line.is(place, "inside");
                let (mean, sd) = if inside { (late + own[0], sd) } else { (0.0, SD) };
                let outside = if line.is(place, "outside") { own[1] } else { 0.0 };
                let of_pair: f64 = (0..pairs.len())
                    .filter(|k| line.names[*k].contains('>') && kinds & (1 << k) != 0)
                    .map(|k| pairs[k])
                    .sum();
                let value = mean + outside + of_pair + sd * rng.normal();
                notes.push(LadderNote { take, place, value, kinds: *kinds, reference: *kinds == 0 });
            }
        }
        // A take's own line goes through its notes.
        let played = &mut notes[from..];
        let mean = played.iter().map(|n| n.value).sum::<f64>() / played.len() as f64;
        played.iter_mut().for_each(|n| n.value -= mean);
    }
    notes
}

#[derive(Default)]
struct Told {
    inside: usize,
    outside: usize,
    other: usize,
    any: usize,
    covered: usize,
    squares: f64,
    error: f64,
    could: f64,
}

fn simulate(line: &Line, case: Case, hinge: f64, ladders: usize, seed: u64) -> Told {
    let one = |k: usize| -> LadderSearch {
        let mut rng = Seeded::stream(seed, k as u64);
        let notes = play(line, case, &mut rng);
        let settings = Settings { alpha: ALPHA, draws: DRAWS, seed: k as u64, least_shift: 3.0, least_ratio: 1.5 };
        come_apart(case.tempos, &notes, line.names.len(), settings).expect("a whole ladder")
    };
    // Every ladder has random numbers of its own, so the figures do not depend on how many are played at once.
    let at_once = std::thread::available_parallelism().map_or(1, usize::from);
    let searches: Vec<LadderSearch> = std::thread::scope(|scope| {
        let worker = |w: usize| {
            let one = &one;
            scope.spawn(move || (w..ladders).step_by(at_once).map(|k| (k, one(k))).collect::<Vec<_>>())
        };
        let workers: Vec<_> = (0..at_once).map(worker).collect();
        let mut all: Vec<(usize, LadderSearch)> =
            workers.into_iter().flat_map(|w| w.join().unwrap_or_default()).collect();
        all.sort_by_key(|s| s.0);
        all.into_iter().map(|s| s.1).collect()
    });
    let mut told = Told::default();
    for search in searches {
        let name = |f: &ComesApart| line.names[f.kind].as_str();
        let inside = search.found.iter().find(|f| name(f) == "inside");
        told.any += usize::from(!search.found.is_empty());
        told.inside += usize::from(inside.is_some());
        told.outside += usize::from(search.found.iter().any(|f| name(f) == "outside"));
        told.other += usize::from(search.found.iter().any(|f| !["inside", "outside"].contains(&name(f))));
        let kind = line.names.iter().position(|n| n == "inside").unwrap_or(0);
        told.could += search.kinds[kind].could_show_shift.unwrap_or(0.0) / ladders as f64;
        if let Some(f) = inside {
            told.covered += usize::from(f.tempo.interval.holds(hinge));
            told.squares += (f.tempo.value - hinge).powi(2);
            told.error += f.tempo.value - hinge;
        }
    }
    told
}

fn percent(n: usize, of: usize) -> String {
    format!("{:.1} %", 100.0 * n as f64 / of.max(1) as f64)
}

fn level(_: f64) -> (f64, f64) {
    (0.0, SD)
}

/// As the takes of the bench: later by 0.12 ms and a further scatter of 0.16 ms for every bpm above 170.
fn bench(tempo: f64) -> (f64, f64) {
    let over = (tempo - 170.0).max(0.0);
    (0.12 * over, SD + 0.16 * over)
}

fn main() {
    let mut arguments = std::env::args().skip(1);
    let ladders = arguments.next().and_then(|a| a.parse().ok()).unwrap_or(1000);
    let seed = arguments.next().and_then(|a| a.parse().ok()).unwrap_or(REPORTED);
    let line = Line::new();
    println!(
        "# What a ladder shows, in simulation\n\n\
         Made by `cargo run --release -p takegauge-stats --example ladders`; seeded, so the same on every run \
         (what was chosen was chosen on other seeds). {ladders} \
         ladders a case, fewer where no bar hangs on it, each of takes of a line of 34 notes played four times; attack times are drawn directly, with a \
         scatter of {SD:.0} ms (SD). Five tempos are 120 to 200 bpm, ten 90 to 240. A kind is named at a chance of \
         {:.0} % over all kinds; {DRAWS} simulated ladders behind each p-value (the program takes 999).\n\n\
         Wanted: 10 ms and twice the scatter named in 95 %, 6 ms in 80 %, the bench kind in 98 % with intervals that hold the \
         tempo in 92 to 98 % and an RMS error of at most 8 bpm; outside named beside inside, or any kind where nothing comes \
         apart with a take-to-take SD of 1 ms, in at most 5 %.\n",
        100.0 * ALPHA
    );
    let none = Case { tempos: &FIVE, inside: level, take_sd: 0.0, pair_sd: 0.0 };
    named(&line, none, ladders, seed);
    alarms(&line, none, ladders, seed);
}

fn named(line: &Line, none: Case, ladders: usize, seed: u64) {
    println!("## Inside changes that come apart\n");
    println!(
        "| tempos | planted | take-to-take SD, ms | ladders | inside named | outside named beside it | another kind named | 95 % \
         interval holds the tempo | RMS error of the tempo, bpm | mean error, bpm |"
    );
    println!("|---|---|---|---|---|---|---|---|---|---|");
    let both: fn(f64) -> (f64, f64) = |t| if t > 165.0 { (10.0, 2.0 * SD) } else { (0.0, SD) };
    let late: fn(f64) -> (f64, f64) = |t| if t > 165.0 { (6.0, SD) } else { (0.0, SD) };
    let long = Case { tempos: &TEN, ..none };
    let sharp: fn(f64) -> (f64, f64) = |t| (0.25 * (t - 150.0).max(0.0), SD);
    let wide: fn(f64) -> (f64, f64) = |t| (0.0, SD + 0.25 * (t - 150.0).max(0.0));
    let added: fn(f64) -> (f64, f64) = |t| (0.12 * (t - 170.0).max(0.0), SD.hypot(0.16 * (t - 170.0).max(0.0)));
    let rows: [(&str, f64, usize, Case); 8] = [
        ("10 ms late, twice the scatter, above the third", 170.0, 1, Case { inside: both, ..none }),
        ("6 ms late above the third", 170.0, 1, Case { inside: late, ..none }),
        ("6 ms late above the third", 170.0, 4, Case { inside: late, take_sd: 1.0, ..none }),
        ("as the bench, from 170 bpm on", 170.0, 1, Case { inside: bench, ..long }),
        ("as the bench, from 170 bpm on", 170.0, 4, Case { inside: bench, take_sd: 0.5, ..long }),
        ("the same, its scatter as an added error (variances add)", 170.0, 4, Case { inside: added, ..long }),
        ("from 150 bpm on 0.25 ms later a bpm", 150.0, 4, Case { inside: sharp, ..long }),
        ("from 150 bpm on 0.25 ms more scatter a bpm", 150.0, 4, Case { inside: wide, ..long }),
    ];
    for (k, (what, hinge, fewer, case)) in rows.into_iter().enumerate() {
        let ladders = ladders / fewer;
        let t = simulate(line, case, hinge, ladders, seed + k as u64);
        let n = t.inside.max(1) as f64;
        println!(
            "| {} | {what} | {:.1} | {ladders} | {} | {} | {} | {} | {:.1} | {:+.1} |",
            case.tempos.len(),
            case.take_sd,
            percent(t.inside, ladders),
            percent(t.outside, ladders),
            percent(t.other, ladders),
            percent(t.covered, t.inside),
            (t.squares / n).sqrt(),
            t.error / n
        );
    }
}

fn alarms(line: &Line, none: Case, ladders: usize, seed: u64) {
    println!("\n## Nothing comes apart\n");
    println!(
        "| tempos | take-to-take SD of inside and of outside changes, ms | of every pair, ms | ladders | any kind named | inside changes \
         late by so much at the top would be shown (80 %), ms |"
    );
    println!("|---|---|---|---|---|---|");
    let long = Case { tempos: &TEN, ..none };
    let sds = [
        (none, 0.0, 0.0, 2),
        (none, 1.0, 0.0, 1),
        (none, 0.0, 1.0, 4),
        (none, 2.0, 0.0, 4),
        (long, 0.0, 0.0, 4),
        (long, 1.0, 0.0, 4),
    ];
    for (k, (case, take_sd, pair_sd, fewer)) in sds.into_iter().enumerate() {
        let ladders = ladders / fewer;
        let t = simulate(line, Case { take_sd, pair_sd, ..case }, 0.0, ladders, seed + 50 + k as u64);
        let any = percent(t.any, ladders);
        println!("| {} | {take_sd:.1} | {pair_sd:.1} | {ladders} | {any} | {:.1} |", case.tempos.len(), t.could);
    }
}
