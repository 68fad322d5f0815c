//! Changing a drill: the other first stroke, mirrored, transposed, on other strings, one change as a loop.

use crate::{AfterGap, Drill, DrillError, Fingered, GridNote, LineNote, MAX_FRET, Picking, Sounding, Step, Stroke};

/// The drill begun on a stroke; written strokes are turned round with it.
///
/// # Errors
/// [`DrillError::Option`] where every stroke is a downstroke by `picking = "down"`.
pub fn start_on(drill: &Drill, stroke: Stroke) -> Result<Drill, DrillError> {
    if drill.picking == Picking::Down && stroke == Stroke::Up {
        return refuse("first stroke", "up".to_owned(), "down: the drill is picked with downstrokes only");
    }
    let now = drill.grid().iter().find_map(|n| n.stroke).unwrap_or(drill.first_stroke);
    let mut altered = Drill { first_stroke: stroke, ..drill.clone() };
    if now != stroke {
        for note in notes_mut(&mut altered.line) {
            note.written_stroke = note.written_stroke.map(Stroke::other);
        }
    }
    checked(altered)
}

/// Strings mirrored: the highest number becomes 1. Outside and inside trade places.
///
/// # Errors
/// Where a pitch then lies beyond MIDI key 127.
pub fn mirror(drill: &Drill) -> Result<Drill, DrillError> {
    let strings = drill.tuning.strings();
    move_places(drill, |f| Some(Fingered { string: (strings + 1).checked_sub(f.string)?, fret: f.fret }))
}

/// So many semitones higher (negative: lower), on the same strings.
///
/// # Errors
/// [`DrillError::Option`] where a fret would lie below 0 or above 36.
pub fn transpose(drill: &Drill, semitones: i8) -> Result<Drill, DrillError> {
    let dead = |note: &LineNote| note.dead;
    let mut altered = drill.clone();
    for note in notes_mut(&mut altered.line).filter(|n| !dead(n)) {
        for place in &mut note.fingered {
            let fret = i16::from(place.fret) + i16::from(semitones);
            place.fret = match u8::try_from(fret).ok().filter(|f| *f <= MAX_FRET) {
                Some(fret) => fret,
                None => {
                    let read = format!("{semitones} semitones, which moves fret {} to {fret}", place.fret);
                    return refuse("transpose", read, "frets 0 (open) to 36");
                }
            };
        }
    }
    checked(altered)
}

/// Moved to other strings, frets kept: 1 moves every note from string 2 to 3.
///
/// # Errors
/// [`DrillError::Option`] where the tuning lacks a string.
pub fn shift_strings(drill: &Drill, by: i8) -> Result<Drill, DrillError> {
    let strings = drill.tuning.strings();
    let moved = |f: &Fingered| {
        let string = u8::try_from(i16::from(f.string) + i16::from(by)).ok()?;
        (1..=strings).contains(&string).then_some(Fingered { string, fret: f.fret })
    };
    move_places(drill, moved)
}

/// One change taken out as a loop: the run before it, the run after it, then a rest, over which the strokes start
/// over as they are in the drill. The first note after the rest is marked as the way back.
///
/// # Errors
/// [`DrillError::Option`] where the drill has no such change, or only after a gap.
pub fn take_out(drill: &Drill, from: u8, to: u8) -> Result<Drill, DrillError> {
    let grid = drill.repeated(2).grid();
    let is = |n: &&GridNote| n.change.is_some_and(|c| c.from == from && c.to == to && !c.after_gap) && !n.way_back;
    let Some(arrives) = grid.iter().find(is).map(|n| n.index) else {
        return refuse("change", format!("from string {from} to {to}"), "a change of the drill that is no gap");
    };
    let same_run = |a: &GridNote, b: &GridNote| a.string() == b.string() && !b.after_gap;
    let mut first = arrives.saturating_sub(1);
    while first > 0 && same_run(&grid[first - 1], &grid[first]) && arrives - first < 8 {
        first -= 1;
    }
    // A loop starts on a picked note.
    while first + 1 < arrives && !grid[first].picked() {
        first += 1;
    }
    let mut last = arrives;
    while last + 1 < grid.len() && same_run(&grid[last], &grid[last + 1]) && last - arrives < 7 {
        last += 1;
    }
    let mut line = Vec::new();
    for n in &grid[first..=last] {
        if let Some(Step::Note(note)) = drill.line.get(n.position) {
            let way_back = n.index == first;
            let held = drill.line.iter().skip(n.position + 1).take_while(|s| **s == Step::Held).count();
            line.push(Step::Note(LineNote { way_back, ..note.clone() }));
            line.extend(std::iter::repeat_n(Step::Held, if n.index == last { 0 } else { held }));
        }
    }
    let usual = line.len();
    line.resize((usual + 2).next_multiple_of(usize::from(drill.steps_per_beat.max(1))), Step::Silent);
    let starts = grid.get(first).and_then(|n| n.stroke).unwrap_or(drill.first_stroke);
    checked(Drill {
        name: short(format!("{}: from string {from} to {to}", drill.name)),
        first_stroke: starts,
        after_gap: AfterGap::Restart,
        repeats: drill.repeats.max(8),
        pickup_steps: 0,
        bars: Vec::new(),
        divisions: Vec::new(),
        line,
        ..drill.clone()
    })
}

