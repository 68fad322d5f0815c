//! The line of a drill: `string:fret` with marks, rests, holds, bars.

use crate::{Fingered, LineNote, Sounding, Step, Stroke};

/// The longest line read, in steps.
pub const MAX_STEPS: usize = 20_000;
/// The highest fret.
pub const MAX_FRET: u8 = 36;

/// What the line says, position by position.
#[derive(Debug, Default, PartialEq)]
pub(crate) struct Line {
    pub(crate) steps: Vec<Step>,
    /// Byte offset of each step in the text read.
    pub(crate) offsets: Vec<usize>,
    pub(crate) bars: Vec<usize>,
    pub(crate) divisions: Vec<(usize, u8)>,
}

/// What was wrong at which byte of the line's text.
#[derive(Debug, PartialEq)]
pub(crate) struct LineFault {
    pub(crate) offset: usize,
    pub(crate) read: String,
    pub(crate) allowed: String,
}

const TOKENS: &str = "string:fret with marks (6:3, 5:7u), notes struck together ([5:7 4:7]), - a silent step, \
                      ~ the last note held, | a bar line, /3 from here 3 steps a beat";
const MARKS: &str = "the marks d or u (stroke), h (hammer-on) or p (pull-off), > (accent), x (dead), m (palm-muted), \
                     r (way back, not counted), each once; h and p take no stroke";

/// Reads a line for an instrument with `strings` strings.
pub(crate) fn read_line(text: &str, strings: u8) -> Result<Line, LineFault> {
    let mut line = Line::default();
    for (offset, token) in tokens(text) {
        let fault = |read: String, allowed: &str| LineFault { offset, read, allowed: allowed.to_owned() };
        let at = line.steps.len();
        if at >= MAX_STEPS {
            return Err(fault(format!("more than {MAX_STEPS} steps"), "a shorter line, played more often"));
        }
        match token {
            "|" => {
                if line.bars.last() != Some(&at) {
                    line.bars.push(at);
                }
                continue;
            }
            "-" => line.steps.push(Step::Silent),
            "~" => {
                if !matches!(line.steps.last(), Some(Step::Note(_) | Step::Held)) {
                    return Err(fault(
                        "\"~\" with no note before it to hold".to_owned(),
                        "~ only after a note or another ~",
                    ));
                }
                line.steps.push(Step::Held);
            }
            _ => {
                if let Some(number) = token.strip_prefix('/') {
                    let n = number.parse::<u8>().ok().filter(|n| (1..=12).contains(n));
                    let n = n.ok_or_else(|| fault(quoted(token), "/1 to /12: so many steps a beat from here on"))?;
                    line.divisions.retain(|d| d.0 != at);
                    line.divisions.push((at, n));
                    continue;
                }
                let note = read_note(token, strings).map_err(|(within, read, allowed)| LineFault {
                    offset: offset + within,
                    read,
                    allowed,
                })?;
                line.steps.push(Step::Note(note));
            }
        }
        line.offsets.push(offset);
    }
    Ok(line)
}

/// Whitespace parts tokens, except between `[` and `]`; `|` is a token of its own wherever it stands.
fn tokens(text: &str) -> Vec<(usize, &str)> {
    let mut found = Vec::new();
    let mut start: Option<usize> = None;
    let mut in_chord = false;
    for (i, c) in text.char_indices() {
        let ends = (c.is_whitespace() && !in_chord) || c == '|';
        if ends {
            if let Some(s) = start.take() {
                found.push((s, &text[s..i]));
            }
            in_chord = false;
            if c == '|' {
                found.push((i, &text[i..i + 1]));
            }
            continue;
        }
        start.get_or_insert(i);
        match c {
            '[' => in_chord = true,
            ']' => in_chord = false,
            _ => {}
        }
    }
    if let Some(s) = start {
        found.push((s, &text[s..]));
    }
    found
}

pub(crate) fn quoted(token: &str) -> String {
    let short: String = token.chars().take(24).collect();
    if short.len() < token.len() { format!("\"{short}...\"") } else { format!("\"{short}\"") }
}

type NoteFault = (usize, String, String);

fn read_note(token: &str, strings: u8) -> Result<LineNote, NoteFault> {
    let mut fingered = Vec::new();
    let marks_at;
    if let Some(inner) = token.strip_prefix('[') {
        let close =
            inner.find(']').ok_or_else(|| (0, quoted(token), "a ] that closes the [, as in [5:7 4:7]".to_owned()))?;
        for (offset, part) in tokens(&inner[..close]) {
            let (place, rest) = read_place(part, strings).map_err(|(o, r, a)| (1 + offset + o, r, a))?;
            if rest < part.len() {
                return Err((1 + offset + rest, quoted(part), "string:fret only; marks stand after the ]".to_owned()));
            }
            if fingered.iter().any(|f: &Fingered| f.string == place.string) {
                let read = format!("string {} twice in one chord", place.string);
                return Err((1 + offset, read, "each string once".to_owned()));
            }
            fingered.push(place);
        }
        if fingered.is_empty() {
            return Err((0, quoted(token), "at least one string:fret between [ and ]".to_owned()));
        }
        marks_at = close + 2;
    } else {
        let (place, rest) = read_place(token, strings)?;
        fingered.push(place);
        marks_at = rest;
    }
    read_marks(token, marks_at, fingered)
}

