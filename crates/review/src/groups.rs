//! Which notes belong together: every group that a coach would speak of, by name and as players read it.
//!
//! Strokes, inside and outside are the drill's. Notes after a slip enter their groups, as the hand is taken to
//! have kept moving; those of a pass that begins on another stroke enter no group that speaks of one;
//! notes after a gap (the first of a pass included) are no test of a change; the way back of an aimed drill is played
//! and not counted as one.

use std::collections::BTreeMap;
use takegauge_drill::{Change, ChangeKind, Drill, Stroke};

use crate::group_key::GroupKey;
use crate::take::Judged;

/// A group: its members are indices into the notes reached, rising.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Group {
    pub(crate) key: GroupKey,
    pub(crate) label: String,
    pub(crate) members: Vec<usize>,
}

/// The change of a note that is a test of one.
pub(crate) fn tested_change(n: &Judged) -> Option<(Change, ChangeKind)> {
    let change = n.grid.change.filter(|c| !c.after_gap && !n.starts && !n.grid.after_gap && !n.grid.way_back)?;
    Some((change, change.kind?))
}

/// All groups that have a member, in a fixed order.
pub(crate) fn groups(drill: &Drill, notes: &[Judged]) -> Vec<Group> {
    let mut found: BTreeMap<GroupKey, Vec<usize>> = BTreeMap::new();
    let mut shifts = Shifts::default();
    for (i, n) in notes.iter().enumerate() {
        let shift = shifts.at(n);
        if !n.grid.picked() {
            continue;
        }
        let before = i.checked_sub(1).and_then(|b| notes.get(b)).filter(|b| b.pass == n.pass && !n.starts);
        for key in of_note(drill, n, before, shift) {
            found.entry(key).or_default().push(i);
        }
    }
    found.into_iter().map(|(key, members)| Group { key, label: label(key, drill), members }).collect()
}

fn of_note(drill: &Drill, n: &Judged, before: Option<&Judged>, shift: bool) -> Vec<GroupKey> {
    let mut out = Vec::new();
    let gap = n.starts || n.grid.after_gap;
    if gap && !n.starts {
        out.push(GroupKey::AfterGap);
    }
    let after_pick = before.is_some_and(|b| b.grid.picked() && b.grid.index + 1 == n.grid.index);
    if n.grid.change.is_none() && !gap && after_pick {
        out.push(GroupKey::SameString);
    }
    if let Some((c, kind)) = tested_change(n) {
        out.extend([GroupKey::Change, GroupKey::Pair(c.from, c.to)]);
        out.push(if c.to < c.from { GroupKey::TowardOne } else { GroupKey::AwayFromOne });
        out.push(if c.adjacent { GroupKey::Adjacent } else { GroupKey::Skip });
        if n.stroke_used {
            out.push(GroupKey::Kind(kind));
            out.extend(c.leaves_on.map(GroupKey::LeavesOn));
        }
        if rolls(n, before) {
            out.push(GroupKey::SameFretRoll);
        }
    }
    if shift && !gap {
        out.push(GroupKey::PositionShift);
    }
    if !gap && !n.grid.way_back {
        out.push(match n.grid.in_run {
            (_, 1) => GroupKey::OneNoteRun,
            (0, _) => GroupKey::FirstOfRun,
            (k, len) if k + 1 == len => GroupKey::LastOfRun,
            _ => GroupKey::MiddleOfRun,
        });
    }
    out.extend(n.grid.stroke.filter(|_| n.stroke_used).map(GroupKey::Stroke));
    out.push(GroupKey::String(n.grid.string()));
    out.extend(beat_step(drill, n.grid.position).map(GroupKey::BeatStep));
    if drill.repeats > 1 {
        out.push(GroupKey::Repeat(n.grid.repeat));
    }
    out
}

