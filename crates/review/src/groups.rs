//! Which notes belong together: every group that a coach would speak of, by name and as players read it.
//!
//! Strokes, inside and outside are the drill's. Notes whose stroke is unsure enter no group that speaks of a stroke;
//! notes after a gap (the first of a pass included) are no test of a change; the way back of an aimed drill is played
//! and not counted as one.

use std::collections::BTreeMap;
use takegauge_drill::{Change, ChangeKind, Drill, Stroke};

use crate::take::Judged;

/// What sort of group it is: decides advice and how its place check is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Family {
    /// On the string just played.
    SameString,
    /// Any change.
    AnyChange,
    /// Inside, outside, sweep, same-stroke.
    Kind(ChangeKind),
    /// From one string to another.
    Pair(u8, u8),
    /// The stroke that leaves.
    LeavesOn(Stroke),
    /// Toward string 1 or away from it.
    Direction(bool),
    /// Adjacent or skipping.
    Distance(bool),
    /// Fretting hand: a shift, or the same fret on the next string.
    FrettingHand,
    /// First, middle, last of a run.
    RunPlace,
    /// One note on a string.
    OneNoteRun,
    /// Down or up.
    Stroke(Stroke),
    /// One string.
    String(u8),
    /// Place in the beat.
    BeatPlace,
    /// Repeat of the line.
    Repeat(usize),
    /// After a rest or held note.
    AfterGap,
}

impl Family {
    /// Whether its notes all arrive by a change of string.
    pub(crate) fn is_change(self) -> bool {
        matches!(
            self,
            Self::AnyChange
                | Self::Kind(_)
                | Self::Pair(..)
                | Self::LeavesOn(_)
                | Self::Direction(_)
                | Self::Distance(_)
                | Self::OneNoteRun
        )
    }

    /// Whether it is a kind of stroke or change rather than a place on the neck or in the line.
    pub(crate) fn is_kind(self) -> bool {
        (self.is_change() && !matches!(self, Self::Pair(..))) || matches!(self, Self::Stroke(_) | Self::SameString)
    }

    /// Whether a difference of this group can be sought by shuffling within repeats.
    pub(crate) fn sought(self) -> bool {
        !matches!(self, Self::Repeat(_))
    }
}

/// A group: its members are indices into the notes reached, rising.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Group {
    pub(crate) name: String,
    pub(crate) label: String,
    pub(crate) family: Family,
    pub(crate) members: Vec<usize>,
}

/// Says what "toward string 1" is on this instrument: thinner where the strings' pitches rise in order.
pub(crate) fn toward_one(drill: &Drill, toward: bool) -> &'static str {
    let rises = drill.tuning.open.windows(2).all(|w| w[0] < w[1]);
    match (rises, toward) {
        (true, true) => "changes to a thinner string",
        (true, false) => "changes to a thicker string",
        (false, true) => "changes to a string nearer the floor",
        (false, false) => "changes to a string further from the floor",
    }
}

/// The change of a note that is a test of one.
pub(crate) fn tested_change(n: &Judged) -> Option<(Change, ChangeKind)> {
    let change = n.grid.change.filter(|c| !c.after_gap && !n.starts && !n.grid.after_gap && !n.grid.way_back)?;
    Some((change, change.kind?))
}

/// All groups that have a member, in a fixed order.
pub(crate) fn groups(drill: &Drill, notes: &[Judged]) -> Vec<Group> {
    let mut found: BTreeMap<(Family, String), Group> = BTreeMap::new();
    let mut shifts = Shifts::default();
    for (i, n) in notes.iter().enumerate() {
        let shift = shifts.at(n);
        if !n.grid.picked() {
            continue;
        }
        let before = i.checked_sub(1).and_then(|b| notes.get(b)).filter(|b| b.pass == n.pass && !n.starts);
        for (family, name, label) in of_note(drill, n, before, shift) {
            let key = (family, name.clone());
            found.entry(key).or_insert_with(|| Group { name, label, family, members: Vec::new() }).members.push(i);
        }
    }
    found.into_values().collect()
}

type Named = (Family, String, String);

