//! The table of a track with several tempos: where each step starts, so that one recording can be scored by steps.

use crate::{ClickError, ClickStep};
use std::fmt::Write as _;
use takegauge_drill::Place;
use takegauge_units::{Bpm, Seconds};

const HEADER: &str = "step,tempo_bpm,repeats,click_from_s,notes_from_s,notes_to_s";

/// No take, and so no track, is longer: 12 hours.
const LONGEST_S: f64 = 12.0 * 3600.0;

/// The table as CSV, one row a step; times are counted from the track's first sample.
pub fn ladder_table(steps: &[ClickStep]) -> String {
    let mut t = format!("{HEADER}\n");
    for (i, s) in steps.iter().enumerate() {
        let (a, b, c) = (s.click_from.0, s.notes_from.0, s.notes_to.0);
        let _ = writeln!(t, "{},{},{},{a:.6},{b:.6},{c:.6}", i + 1, s.tempo.0, s.repeats);
    }
    t
}

/// Reads a table that [`ladder_table`] wrote.
///
/// # Errors
/// The first row that is not one of this table's.
pub fn read_ladder_table(text: &str, file_name: &str) -> Result<Vec<ClickStep>, ClickError> {
    let fault = |line: usize, read: &str, allowed: &str| ClickError::Table {
        place: Place { file: file_name.to_owned(), line, column: 1 },
        read: format!("\"{}\"", read.chars().take(60).collect::<String>()),
        allowed: allowed.to_owned(),
    };
    let mut rows = text.lines().enumerate();
    match rows.next() {
        Some((_, header)) if header.trim_start_matches('\u{feff}').trim() == HEADER => {}
        other => return Err(fault(1, other.map_or("", |o| o.1), &format!("the header {HEADER}"))),
    }
    let mut steps: Vec<ClickStep> = Vec::new();
    for (i, row) in rows.filter(|(_, r)| !r.trim().is_empty()).take(1000) {
        let step = read_row(row).filter(|s| steps.last().is_none_or(|b| b.notes_to <= s.notes_from));
        steps.push(step.ok_or_else(|| fault(i + 1, row, "a step, tempo, repeats and three times, in order of time"))?);
    }
    Ok(steps)
}

fn read_row(row: &str) -> Option<ClickStep> {
    let cells: Vec<&str> = row.split(',').map(str::trim).collect();
    let [_, tempo, repeats, click, from, to] = cells.as_slice() else { return None };
    let number = |cell: &str| cell.parse::<f64>().ok().filter(|x| (0.0..=LONGEST_S).contains(x));
    let step = ClickStep {
        tempo: Bpm(number(tempo).filter(|t| (20.0..=400.0).contains(t))?),
        repeats: repeats.parse().ok().filter(|r| (1..=1000).contains(r))?,
        click_from: Seconds(number(click)?),
        notes_from: Seconds(number(from)?),
        notes_to: Seconds(number(to)?),
    };
    (step.click_from <= step.notes_from && step.notes_from < step.notes_to).then_some(step)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tables_read_back() {
        let step = |tempo, at| ClickStep {
            tempo: Bpm(tempo),
            repeats: 3,
            click_from: Seconds(at),
            notes_from: Seconds(at + 2.0),
            notes_to: Seconds(at + 4.5),
        };
        let steps = [step(90.0, 0.0), step(97.5, 6.25)];
        assert_eq!(read_ladder_table(&ladder_table(&steps), "t").unwrap(), steps);
        // 1e300 made a panic of it, 1e9 an abort, 1e7 took 330 MB.
        for far in ["1e300", "1e9", "1e7", "43201"] {
            assert!(read_ladder_table(&format!("{HEADER}\n1,90,3,0,2,{far}\n"), "t").is_err(), "{far}");
        }
        assert!(read_ladder_table("", "t").is_err());
        assert!(read_ladder_table("step\n", "t").is_err());
        let e = read_ladder_table(&format!("{HEADER}\n1,90,3,0,2,inf\n"), "t.csv").unwrap_err();
        assert!(e.to_string().starts_with("t.csv, line 2"), "{e}");
    }
}
