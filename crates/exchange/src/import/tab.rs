//! Tablature as plain text: four to nine rows, frets under each other, spacing as rhythm.
//!
//! Text that [`crate::export`] wrote says its columns a step and reads back whole; in other text the smallest
//! distance between notes is taken as a step, or every note as one (`even`).

use super::imported::{Imported, MAX_IMPORTED, Options, checked, lose, tidy_name};
use super::strokes;
use super::tab_columns::{Item, scan};
use super::tab_rows::{Text, find};
use takegauge_drill::KEYS;
use takegauge_drill::{Drill, DrillError, NAMED_TUNINGS, Step, Tuning};
use takegauge_units::Bpm;

pub(super) fn read(text: &str, file: &str, options: &Options) -> Result<Imported, DrillError> {
    let text = find(text, file)?;
    let mut losses: Vec<String> = text.signs.map(str::to_owned).into_iter().collect();
    let columns = text.head.iter().find(|h| h.0 == "columns_per_step").and_then(|h| h.1.parse::<usize>().ok());
    let columns = columns.filter(|c| (1..=16).contains(c) && options.even.is_none());
    let mut items = Vec::new();
    let mut width = 0;
    for system in &text.systems {
        width += scan(system, columns.is_some(), width, file, &mut items, &mut losses)?;
        if items.len() > MAX_IMPORTED * 2 {
            return Err(DrillError::TooManyNotes { file: file.to_owned(), notes: items.len(), limit: MAX_IMPORTED });
        }
    }
    let mut drill = base(&text, columns.is_some(), file, options, &mut losses)?;
    match columns {
        Some(columns) => place(&items, width, columns, 0, &mut drill),
        None => spaced(&items, width, options, &mut drill, &mut losses),
    }
    cut(&mut drill, options);
    let known = text.head.iter().any(|h| h.0 == "picking");
    strokes::settle(&mut drill, known, &mut losses);
    Ok(Imported { drill: checked(drill, file)?, losses })
}

/// The drill without its line: from the text's head where there is one.
fn base(text: &Text, own: bool, file: &str, options: &Options, losses: &mut Vec<String>) -> Result<Drill, DrillError> {
    if own {
        let known = text.head.iter().filter(|(key, _)| KEYS.contains(&key.as_str()) && key != "line");
        let head: String = known.map(|(key, value)| format!("{key} = {value}\n")).collect();
        let picking = head.contains("picking = \"written\"");
        // Strokes come with the rows; a line of one note stands in for them.
        let pickup: String =
            head.lines().filter(|l| !l.starts_with("pickup_steps")).map(|l| format!("{l}\n")).collect();
        let stand_in = if picking { "1:0d" } else { "1:0" };
        let mut drill = Drill::parse(&format!("{pickup}line = \"{stand_in}\"\n"), file)?;
        let steps = head.lines().find_map(|l| l.strip_prefix("pickup_steps = ")).and_then(|v| v.trim().parse().ok());
        drill.pickup_steps = steps.unwrap_or(0);
        drill.line.clear();
        return Ok(drill);
    }
    let tempo = options.tempo.unwrap_or_else(|| {
        lose(losses, "No tempo is written: 120 is taken for granted.");
        Bpm(120.0)
    });
    let tuning = tuning(text, options, losses);
    Ok(Drill::plain(tidy_name("", file), tempo, tuning))
}

fn tuning(text: &Text, options: &Options, losses: &mut Vec<String>) -> Tuning {
    let labels = text.systems.first().map_or(&[][..], |s| &s.labels);
    let low_first: Vec<&str> = labels.iter().rev().map(|l| l.rsplit('=').next().unwrap_or("")).collect();
    if let Ok(tuning) = Tuning::parse(&low_first.join(" "))
        && usize::from(tuning.strings()) == labels.len()
    {
        return tuning;
    }
    if let Some(tuning) = options.tuning.clone().filter(|t| usize::from(t.strings()) == labels.len()) {
        return tuning;
    }
    let letters = |t: &Tuning| -> Vec<String> {
        t.open.iter().map(|k| k.name().trim_end_matches(|c: char| c.is_ascii_digit()).to_lowercase()).collect()
    };
    let wanted: Vec<String> = low_first.iter().map(|l| l.to_lowercase()).collect();
    let fits = |t: &Tuning| usize::from(t.strings()) == labels.len();
    let all: Vec<Tuning> = NAMED_TUNINGS.iter().filter_map(|t| Tuning::parse(t.1).ok()).filter(fits).collect();
    let named = all.iter().find(|t| letters(t) == wanted).or(all.first()).cloned().unwrap_or_else(|| Tuning {
        // Nine strings have no name of their own: another fourth below eight.
        open: std::iter::once(takegauge_units::MidiKey(25))
            .chain(
                NAMED_TUNINGS
                    .iter()
                    .filter(|t| t.0 == "8 strings")
                    .filter_map(|t| Tuning::parse(t.1).ok())
                    .flat_map(|t| t.open),
            )
            .collect(),
    });
    lose(losses, format!("The tuning {} is taken for granted.", named.echo()));
    named
}

