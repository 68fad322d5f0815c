//! The columns of a system of tablature, read one after another: notes, holds, bar lines, subdivisions.

use super::imported::lose;
use super::tab_rows::System;
use takegauge_drill::{DrillError, Fingered, LineNote, MAX_FRET, Place, Sounding, Stroke};

/// What stands in one column: a note, a hold, a bar, a subdivision.
#[derive(Debug)]
pub(super) enum Item {
    Note(LineNote),
    Held,
    Bar,
    Division(u8),
}

/// Reads a system's columns; gives how many content columns it has.
pub(super) fn scan(
    system: &System,
    own: bool,
    before: usize,
    file: &str,
    items: &mut Vec<(usize, Item)>,
    losses: &mut Vec<String>,
) -> Result<usize, DrillError> {
    let mut column = 0;
    let mut padding = true;
    for at in system.from..system.to {
        if system.is_bar(at) {
            if at + 1 < system.to && at > system.from || !own {
                items.push((before + column, Item::Bar));
            }
            padding = true;
            continue;
        }
        let bare = (0..system.rows.len()).all(|r| matches!(system.at(r, at), '-' | ' '));
        // In text of other makers a dash after each bar line only keeps the fret off the line.
        if !own && std::mem::take(&mut padding) && bare {
            continue;
        }
        if let Some(n) = system.beats.as_ref().and_then(|b| division(b, at)) {
            items.push((before + column, Item::Division(n)));
        }
        let read = Column::read(system, at, own, file, losses)?;
        // Columns that only hold a second digit take no time.
        let takes_time = own || !read.second_digit;
        if let Some(item) = read.item(system, at) {
            items.push((before + column, item));
        }
        column += usize::from(takes_time);
    }
    Ok(column)
}

/// The subdivision whose `/` stands in a column.
fn division(row: &[char], at: usize) -> Option<u8> {
    if row.get(at) != Some(&'/') {
        return None;
    }
    let digits: String = row[at + 1..].iter().take_while(|c| c.is_ascii_digit()).take(2).collect();
    digits.parse().ok().filter(|n| (1..=12).contains(n))
}

/// What the string rows have in one column.
#[derive(Default)]
struct Column {
    fingered: Vec<Fingered>,
    legato: Option<Sounding>,
    dead: bool,
    held: bool,
    second_digit: bool,
}

impl Column {
    fn read(system: &System, at: usize, own: bool, file: &str, losses: &mut Vec<String>) -> Result<Self, DrillError> {
        let mut found = Self::default();
        for (row, (line, _)) in system.rows.iter().enumerate() {
            let c = system.at(row, at);
            let string = (row + 1) as u8;
            let before = at.checked_sub(1).filter(|b| *b >= system.from).map_or('-', |b| system.at(row, b));
            let mut lost = |what: &str| lose(losses, format!("{what} not carried (line {line}, column {}).", at + 1));
            match c {
                '-' | ' ' => {}
                '0'..='9' if before.is_ascii_digit() => found.second_digit = true,
                '0'..='9' => {
                    found.fingered.push(Fingered { string, fret: fret(system, row, at, file)? });
                    found.legato = match before {
                        'h' | 'H' => Some(Sounding::HammerOn),
                        'p' | 'P' => Some(Sounding::PullOff),
                        _ => found.legato,
                    };
                }
                'x' | 'X' => {
                    found.fingered.push(Fingered { string, fret: 0 });
                    found.dead = true;
                }
                'h' | 'H' | 'p' | 'P' => {}
                '~' if own => found.held = true,
                '/' | '\\' | 's' | 'S' => lost("Slides are"),
                'b' | 'r' | '^' => lost("Bends are"),
                '~' | 'v' => lost("Vibrato is"),
                '(' | ')' | '<' | '>' | '[' | ']' | 't' | 'T' | '*' | '.' | '=' | ':' => {
                    lost(&format!("The sign '{c}' is"));
                }
                _ => {
                    return Err(DrillError::NotAllowed {
                        place: Place { file: file.to_owned(), line: *line, column: at + 1 },
                        read: format!("'{c}'"),
                        allowed: "frets, - | x h p, and signs that are named as not carried: / \\ b r ~ ( ) < > t *"
                            .to_owned(),
                    });
                }
            }
        }
        // The lowest string is written first in a chord.
        found.fingered.reverse();
        Ok(found)
    }

    /// The note or the hold that the column stands for, with what the rows of strokes and marks say of it.
    fn item(self, system: &System, at: usize) -> Option<Item> {
        if self.fingered.is_empty() {
            return self.held.then_some(Item::Held);
        }
        let marks: Vec<char> =
            system.marks.iter().flat_map(|m| m.iter().skip(at).take_while(|c| !c.is_whitespace())).copied().collect();
        let stroke = system.strokes.as_ref().and_then(|s| s.get(at)).and_then(|c| match c {
            'd' | 'D' => Some(Stroke::Down),
            'u' | 'U' => Some(Stroke::Up),
            _ => None,
        });
        let sounding = self.legato.filter(|_| !self.dead).unwrap_or(Sounding::Picked);
        Some(Item::Note(LineNote {
            fingered: self.fingered,
            sounding,
            written_stroke: stroke.filter(|_| sounding == Sounding::Picked),
            accent: marks.contains(&'>'),
            dead: self.dead,
            palm_muted: marks.contains(&'m'),
            way_back: marks.contains(&'r'),
        }))
    }
}

/// The fret whose first digit stands in a row's column.
fn fret(system: &System, row: usize, at: usize, file: &str) -> Result<u8, DrillError> {
    let digits: String = (at..).map(|a| system.at(row, a)).take(4).take_while(char::is_ascii_digit).collect();
    digits.parse::<u8>().ok().filter(|f| *f <= MAX_FRET).ok_or_else(|| DrillError::NotAllowed {
        place: Place { file: file.to_owned(), line: system.rows.get(row).map_or(1, |r| r.0), column: at + 1 },
        read: format!("fret {digits}"),
        allowed: format!("frets 0 (open) to {MAX_FRET}"),
    })
}
