//! Making drills: from a scale or chord, a position and a number of notes a string to a line; aimed at one kind of
//! string change where asked.

mod aim;
mod fingering;
mod scales;

pub use scales::{SCALES, Scale};

use crate::line::write_step;
use crate::{Change, ChangeKind, Drill, DrillError, Fingered, LineNote, Picking, Sounding, Step, Stroke, Tuning};
use takegauge_units::Bpm;

/// Which way a line runs over the strings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Direction {
    /// Rising in pitch: from the highest string number to the lowest.
    Ascending,
    /// Falling.
    Descending,
    /// Up, then down.
    Both,
}

/// The change that a drill is to train, and no other.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Aim {
    /// One kind of change.
    Only(ChangeKind),
    /// Changes that leave a string on this stroke.
    LeavesOn(Stroke),
    /// The change from one string to another.
    Change {
        /// The string left.
        from: u8,
        /// The string reached.
        to: u8,
    },
}

impl Aim {
    /// Whether a change is the one aimed at.
    pub fn meets(self, change: &Change) -> bool {
        match self {
            Self::Only(kind) => change.kind == Some(kind),
            Self::LeavesOn(stroke) => change.leaves_on == Some(stroke),
            Self::Change { from, to } => change.from == from && change.to == to,
        }
    }
}

/// What to make.
#[derive(Debug, Clone, PartialEq)]
pub struct MakeOptions {
    /// The notes to take.
    pub scale: Scale,
    /// The lowest fret of the hand, 0 to 24.
    pub position: u8,
    /// Notes on each string in turn, 1 to 6; the list starts over where it ends (4-3-4).
    pub notes_a_string: Vec<u8>,
    /// First and last string, from the highest number to the lowest; `None` for all.
    pub strings: Option<(u8, u8)>,
    /// Which way.
    pub direction: Direction,
    /// Groups of so many notes, each group starting one note further; 3 or 4.
    pub sequence: Option<u8>,
    /// Strings left out at each change, 0 to 2.
    pub skip: u8,
    /// One note a string over so many strings, 3 to 5, instead of runs.
    pub roll: Option<u8>,
    /// The change to train.
    pub aim: Option<Aim>,
    /// Frets between the lowest and the highest of a hand position, 2 to 7.
    pub span: u8,
    /// Open strings.
    pub tuning: Tuning,
    /// Quarter notes a minute.
    pub tempo: Bpm,
    /// Steps a beat, 1 to 12.
    pub steps_per_beat: u8,
    /// Times the line is played, 1 to 1,000.
    pub repeats: u32,
    /// How strokes are chosen (an aim may need another way and then says so).
    pub picking: Picking,
    /// The first stroke (an aim may need the other one).
    pub first_stroke: Stroke,
}

impl MakeOptions {
    /// Three notes a string over all strings of a guitar in standard tuning, at fret 5.
    pub fn new(scale: Scale) -> Self {
        Self {
            scale,
            position: 5,
            notes_a_string: vec![3],
            strings: None,
            direction: Direction::Both,
            sequence: None,
            skip: 0,
            roll: None,
            aim: None,
            span: 4,
            tuning: Tuning::standard(),
            tempo: Bpm(100.0),
            steps_per_beat: 4,
            repeats: 4,
            picking: Picking::Alternate,
            first_stroke: Stroke::Down,
        }
    }

    fn strings(&self) -> (u8, u8) {
        self.strings.unwrap_or((self.tuning.strings(), 1))
    }
}

/// A drill that was made.
#[derive(Debug, Clone, PartialEq)]
pub struct Made {
    /// The drill.
    pub drill: Drill,
    /// What was done differently from what was asked, and what counts: one sentence each.
    pub remarks: Vec<String>,
    /// How often the hand moves to another position in one playing of the line.
    pub position_shifts: usize,
}

/// A line on the way to a drill.
pub(crate) struct Plan {
    pub(crate) line: Vec<Step>,
    pub(crate) picking: Picking,
    pub(crate) first_stroke: Stroke,
    pub(crate) restart: bool,
}