/// Puts items on steps of so many columns, the first step at column `from`.
fn place(items: &[(usize, Item)], width: usize, columns: usize, from: usize, drill: &mut Drill) {
    let steps = (width.saturating_sub(from)).div_ceil(columns).max(1);
    drill.line = vec![Step::Silent; steps];
    for (column, item) in items {
        let at = column.saturating_sub(from) / columns;
        match item {
            Item::Note(note) => {
                if let Some(step) = drill.line.get_mut(at) {
                    *step = Step::Note(note.clone());
                }
            }
            Item::Held if at > 0 && !matches!(drill.line.get(at - 1), Some(Step::Silent)) => {
                if let Some(step) = drill.line.get_mut(at) {
                    *step = Step::Held;
                }
            }
            Item::Held => {}
            Item::Bar => drill.bars.push(at),
            Item::Division(n) => {
                drill.divisions.retain(|d| d.0 != at);
                drill.divisions.push((at, *n));
            }
        }
    }
    drill.bars.retain(|b| *b > 0);
    drill.bars.dedup();
}

/// Steps from the spacing: the smallest distance between notes is one step, longer ones are held.
fn spaced(items: &[(usize, Item)], width: usize, options: &Options, drill: &mut Drill, losses: &mut Vec<String>) {
    let onsets: Vec<usize> = items.iter().filter(|i| matches!(i.1, Item::Note(_))).map(|i| i.0).collect();
    let unit = onsets.windows(2).map(|w| w[1] - w[0]).filter(|d| *d > 0).min().unwrap_or(1);
    let mut uneven = 0;
    let mut seen: Option<usize> = None;
    for (column, item) in items {
        match item {
            Item::Note(note) => {
                if let Some(before) = seen {
                    let distance = column - before;
                    let steps = ((distance + unit / 2) / unit).max(1);
                    uneven += usize::from(!distance.is_multiple_of(unit));
                    let held = if options.even.is_some() { 0 } else { steps - 1 };
                    drill.line.extend(std::iter::repeat_n(Step::Held, held.min(64)));
                }
                seen = Some(*column);
                drill.line.push(Step::Note(note.clone()));
            }
            Item::Bar if seen.is_some() => {
                let held = seen.map_or(0, |s| ((column - s + unit / 2) / unit).saturating_sub(1));
                drill.bars.push(drill.line.len() + if options.even.is_some() { 0 } else { held });
            }
            _ => {}
        }
    }
    let last = seen.map_or(0, |s| ((width.saturating_sub(s) + unit / 2) / unit).saturating_sub(1));
    if options.even.is_none() {
        drill.line.extend(std::iter::repeat_n(Step::Held, last.min(64)));
    }
    drill.bars.retain(|b| *b < drill.line.len());
    drill.bars.dedup();
    let bar = drill.bars.first().copied().unwrap_or(0);
    let regular = bar > 0 && drill.bars.iter().enumerate().all(|(i, b)| *b == bar * (i + 1));
    drill.steps_per_beat = match (options.even, bar) {
        (Some(n), _) => n,
        (None, 4 | 8 | 12 | 16 | 20 | 24) if regular => (bar / 4) as u8,
        _ => 4,
    };
    if options.even.is_none() {
        if drill.line.contains(&Step::Held) {
            lose(losses, "Text does not tell rests from held notes: gaps are read as held notes.");
        }
        if uneven > 0 {
            lose(losses, format!("The spacing is uneven before {uneven} notes: they were moved to the nearest step."));
        }
        lose(
            losses,
            format!("Spacing has no note values: a step is taken as one of {} to a beat.", drill.steps_per_beat),
        );
    }
}

/// Keeps the bars asked for.
fn cut(drill: &mut Drill, options: &Options) {
    let Some((first, last)) = options.bars else { return };
    let start = |bar: usize| if bar <= 1 { Some(0) } else { drill.bars.get(bar - 2).copied() };
    let from = start(first).unwrap_or(drill.line.len());
    let to = start(last.saturating_add(1)).unwrap_or(drill.line.len());
    let within = |p: usize| p > from && p < to;
    drill.line = drill.line.get(from..to).unwrap_or(&[]).to_vec();
    drill.bars = drill.bars.iter().copied().filter(|b| within(*b)).map(|b| b - from).collect();
    let in_force = drill.divisions.iter().rev().find(|d| d.0 <= from).map(|d| (0, d.1));
    let later = drill.divisions.iter().filter(|d| within(d.0)).map(|d| (d.0 - from, d.1));
    drill.divisions = in_force.into_iter().chain(later).collect();
    drill.pickup_steps = 0;
    if drill.line.first() == Some(&Step::Held) {
        let held = drill.line.iter().take_while(|s| **s == Step::Held).count();
        drill.line[..held].fill(Step::Silent);
    }
}