/// A group as a player reads it, on the drill's instrument.
pub(crate) fn label(key: GroupKey, drill: &Drill) -> String {
    // "Toward string 1" is to a thinner string where the strings' pitches rise in order.
    let rises = drill.tuning.open.windows(2).all(|w| w[0] < w[1]);
    let fixed = match key {
        GroupKey::SameString => "notes on the same string",
        GroupKey::Change => "string changes",
        GroupKey::Kind(ChangeKind::Outside) => "outside changes",
        GroupKey::Kind(ChangeKind::Inside) => "inside changes",
        GroupKey::Kind(ChangeKind::Sweep) => "sweep changes",
        GroupKey::Kind(ChangeKind::SameStroke) => "changes on the same stroke",
        GroupKey::Pair(from, to) => return format!("changes from string {from} to {to}"),
        GroupKey::PairKind(from, to, kind) => return format!("from string {from} to {to}, {}", kind.name()),
        GroupKey::LeavesOn(Stroke::Down) => "changes that leave on a downstroke",
        GroupKey::LeavesOn(Stroke::Up) => "changes that leave on an upstroke",
        GroupKey::TowardOne if rises => "changes to a thinner string",
        GroupKey::TowardOne => "changes to a string nearer the floor",
        GroupKey::AwayFromOne if rises => "changes to a thicker string",
        GroupKey::AwayFromOne => "changes to a string further from the floor",
        GroupKey::Adjacent => "changes to the next string",
        GroupKey::Skip => "changes that skip a string",
        GroupKey::PositionShift => "shifts of the fretting hand",
        GroupKey::SameFretRoll => "changes to the same fret of the next string",
        GroupKey::FirstOfRun => "first notes on a string",
        GroupKey::LastOfRun => "last notes on a string",
        GroupKey::MiddleOfRun => "middle notes on a string",
        GroupKey::OneNoteRun => "single notes on a string",
        GroupKey::Stroke(stroke) => return format!("{}strokes", stroke.name()),
        GroupKey::String(n) => return format!("notes on string {n}"),
        GroupKey::BeatStep(0) => "notes on the beat",
        GroupKey::BeatStep(k) => return format!("notes on step {} of the beat", k + 1),
        GroupKey::AfterGap => "notes after a gap",
        GroupKey::LineStep(k) => return format!("the note on step {} of the line", k + 1),
        GroupKey::WholeTake => "the whole take",
        GroupKey::Repeat(_) | GroupKey::AllNotes => return key.to_string(),
    };
    fixed.to_owned()
}

/// The same fretted fret on the next string: one finger has to roll, or two to share the fret.
fn rolls(n: &Judged, before: Option<&Judged>) -> bool {
    let same = |b: &&Judged| b.grid.fret() == n.grid.fret() && b.grid.string().abs_diff(n.grid.string()) == 1;
    n.grid.fret() > 0 && n.grid.fingered.len() == 1 && before.is_some_and(|b| same(&b))
}

/// The step in its beat, where the line fills whole beats of one subdivision.
fn beat_step(drill: &Drill, position: usize) -> Option<usize> {
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
    use crate::take::{AfterSlip, reached};
    use crate::testing::{aligned, drill};
    use takegauge_align::Status;

    fn names_of(line: &str, index: usize) -> Vec<String> {
        let d = drill(line, 2);
        let grid = d.grid();
        let m = aligned(&grid, 120.0, |_| Some(0.0));
        let notes = reached(&grid, &m, AfterSlip::Keep);
        groups(&d, &notes).into_iter().filter(|g| g.members.contains(&index)).map(|g| g.key.to_string()).collect()
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
    fn notes_after_a_slip_stay_in_their_groups_unless_dropped() {
        let d = drill("6:3 6:5 6:7 5:3 5:5 5:7", 2);
        let grid = d.grid();
        let mut m = aligned(&grid, 120.0, |_| Some(0.0));
        m.alignment.passes[0].notes[1].status = Status::Missed;
        m.alignment.passes[0].notes[1].played = None;
        let count = |after: AfterSlip| {
            let notes = reached(&grid, &m, after);
            let all = groups(&d, &notes);
            ["6>5", "outside", "stroke down", "stroke up"]
                .map(|name| all.iter().find(|g| g.key.to_string() == name).map_or(0, |g| g.members.len()))
        };
        assert_eq!(count(AfterSlip::Keep), [2, 3, 6, 6]);
        assert_eq!(count(AfterSlip::Drop), [2, 2, 4, 4]);
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