/// Makes a drill.
///
/// # Errors
/// [`DrillError::Option`] for an option out of its range, or a scale that has too few notes under the hand.
pub fn make(options: &MakeOptions) -> Result<Made, DrillError> {
    check(options)?;
    let mut remarks = Vec::new();
    let plan = match options.aim {
        Some(aim) => aim::plan(options, aim, &mut remarks)?,
        None => Plan {
            line: steps(&notes(options)?),
            picking: options.picking,
            first_stroke: options.first_stroke,
            restart: false,
        },
    };
    let drill = finish(options, plan)?;
    let shifts = fingering::shifts(&drill, options.span);
    if shifts > 0 {
        remarks.push(format!("The hand moves to another position {shifts} times in one playing of the line."));
    }
    Ok(Made { drill, remarks, position_shifts: shifts })
}

fn finish(options: &MakeOptions, plan: Plan) -> Result<Drill, DrillError> {
    let name = match options.aim {
        None => options.scale.name().to_owned(),
        Some(aim) => format!("{}, {}", options.scale.name(), aim::words(aim)),
    };
    let mut line = plan.line;
    // The written way needs a stroke on every note: they are those of alternate strokes.
    if plan.picking == Picking::Written {
        let mut stroke = plan.first_stroke;
        for step in &mut line {
            if let Step::Note(note) = step
                && note.sounding == Sounding::Picked
            {
                note.written_stroke = Some(stroke);
                stroke = stroke.other();
            }
        }
    }
    let drill = Drill {
        name,
        tempo: options.tempo,
        steps_per_beat: options.steps_per_beat,
        beats_per_bar: 4,
        beat_unit: 4,
        pickup_steps: 0,
        repeats: options.repeats,
        tuning: options.tuning.clone(),
        picking: plan.picking,
        first_stroke: plan.first_stroke,
        after_gap: if plan.restart { crate::AfterGap::Restart } else { crate::AfterGap::Next },
        swing: 50.0,
        a4: takegauge_units::Hertz(440.0),
        capo: 0,
        note: String::new(),
        line,
        bars: Vec::new(),
        divisions: Vec::new(),
    };
    Drill::parse(&drill.to_toml(), "made drill")
}

/// The notes of a line without an aim, in order.
pub(crate) fn notes(options: &MakeOptions) -> Result<Vec<Fingered>, DrillError> {
    if let Some(over) = options.roll {
        return roll(options, over);
    }
    let rising = runs(options)?.concat();
    let falling = || rising.iter().rev().copied().collect::<Vec<_>>();
    let grouped = |notes: Vec<Fingered>| match options.sequence {
        Some(group) => notes.windows(usize::from(group)).flatten().copied().collect(),
        None => notes,
    };
    Ok(match options.direction {
        Direction::Ascending => grouped(rising),
        Direction::Descending => grouped(falling()),
        Direction::Both => [grouped(rising.clone()), grouped(falling())].concat(),
    })
}

/// Runs of notes, one a string, in rising order of strings.
pub(crate) fn runs(options: &MakeOptions) -> Result<Vec<Vec<Fingered>>, DrillError> {
    let order = string_order(options)?;
    let mut runs = Vec::new();
    for (string, count) in order.iter().zip(options.notes_a_string.iter().cycle()) {
        runs.push(fingering::run(options, *string, *count)?);
    }
    Ok(runs)
}

/// Strings in the order in which a rising line visits them: with skips 6 4 5 3 4 2 3 1.
fn string_order(options: &MakeOptions) -> Result<Vec<u8>, DrillError> {
    let (from, to) = options.strings();
    if options.skip == 0 {
        return Ok((to..=from).rev().collect());
    }
    let jump = options.skip + 1;
    let order: Vec<u8> = (to..=from.saturating_sub(jump)).rev().flat_map(|low| [low + jump, low]).collect();
    if order.is_empty() {
        return refuse(
            "skip",
            options.skip.to_string(),
            format!("fewer than the {} strings chosen allow", from - to + 1),
        );
    }
    Ok(order)
}