/// Reads `string:fret` at the front; gives the place and the byte where it ends.
fn read_place(token: &str, strings: u8) -> Result<(Fingered, usize), NoteFault> {
    let digits = |s: &str| s.bytes().take_while(u8::is_ascii_digit).count();
    let n = digits(token);
    if n == 0 || token.as_bytes().get(n) != Some(&b':') {
        return Err((0, quoted(token), TOKENS.to_owned()));
    }
    let string = token[..n].parse::<u8>().ok().filter(|s| (1..=strings).contains(s)).ok_or_else(|| {
        (0, format!("string {} in {}", &token[..n], quoted(token)), format!("strings 1 to {strings} with this tuning"))
    })?;
    let frets = &token[n + 1..];
    let m = digits(frets);
    let fret = frets[..m].parse::<u8>().ok().filter(|f| *f <= MAX_FRET).ok_or_else(|| {
        let read = if m == 0 { quoted(token) } else { format!("fret {} in {}", &frets[..m], quoted(token)) };
        (n + 1, read, format!("frets 0 (open) to {MAX_FRET}"))
    })?;
    Ok((Fingered { string, fret }, n + 1 + m))
}

fn read_marks(token: &str, from: usize, fingered: Vec<Fingered>) -> Result<LineNote, NoteFault> {
    let mut note = LineNote::picked(fingered);
    for (i, c) in token[from..].char_indices() {
        let legato = note.sounding != Sounding::Picked;
        let stroke = note.written_stroke.is_some();
        let fresh = match c {
            'd' if !legato && !stroke => note.written_stroke.replace(Stroke::Down).is_none(),
            'u' if !legato && !stroke => note.written_stroke.replace(Stroke::Up).is_none(),
            'h' if !legato && !stroke && !note.dead => {
                note.sounding = Sounding::HammerOn;
                true
            }
            'p' if !legato && !stroke && !note.dead => {
                note.sounding = Sounding::PullOff;
                true
            }
            '>' => !std::mem::replace(&mut note.accent, true),
            'x' if !legato => !std::mem::replace(&mut note.dead, true),
            'm' => !std::mem::replace(&mut note.palm_muted, true),
            'r' => !std::mem::replace(&mut note.way_back, true),
            _ => false,
        };
        if !fresh {
            return Err((from + i, format!("'{c}' in {}", quoted(token)), MARKS.to_owned()));
        }
    }
    Ok(note)
}

/// One step as a drill file writes it.
pub fn write_step(step: &Step) -> String {
    let note = match step {
        Step::Silent => return "-".to_owned(),
        Step::Held => return "~".to_owned(),
        Step::Note(note) => note,
    };
    let places: Vec<_> = note.fingered.iter().map(|f| format!("{}:{}", f.string, f.fret)).collect();
    let mut text = match places.as_slice() {
        [one] => one.clone(),
        several => format!("[{}]", several.join(" ")),
    };
    match note.written_stroke {
        Some(Stroke::Down) => text.push('d'),
        Some(Stroke::Up) => text.push('u'),
        None => {}
    }
    match note.sounding {
        Sounding::HammerOn => text.push('h'),
        Sounding::PullOff => text.push('p'),
        Sounding::Picked => {}
    }
    for (set, mark) in [(note.accent, '>'), (note.dead, 'x'), (note.palm_muted, 'm'), (note.way_back, 'r')] {
        if set {
            text.push(mark);
        }
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_token_reads_and_writes_back() {
        let text = "6:3 6:5d 5:7u> 5:8h 5:7p [5:7 4:7]d 3:0x 2:12m 1:1r - | 6:3 ~ ~ /3 5:2 5:3>xm";
        let line = read_line(text, 6).unwrap();
        assert_eq!(line.steps.len(), 15);
        assert_eq!(line.bars, [10]);
        assert_eq!(line.divisions, [(13, 3)]);
        let written: Vec<_> = line.steps.iter().map(write_step).collect();
        let expect: Vec<_> = text.split(' ').filter(|t| *t != "|" && *t != "/3").collect();
        assert_eq!(written.join(" "), expect.join(" "));
    }

    #[test]
    fn faults_point_at_the_byte() {
        for (text, offset, read) in [
            ("6:3 7:1", 4, "string 7"),
            ("6:3 6:40", 6, "fret 40"),
            ("6:3 hello", 4, "\"hello\""),
            ("6:3dd", 4, "'d'"),
            ("6:3hu", 4, "'u'"),
            ("6:3uh", 4, "'h'"),
            ("6:3hx", 4, "'x'"),
            ("~", 0, "\"~\""),
            ("6:3 - ~", 6, "\"~\""),
            ("[6:3 6:4]", 5, "string 6 twice"),
            ("[6:3d 5:4]", 4, "\"6:3d\""),
            ("[6:3 5:4", 0, "\"[6:3 5:4\""),
            ("[]", 0, "\"[]\""),
            ("6:", 2, "\"6:\""),
            ("6:3 /13", 4, "\"/13\""),
            ("0:3", 0, "string 0"),
            ("999:3", 0, "string 999"),
        ] {
            let fault = read_line(text, 6).unwrap_err();
            assert_eq!(fault.offset, offset, "{text}");
            assert!(fault.read.contains(read), "{text}: {}", fault.read);
        }
    }

    #[test]
    fn bars_need_no_spaces() {
        let line = read_line("|6:3|6:5|", 6).unwrap();
        assert_eq!(line.bars, [0, 1, 2]);
        assert_eq!(line.steps.len(), 2);
    }
}