/// Notes that could be hammered on or pulled off: on the string of the note before, at another fret.
pub(crate) fn legato_on(before: &GridNote, note: &GridNote) -> Option<Sounding> {
    let plain = before.fingered.len() == 1 && note.fingered.len() == 1 && !note.dead && !before.dead;
    if !plain || before.string() != note.string() || note.after_gap {
        return None;
    }
    match note.fret().cmp(&before.fret()) {
        std::cmp::Ordering::Greater => Some(Sounding::HammerOn),
        std::cmp::Ordering::Less => Some(Sounding::PullOff),
        std::cmp::Ordering::Equal => None,
    }
}

fn move_places(drill: &Drill, to: impl Fn(&Fingered) -> Option<Fingered>) -> Result<Drill, DrillError> {
    let mut altered = drill.clone();
    for note in notes_mut(&mut altered.line) {
        for place in &mut note.fingered {
            let Some(moved) = to(place) else {
                let strings = drill.tuning.strings();
                return refuse(
                    "strings",
                    format!("string {} moved off the neck", place.string),
                    format!("strings 1 to {strings}"),
                );
            };
            *place = moved;
        }
    }
    checked(altered)
}

fn notes_mut(line: &mut [Step]) -> impl Iterator<Item = &mut LineNote> {
    line.iter_mut().filter_map(|s| match s {
        Step::Note(note) => Some(note),
        _ => None,
    })
}

pub(crate) fn checked(drill: Drill) -> Result<Drill, DrillError> {
    Drill::parse(&drill.to_toml(), "altered drill")
}

pub(crate) fn short(name: String) -> String {
    name.chars().take(200).collect()
}

fn refuse<T>(option: &str, read: String, allowed: impl Into<String>) -> Result<T, DrillError> {
    Err(DrillError::Option { option: option.to_owned(), read, allowed: allowed.into() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{ChangeKind, built_in, change_counts, named};

    fn line(drill: &Drill) -> String {
        drill.line.iter().map(crate::line::write_step).collect::<Vec<_>>().join(" ")
    }

    #[test]
    fn the_other_first_stroke_turns_inside_into_outside() {
        let outside = named("outside-pair").unwrap();
        let inside = start_on(&outside, Stroke::Up).unwrap();
        assert!(change_counts(&inside.grid()).iter().all(|c| c.change.kind == Some(ChangeKind::Inside)));
        assert_eq!(start_on(&inside, Stroke::Down).unwrap(), outside);
        assert!(start_on(&named("downstrokes-across").unwrap(), Stroke::Up).is_err());
        let written =
            "name='t'\ntempo_bpm=90\nsteps_per_beat=4\npicking='written'\ntuning='standard'\nline='6:1d 6:2d 5:1u'";
        let turned = start_on(&Drill::parse(written, "t").unwrap(), Stroke::Up).unwrap();
        assert_eq!(line(&turned), "6:1u 6:2u 5:1d");
    }

    #[test]
    fn mirrored_twice_is_the_same() {
        for b in built_in() {
            let drill = b.drill().unwrap();
            let once = mirror(&drill).unwrap();
            assert_eq!(mirror(&once).unwrap(), drill);
        }
        let kinds = |d: &Drill| -> Vec<_> { d.grid().iter().filter_map(|n| n.change.and_then(|c| c.kind)).collect() };
        let drill = named("roll-over-three").unwrap();
        for (a, b) in kinds(&drill).iter().zip(kinds(&mirror(&drill).unwrap())) {
            assert_ne!(*a, b);
        }
    }

    #[test]
    fn transposed_and_shifted() {
        let drill = named("four-a-string").unwrap();
        let up = transpose(&drill, 3).unwrap();
        assert_eq!(up.grid()[0].keys[0].0, drill.grid()[0].keys[0].0 + 3);
        assert_eq!(transpose(&up, -3).unwrap(), drill);
        assert!(transpose(&drill, -6).unwrap_err().to_string().contains("fret 5 to -1"));
        let low = shift_strings(&drill, 1).unwrap();
        assert_eq!(low.grid()[0].string(), drill.grid()[0].string() + 1);
        assert!(shift_strings(&drill, 2).is_err());
    }

    #[test]
    fn a_change_as_a_loop_keeps_its_kind() {
        let drill = named("three-a-string-six-strings").unwrap();
        let looped = take_out(&drill, 4, 3).unwrap();
        assert_eq!(line(&looped), "4:5r 4:7 4:9 3:5 3:7 3:9 - -");
        let kind = |d: &Drill| {
            change_counts(&d.grid()).iter().find(|c| c.change.from == 4 && c.change.to == 3).map(|c| c.change)
        };
        assert_eq!(kind(&looped), kind(&drill.repeated(1)));
        assert_eq!(change_counts(&looped.grid()).len(), 1);
        assert!(take_out(&drill, 6, 1).is_err());
    }
}