fn roll(options: &MakeOptions, over: u8) -> Result<Vec<Fingered>, DrillError> {
    let (from, to) = options.strings();
    let strings: Vec<u8> = (to..=from).rev().step_by(usize::from(options.skip) + 1).take(usize::from(over)).collect();
    if strings.len() < usize::from(over) {
        return refuse("roll", over.to_string(), format!("as many strings as from {from} to {to} allow"));
    }
    let mut rising = Vec::new();
    for string in strings {
        rising.extend(fingering::run(options, string, 1)?);
    }
    let falling: Vec<Fingered> = rising.iter().rev().copied().collect();
    Ok(match options.direction {
        Direction::Ascending => rising,
        Direction::Descending => falling,
        Direction::Both => {
            let inner = falling.get(1..falling.len() - 1).unwrap_or(&[]);
            [rising.as_slice(), inner].concat()
        }
    })
}

pub(crate) fn steps(notes: &[Fingered]) -> Vec<Step> {
    notes.iter().map(|f| Step::Note(note(*f))).collect()
}

pub(crate) fn note(place: Fingered) -> LineNote {
    LineNote {
        fingered: vec![place],
        sounding: Sounding::Picked,
        written_stroke: None,
        accent: false,
        dead: false,
        palm_muted: false,
        way_back: false,
    }
}

pub(crate) fn refuse<T>(option: &str, read: String, allowed: impl Into<String>) -> Result<T, DrillError> {
    Err(DrillError::Option { option: option.to_owned(), read, allowed: allowed.into() })
}

fn check(options: &MakeOptions) -> Result<(), DrillError> {
    let strings = options.tuning.strings();
    let (from, to) = options.strings();
    if !(1..=strings).contains(&to) || !(to..=strings).contains(&from) {
        return refuse(
            "strings",
            format!("{from} to {to}"),
            format!("from {strings} down to 1, the higher number first"),
        );
    }
    if options.position > 24 {
        return refuse("position", options.position.to_string(), "0 to 24");
    }
    if options.notes_a_string.is_empty() || options.notes_a_string.len() > 12 {
        return refuse(
            "notes a string",
            format!("{} numbers", options.notes_a_string.len()),
            "1 to 12 numbers, as 3 or 4-3-4",
        );
    }
    if let Some(n) = options.notes_a_string.iter().find(|n| !(1..=6).contains(*n)) {
        return refuse("notes a string", n.to_string(), "1 to 6");
    }
    if let Some(n) = options.sequence.filter(|n| !(3..=4).contains(n)) {
        return refuse("sequence", n.to_string(), "groups of 3 or 4");
    }
    if let Some(n) = options.roll.filter(|n| !(3..=5).contains(n)) {
        return refuse("roll", n.to_string(), "3 to 5 strings");
    }
    if options.skip > 2 {
        return refuse("skip", options.skip.to_string(), "0 to 2 strings");
    }
    if options.skip > 0 && options.aim == Some(Aim::Only(ChangeKind::Sweep)) {
        return refuse("skip", options.skip.to_string(), "0 where sweeps are trained: a sweep goes to the next string");
    }
    if !(2..=7).contains(&options.span) {
        return refuse("span", options.span.to_string(), "2 to 7 frets");
    }
    if !(20.0..=400.0).contains(&options.tempo.0) {
        return refuse("tempo", options.tempo.0.to_string(), "20 to 400 quarter notes a minute");
    }
    if !(1..=12).contains(&options.steps_per_beat) {
        return refuse("steps a beat", options.steps_per_beat.to_string(), "1 to 12");
    }
    if !(1..=1000).contains(&options.repeats) {
        return refuse("repeats", options.repeats.to_string(), "1 to 1000");
    }
    Ok(())
}

/// A line as text, for remarks.
pub(crate) fn text(line: &[Step]) -> String {
    line.iter().map(write_step).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests;
