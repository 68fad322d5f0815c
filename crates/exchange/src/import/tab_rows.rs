//! Finding tablature in plain text: systems of rows, one a string, with rows of strokes and marks around them.

use takegauge_drill::{DrillError, Place};

/// Rows of text that belong together, columns counted in characters from the line's start.
#[derive(Debug, Default)]
pub(super) struct System {
    /// Line numbers (from 1) and characters of the string rows, top first.
    pub(super) rows: Vec<(usize, Vec<char>)>,
    /// What stands before each row's first bar or dash.
    pub(super) labels: Vec<String>,
    /// Column where the rows' content starts and ends.
    pub(super) from: usize,
    pub(super) to: usize,
    /// Rows with a word in front: "stroke", "marks", "beat".
    pub(super) strokes: Option<Vec<char>>,
    pub(super) marks: Option<Vec<char>>,
    pub(super) beats: Option<Vec<char>>,
}

impl System {
    /// What a string row has in a column; `-` beyond its end.
    pub(super) fn at(&self, row: usize, column: usize) -> char {
        self.rows.get(row).and_then(|r| r.1.get(column)).copied().unwrap_or('-')
    }

    /// A bar line: all rows that reach so far have one.
    pub(super) fn is_bar(&self, column: usize) -> bool {
        (0..self.rows.len()).any(|r| self.at(r, column) == '|')
    }
}

/// The text's head (lines `# key = value`) and its systems.
pub(super) struct Text {
    pub(super) head: Vec<(String, String)>,
    pub(super) systems: Vec<System>,
    /// Strokes were written as signs: what they were taken for.
    pub(super) signs: Option<&'static str>,
}

/// A row of nothing but stroke signs, as strokes in letters, and what the signs were taken for. Common practice, no
/// source: arrows point where the pick goes on the page (`^` up, `v` down); beside the square sign of a downbow, here
/// often an n, a `V` is an upbow. A row of `V` alone may be either and is left out.
fn signs(line: &str) -> Option<(Vec<char>, &'static str)> {
    let only = |signs: &str| line.chars().all(|c| c.is_whitespace() || signs.contains(c));
    let any = |signs: &str| line.chars().any(|c| signs.contains(c));
    let letters = |down: &str, up: &str| {
        let letter = |c| {
            if down.contains(c) {
                'd'
            } else if up.contains(c) {
                'u'
            } else {
                ' '
            }
        };
        line.chars().map(letter).collect()
    };
    if only("^vV") && any("^") {
        Some((letters("vV", "^"), "Stroke signs were read as arrows: ^ an upstroke, V a downstroke."))
    } else if only("n\u{3a0}\u{2293}vV") && any("n\u{3a0}\u{2293}") {
        Some((letters("n\u{3a0}\u{2293}", "vV"), "Stroke signs were read as bowings: n a downstroke, V an upstroke."))
    } else {
        None
    }
}

pub(super) fn find(text: &str, file: &str) -> Result<Text, DrillError> {
    let mut found = Text { head: Vec::new(), systems: Vec::new(), signs: None };
    let mut current = System::default();
    let mut ahead: [Option<Vec<char>>; 2] = [None, None];
    for (i, line) in text.lines().enumerate() {
        if let Some((label, start)) = tab_row(line) {
            let chars: Vec<char> = line.chars().collect();
            if current.rows.is_empty() {
                current.from = start;
                let [beats, strokes] = std::mem::take(&mut ahead);
                (current.beats, current.strokes) = (beats, strokes);
            }
            current.to = current.to.max(chars.len());
            current.labels.push(label);
            current.rows.push((i + 1, chars));
            if current.rows.len() > 9 {
                let place = Place { file: file.to_owned(), line: i + 1, column: 1 };
                let read = "a tenth row of one system".to_owned();
                let allowed = "4 to 9 rows, one a string, then an empty line".to_owned();
                return Err(DrillError::NotAllowed { place, read, allowed });
            }
            continue;
        }
        let word = line.split_whitespace().next().unwrap_or("").to_lowercase();
        let chars = || Some(line.chars().collect::<Vec<char>>());
        if !current.rows.is_empty() {
            if word == "marks" {
                current.marks = chars();
            }
            found.systems.push(std::mem::take(&mut current));
            if word == "marks" {
                continue;
            }
        }
        match word.as_str() {
            "beat" => ahead[0] = chars(),
            "stroke" | "strokes" => ahead[1] = chars(),
            _ if line.chars().any(|c| "dDuU".contains(c)) && line.chars().all(|c| "dDuU \t".contains(c)) => {
                ahead[1] = chars();
            }
            _ => {
                if let Some((letters, read)) = signs(line) {
                    ahead[1] = Some(letters);
                    found.signs = Some(read);
                }
            }
        }
        if let Some((key, value)) = line.strip_prefix('#').and_then(|l| l.split_once('=')) {
            found.head.push((key.trim().to_owned(), value.trim().to_owned()));
        }
    }
    if !current.rows.is_empty() {
        found.systems.push(current);
    }
    check(&found, file)?;
    Ok(found)
}

/// The label and the column where the content starts, if the line is a row of tablature.
fn tab_row(line: &str) -> Option<(String, usize)> {
    if line.starts_with('#') {
        return None;
    }
    let chars: Vec<char> = line.trim_end().chars().collect();
    let start = chars.iter().take(12).position(|c| matches!(c, '|' | '-' | ':'))?;
    let label: String = chars[..start].iter().collect::<String>().trim().to_owned();
    let label_fits = label.chars().all(|c| c.is_ascii_alphanumeric() || matches!(c, '#' | 'b' | '='));
    let start = if chars[start] == '-' { start } else { start + 1 };
    let content = &chars[start.min(chars.len())..];
    let dashes = content.iter().filter(|c| **c == '-').count();
    let is_row = label_fits && label.chars().count() <= 6 && dashes >= 2 && dashes * 4 >= content.len();
    is_row.then_some((label, start))
}

fn check(found: &Text, file: &str) -> Result<(), DrillError> {
    let strings = found.systems.first().map_or(0, |s| s.rows.len());
    let fault = |line: usize, column: usize, read: String, allowed: &str| {
        let place = Place { file: file.to_owned(), line, column };
        Err(DrillError::NotAllowed { place, read, allowed: allowed.to_owned() })
    };
    if found.systems.is_empty() {
        return fault(1, 1, "no row of tablature".to_owned(), "rows of dashes and frets, one a string: E4|--5--7--|");
    }
    for system in &found.systems {
        let line = system.rows.first().map_or(1, |r| r.0);
        if system.rows.len() != strings || !(4..=9).contains(&strings) {
            let read = format!("{} rows in one system", system.rows.len());
            return fault(line, 1, read, "4 to 9 rows, one a string, as many in every system");
        }
        for column in system.from..system.to {
            let missing = |r: &&(usize, Vec<char>)| column < r.1.len() && r.1.get(column) != Some(&'|');
            if system.is_bar(column)
                && let Some(row) = system.rows.iter().find(missing)
            {
                let read = format!("'{}' where another string has a bar line", row.1[column]);
                return fault(
                    row.0,
                    column + 1,
                    read,
                    "rows under each other: bar lines in the same column on all strings",
                );
            }
        }
    }
    Ok(())
}