fn of_note(drill: &Drill, n: &Judged, before: Option<&Judged>, shift: bool) -> Vec<Named> {
    let mut out: Vec<Named> = Vec::new();
    let mut add = |family, name: &str, label: &str| out.push((family, name.to_owned(), label.to_owned()));
    let gap = n.starts || n.grid.after_gap;
    if gap && !n.starts {
        add(Family::AfterGap, "after a gap", "notes after a gap");
    }
    let after_pick = before.is_some_and(|b| b.grid.picked() && b.grid.index + 1 == n.grid.index);
    if n.grid.change.is_none() && !gap && after_pick {
        add(Family::SameString, "same string", "notes on the same string");
    }
    if let Some((c, kind)) = tested_change(n) {
        add(Family::AnyChange, "change", "string changes");
        add(Family::Pair(c.from, c.to), &pair_name(c), &pair_label(c));
        add(Family::Direction(c.to < c.from), direction_name(c), toward_one(drill, c.to < c.from));
        let (name, label) = if c.adjacent {
            ("adjacent", "changes to the next string")
        } else {
            ("skip", "changes that skip a string")
        };
        add(Family::Distance(c.adjacent), name, label);
        if n.stroke_sure {
            add(Family::Kind(kind), kind_name(kind), kind_label(kind));
            if let Some(s) = c.leaves_on {
                add(
                    Family::LeavesOn(s),
                    &format!("leaves on {}", stroke(s)),
                    &format!("changes that leave on {}", one(s)),
                );
            }
        }
        if rolls(n, before) {
            add(Family::FrettingHand, "same-fret roll", "changes to the same fret of the next string");
        }
    }
    if shift && !gap {
        add(Family::FrettingHand, "position shift", "shifts of the fretting hand");
    }
    if !gap && !n.grid.way_back {
        match n.grid.in_run {
            (_, 1) => add(Family::OneNoteRun, "one-note run", "single notes on a string"),
            (0, _) => add(Family::RunPlace, "first of run", "first notes on a string"),
            (k, len) if k + 1 == len => add(Family::RunPlace, "last of run", "last notes on a string"),
            _ => add(Family::RunPlace, "middle of run", "middle notes on a string"),
        }
    }
    if let Some(s) = n.grid.stroke.filter(|_| n.stroke_sure) {
        add(Family::Stroke(s), &format!("stroke {}", stroke(s)), &format!("{}strokes", stroke(s)));
    }
    let string = n.grid.string();
    add(Family::String(string), &format!("string {string}"), &format!("notes on string {string}"));
    if let Some(place) = beat_place(drill, n.grid.position) {
        let label = if place == 0 {
            "notes on the beat".to_owned()
        } else {
            format!("notes on step {} of the beat", place + 1)
        };
        add(Family::BeatPlace, &format!("step {} of the beat", place + 1), &label);
    }
    if drill.repeats > 1 {
        let repeat = n.grid.repeat;
        add(Family::Repeat(repeat), &format!("repeat {}", repeat + 1), &format!("repeat {}", repeat + 1));
    }
    out
}

pub(crate) fn stroke(s: Stroke) -> &'static str {
    match s {
        Stroke::Down => "down",
        Stroke::Up => "up",
    }
}

fn one(s: Stroke) -> &'static str {
    match s {
        Stroke::Down => "a downstroke",
        Stroke::Up => "an upstroke",
    }
}

pub(crate) fn kind_name(kind: ChangeKind) -> &'static str {
    match kind {
        ChangeKind::Outside => "outside",
        ChangeKind::Inside => "inside",
        ChangeKind::Sweep => "sweep",
        ChangeKind::SameStroke => "same-stroke",
    }
}

fn kind_label(kind: ChangeKind) -> &'static str {
    match kind {
        ChangeKind::Outside => "outside changes",
        ChangeKind::Inside => "inside changes",
        ChangeKind::Sweep => "sweep changes",
        ChangeKind::SameStroke => "changes on the same stroke",
    }
}

pub(crate) fn pair_name(c: Change) -> String {
    format!("{}>{}", c.from, c.to)
}

pub(crate) fn pair_label(c: Change) -> String {
    format!("changes from string {} to {}", c.from, c.to)
}

fn direction_name(c: Change) -> &'static str {
    if c.to < c.from { "toward 1" } else { "away from 1" }
}

/// The same fretted fret on the next string: one finger has to roll, or two to share the fret.
fn rolls(n: &Judged, before: Option<&Judged>) -> bool {
    let same = |b: &&Judged| b.grid.fret() == n.grid.fret() && b.grid.string().abs_diff(n.grid.string()) == 1;
    n.grid.fret() > 0 && n.grid.fingered.len() == 1 && before.is_some_and(|b| same(&b))
}

/// The step in its beat, where the line fills whole beats of one subdivision.
fn beat_place(drill: &Drill, position: usize) -> Option<usize> {
    let steps = usize::from(drill.steps_per_beat);
    let whole = steps > 1 && drill.divisions.is_empty() && drill.line.len().checked_rem(steps) == Some(0);
    let pickup = usize::from(drill.pickup_steps).checked_rem(steps)?;
    whole.then(|| (position + steps - pickup) % steps)
}

