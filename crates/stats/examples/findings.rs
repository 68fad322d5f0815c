//! Simulates takes and writes how often the search for groups gives a false alarm and how often it finds a fault, as a
//! Markdown table. `cargo run --release -p takegauge-stats --example findings [TAKES [REPEATS]]`, 400 takes a row
//! of 6 repeats by default.

use std::time::Instant;
use takegauge_stats::search::{Candidates, Search, Settings, search_groups};
use takegauge_stats::{Sample, Seeded};

/// Strings of a line of 24 places: runs of three, four, two and one.
const STRINGS: [usize; 24] = [6, 6, 6, 5, 5, 5, 5, 4, 4, 4, 3, 2, 3, 3, 3, 4, 4, 4, 4, 5, 5, 5, 6, 5];

fn groups(repeats: usize) -> Vec<Vec<usize>> {
    let notes = 24 * repeats;
    let string = |k: usize| STRINGS[k % 24];
    let change = |k: usize| k > 0 && string(k) != string(k - 1);
    let toward_1 = |k: usize| change(k) && string(k) < string(k - 1);
    let inside = |k: usize| change(k) && (k % 2 == 1) != toward_1(k);
    let pick = |wanted: &dyn Fn(usize) -> bool| (0..notes).filter(|&k| wanted(k)).collect::<Vec<usize>>();
    let mut groups = vec![
        pick(&inside),
        pick(&|k| change(k) && string(k - 1) == 5 && string(k) == 4),
        pick(&|k| change(k) && !inside(k)),
        pick(&change),
        pick(&toward_1),
        pick(&|k| change(k) && !toward_1(k)),
        pick(&|k| k % 2 == 0),
        pick(&|k| change(k) && k % 2 == 0),
        pick(&|k| change(k) && k % 2 == 1),
    ];
    groups.extend((2..=6).map(|s| pick(&|k| string(k) == s)));
    groups.extend((0..4).map(|b| pick(&|k| k % 4 == b)));
    groups.extend((0..repeats).map(|r| pick(&|k| k / 24 == r)));
    for from in 2..=6 {
        for to in 2..=6 {
            groups.push(pick(&|k| change(k) && string(k - 1) == from && string(k) == to));
        }
    }
    groups.extend((0..24).map(|p| pick(&|k| k % 24 == p)));
    groups
}

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let takes: u64 = std::env::args().nth(1).map_or(Ok(400), |a| a.parse())?;
    let repeats: usize = std::env::args().nth(2).map_or(Ok(6), |a| a.parse())?;
    let count = 24 * repeats;
    let groups = groups(repeats);
    let candidates = Candidates::new(count, &groups)?;
    let blocks: Vec<usize> = (0..count).map(|k| k / 24).collect();
    let places: Vec<usize> = (0..count).map(|k| k % 24).collect();
    let set_of = |group: usize| candidates.sets().iter().position(|s| s.same.contains(&group));
    let search = |values: &[f64], seed: u64| -> Result<Search, Box<dyn std::error::Error>> {
        Ok(search_groups(Sample::new(values)?, &blocks, &places, &candidates, Settings::new(seed))?)
    };
    let started = Instant::now();
    println!(
        "{takes} takes a row, {count} notes, {} candidate sets, SD 4 ms, 1,999 permutations.\n",
        candidates.sets().len()
    );
    println!("| nothing differs | a finding | a kind of note named |\n|---|---|---|");
    for (name, slips, offset) in [("normal scatter", 0.0, 0.0), ("5 % slips", 0.05, 0.0), ("1.5 ms by place", 0.0, 1.5)]
    {
        let (mut any, mut kind) = (0u64, 0u64);
        for seed in 0..takes {
            let mut rng = Seeded::stream(seed, 1);
            let offsets: Vec<f64> = (0..24).map(|_| offset * rng.normal()).collect();
            let values: Vec<f64> = (0..count)
                .map(|k| {
                    let slip = if rng.unit() < slips { 40.0 * (rng.unit() - 0.5) } else { 0.0 };
                    offsets[k % 24] + 4.0 * rng.normal() + slip
                })
                .collect();
            let found = search(&values, seed)?.found;
            any += u64::from(!found.is_empty());
            kind += u64::from(found.iter().any(|f| f.places.holds && f.places.inside > 1));
        }
        println!("| {name} | {:.1} % | {:.1} % |", percent(any, takes), percent(kind, takes));
    }
    println!("\n| fault | n | named among the findings | named first | named alone |\n|---|---|---|---|---|");
    for (name, group, shift, scale) in [
        ("inside +3 ms", 0, 3.0, 1.0),
        ("inside +5 ms", 0, 5.0, 1.0),
        ("inside +8 ms", 0, 8.0, 1.0),
        ("5>4 +8 ms", 1, 8.0, 1.0),
        ("5>4 +14 ms", 1, 14.0, 1.0),
        ("inside spread x 1.5", 0, 0.0, 1.5),
        ("inside spread x 2.3", 0, 0.0, 2.3),
    ] {
        let Some(set) = set_of(group) else { continue };
        let notes = &candidates.sets()[set].notes;
        let (mut among, mut first, mut alone) = (0u64, 0u64, 0u64);
        for seed in 0..takes {
            let mut rng = Seeded::stream(seed, 2);
            let mut values: Vec<f64> = (0..count).map(|_| 4.0 * rng.normal()).collect();
            for &k in notes {
                values[k] = scale * values[k] + shift;
            }
            let found = search(&values, seed)?.found;
            among += u64::from(found.iter().any(|f| f.set == set));
            first += u64::from(found.first().is_some_and(|f| f.set == set));
            alone += u64::from(found.len() == 1 && found[0].set == set);
        }
        let share = |k| percent(k, takes);
        println!(
            "| {name} | {} | {:.1} % | {:.1} % | {:.1} % |",
            notes.len(),
            share(among),
            share(first),
            share(alone)
        );
    }
    eprintln!("{:.1} ms a take", started.elapsed().as_secs_f64() * 1e3 / (10 * takes) as f64);
    Ok(())
}

fn percent(k: u64, n: u64) -> f64 {
    100.0 * k as f64 / n.max(1) as f64
}