/// How many frets the hand covers in one position: a finger a fret and one fret's stretch (common practice, no source).
const POSITION_SPAN: u8 = 4;

/// Follows the fretting hand: it has shifted where a fret does not fit into the position held so far.
#[derive(Debug, Default)]
struct Shifts {
    held: Option<(u8, u8)>,
    pass: usize,
}

impl Shifts {
    fn at(&mut self, n: &Judged) -> bool {
        if n.starts || self.pass != n.pass {
            self.held = None;
            self.pass = n.pass;
        }
        let mut frets = n.grid.fingered.iter().map(|f| f.fret).filter(|f| *f > 0);
        let Some(first) = frets.next() else { return false };
        let (low, high) = frets.fold((first, first), |(l, h), f| (l.min(f), h.max(f)));
        let Some((l, h)) = self.held else {
            self.held = Some((low, high));
            return false;
        };
        let (l2, h2) = (l.min(low), h.max(high));
        let shifted = h2 - l2 > POSITION_SPAN;
        self.held = Some(if shifted { (low, high) } else { (l2, h2) });
        shifted
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::take::reached;
    use crate::testing::{aligned, drill};
    use takegauge_align::Status;

    fn names_of(line: &str, index: usize) -> Vec<String> {
        let d = drill(line, 2);
        let grid = d.grid();
        let m = aligned(&grid, 120.0, |_| Some(0.0));
        let notes = reached(&grid, &m);
        groups(&d, &notes).into_iter().filter(|g| g.members.contains(&index)).map(|g| g.name).collect()
    }

    #[test]
    fn a_change_enters_all_its_groups() {
        // Three notes (down, up, down), then string 5 on an upstroke: leaves on a downstroke toward string 1.
        assert_eq!(
            names_of("6:3 6:5 6:7 5:3 5:5 5:7 4:5 4:7", 3),
            [
                "change",
                "outside",
                "6>5",
                "leaves on down",
                "toward 1",
                "adjacent",
                "first of run",
                "stroke up",
                "string 5",
                "step 4 of the beat",
                "repeat 1"
            ]
        );
    }

    #[test]
    fn the_first_note_of_a_pass_is_no_test_of_anything_but_stroke_and_string() {
        assert_eq!(
            names_of("6:3 6:5 6:7 5:3 5:5 5:7 4:5 4:7", 0),
            ["stroke down", "string 6", "step 1 of the beat", "repeat 1"]
        );
    }

    #[test]
    fn a_change_after_a_gap_is_a_group_of_its_own() {
        let names = names_of("6:3 6:5 - 5:3 5:5 5:7 5:3 5:5", 2);
        assert_eq!(names, ["stroke down", "string 5", "step 4 of the beat", "repeat 1", "after a gap"]);
    }

    #[test]
    fn unsure_strokes_enter_no_group_that_speaks_of_one() {
        let d = drill("6:3 6:5 6:7 5:3 5:5 5:7", 2);
        let grid = d.grid();
        let mut m = aligned(&grid, 120.0, |_| Some(0.0));
        m.alignment.passes[0].notes[1].status = Status::Missed;
        m.alignment.passes[0].notes[1].played = None;
        let notes = reached(&grid, &m);
        let all = groups(&d, &notes);
        let members = |name: &str| all.iter().find(|g| g.name == name).map_or(0, |g| g.members.len());
        assert_eq!((members("6>5"), members("outside"), members("inside"), members("leaves on down")), (2, 0, 0, 0));
        assert_eq!((members("stroke down"), members("stroke up")), (1, 1));
    }

    #[test]
    fn shifts_and_rolls_are_the_fretting_hands() {
        assert!(names_of("6:3 6:5 6:7 6:8 6:10 5:7 5:8 5:10", 3).contains(&"position shift".to_owned()));
        assert!(names_of("2:5 2:8 1:5 1:8 2:5 2:8 3:5 3:7", 2).iter().all(|n| n != "same-fret roll"));
        assert!(names_of("2:5 1:5 2:5 1:8 2:8 3:8 2:8 1:5", 1).contains(&"same-fret roll".to_owned()));
    }

    #[test]
    fn the_way_back_is_not_counted() {
        let names = names_of("6:3 6:5 6:7 5:3 5:5 6:7r 6:5 6:3", 5);
        assert!(names.iter().all(|n| n != "change" && n != "5>6" && n != "first of run"), "{names:?}");
    }
}
