//! Which notes of a take a figure is of, as a type: its name in JSON, CSV and the journal is written and read here alone.

#[cfg(feature = "schemas")]
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::borrow::Cow;
use std::fmt::{Display, Formatter};
use std::str::FromStr;
use takegauge_drill::{ChangeKind, Stroke};

/// A group of notes. The order is that of a report's rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum GroupKey {
    /// On the string just played: "same string".
    SameString,
    /// Any change of string: "change".
    Change,
    /// "outside", "inside", "sweep", "same-stroke".
    Kind(ChangeKind),
    /// From one string to another: "3>2".
    Pair(u8, u8),
    /// The stroke that leaves: "leaves on up".
    LeavesOn(Stroke),
    /// Changes to a larger string number: "away from 1".
    AwayFromOne,
    /// Changes to a smaller one: "toward 1".
    TowardOne,
    /// Changes that skip a string: "skip".
    Skip,
    /// Changes to the next string: "adjacent".
    Adjacent,
    /// The fretting hand moves along the neck: "position shift".
    PositionShift,
    /// The same fret on the next string: "same-fret roll".
    SameFretRoll,
    /// First of the notes in a row on a string: "first of run".
    FirstOfRun,
    /// "last of run".
    LastOfRun,
    /// "middle of run".
    MiddleOfRun,
    /// A string's only note in a row: "one-note run".
    OneNoteRun,
    /// "stroke down", "stroke up".
    Stroke(Stroke),
    /// "string 3".
    String(u8),
    /// Step of the beat, from 0: "step 1 of the beat".
    BeatStep(usize),
    /// Time the line is played, from 0: "repeat 1".
    Repeat(usize),
    /// After a rest or held note: "after a gap".
    AfterGap,
    /// One step of the line, from 0: "step 1 of the line". Findings come down to it.
    LineStep(usize),
    /// A pair of strings and a kind of change: "3>2 inside".
    PairKind(u8, u8, ChangeKind),
    /// Every note picked: "all notes".
    AllNotes,
    /// The take as one: "whole take".
    WholeTake,
}

/// Keys without a number in them.
const FIXED: [(GroupKey, &str); 23] = [
    (GroupKey::SameString, "same string"),
    (GroupKey::Change, "change"),
    (GroupKey::Kind(ChangeKind::Outside), ChangeKind::Outside.name()),
    (GroupKey::Kind(ChangeKind::Inside), ChangeKind::Inside.name()),
    (GroupKey::Kind(ChangeKind::Sweep), ChangeKind::Sweep.name()),
    (GroupKey::Kind(ChangeKind::SameStroke), ChangeKind::SameStroke.name()),
    (GroupKey::LeavesOn(Stroke::Down), "leaves on down"),
    (GroupKey::LeavesOn(Stroke::Up), "leaves on up"),
    (GroupKey::AwayFromOne, "away from 1"),
    (GroupKey::TowardOne, "toward 1"),
    (GroupKey::Skip, "skip"),
    (GroupKey::Adjacent, "adjacent"),
    (GroupKey::PositionShift, "position shift"),
    (GroupKey::SameFretRoll, "same-fret roll"),
    (GroupKey::FirstOfRun, "first of run"),
    (GroupKey::LastOfRun, "last of run"),
    (GroupKey::MiddleOfRun, "middle of run"),
    (GroupKey::OneNoteRun, "one-note run"),
    (GroupKey::Stroke(Stroke::Down), "stroke down"),
    (GroupKey::Stroke(Stroke::Up), "stroke up"),
    (GroupKey::AfterGap, "after a gap"),
    (GroupKey::AllNotes, "all notes"),
    (GroupKey::WholeTake, "whole take"),
];

impl GroupKey {
    /// Whether its notes all arrive by a change of string.
    pub fn is_change(self) -> bool {
        matches!(
            self,
            Self::Change
                | Self::Kind(_)
                | Self::Pair(..)
                | Self::LeavesOn(_)
                | Self::AwayFromOne
                | Self::TowardOne
                | Self::Skip
                | Self::Adjacent
                | Self::OneNoteRun
        )
    }

    /// Whether it is a kind of stroke or change rather than a place on the neck or in the line.
    pub fn is_kind(self) -> bool {
        (self.is_change() && !matches!(self, Self::Pair(..))) || matches!(self, Self::Stroke(_) | Self::SameString)
    }

    /// Whether its notes are told apart by the strokes that the drill has for them.
    pub fn speaks_of_strokes(self) -> bool {
        matches!(self, Self::Kind(_) | Self::LeavesOn(_) | Self::Stroke(_))
    }

    /// Whether it is one string's notes, whatever came before.
    pub fn is_string(self) -> bool {
        matches!(self, Self::String(_))
    }

    /// Whether it is about the hand that frets.
    pub fn is_fretting_hand(self) -> bool {
        matches!(self, Self::PositionShift | Self::SameFretRoll)
    }

    /// Whether it is a kind of note, which other takes have too, rather than a stretch of one take.
    pub fn is_lasting(self) -> bool {
        !matches!(self, Self::Repeat(_))
    }
}

impl Display for GroupKey {
    fn fmt(&self, f: &mut Formatter<'_>) -> std::fmt::Result {
        match *self {
            Self::Pair(from, to) => write!(f, "{from}>{to}"),
            Self::PairKind(from, to, kind) => write!(f, "{from}>{to} {}", kind.name()),
            Self::String(n) => write!(f, "string {n}"),
            Self::BeatStep(k) => write!(f, "step {} of the beat", k + 1),
            Self::LineStep(k) => write!(f, "step {} of the line", k + 1),
            Self::Repeat(k) => write!(f, "repeat {}", k + 1),
            fixed => f.pad(FIXED.iter().find(|(key, _)| *key == fixed).map_or("", |(_, name)| name)),
        }
    }
}

/// A name that no group of notes has.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("no group of notes is called {0:?}")]
pub struct NoSuchGroup(pub String);

impl FromStr for GroupKey {
    type Err = NoSuchGroup;

    fn from_str(name: &str) -> Result<Self, NoSuchGroup> {
        if let Some((key, _)) = FIXED.iter().find(|(_, fixed)| *fixed == name) {
            return Ok(*key);
        }
        // Steps and repeats are told from 1.
        let counted = |text: &str| text.parse::<usize>().ok()?.checked_sub(1);
        let step = |of: &str| counted(name.strip_prefix("step ")?.strip_suffix(of)?);
        let pair = || {
            let (from, to) = name.split_once('>')?;
            let (to, kind) = to.split_once(' ').map_or((to, None), |(to, kind)| (to, Some(kind)));
            let (from, to) = (from.parse().ok()?, to.parse().ok()?);
            match kind {
                None => Some(Self::Pair(from, to)),
                Some(kind) => Some(Self::PairKind(from, to, ChangeKind::ALL.into_iter().find(|k| k.name() == kind)?)),
            }
        };
        let string = || name.strip_prefix("string ")?.parse().ok().map(Self::String);
        pair()
            .or_else(string)
            .or_else(|| step(" of the beat").map(Self::BeatStep))
            .or_else(|| step(" of the line").map(Self::LineStep))
            .or_else(|| counted(name.strip_prefix("repeat ")?).map(Self::Repeat))
            .ok_or_else(|| NoSuchGroup(name.to_owned()))
    }
}

impl Serialize for GroupKey {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for GroupKey {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        Cow::<str>::deserialize(d)?.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(feature = "schemas")]
impl JsonSchema for GroupKey {
    fn inline_schema() -> bool {
        true
    }

    fn schema_name() -> Cow<'static, str> {
        "GroupKey".into()
    }

    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({"type": "string", "minLength": 1})
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_name_reads_back_and_nonsense_is_refused() {
        let numbered = [
            GroupKey::Pair(3, 2),
            GroupKey::PairKind(3, 2, ChangeKind::SameStroke),
            GroupKey::String(6),
            GroupKey::BeatStep(11),
            GroupKey::LineStep(0),
            GroupKey::Repeat(11),
        ];
        for key in FIXED.iter().map(|f| f.0).chain(numbered) {
            assert_eq!(key.to_string().parse(), Ok(key));
            assert_eq!(serde_json::from_str::<GroupKey>(&serde_json::to_string(&key).unwrap()).unwrap(), key);
        }
        for bad in ["", "3>", ">2", "3>2 upside", "string x", "repeat 0", "step 0 of the beat", "Change"] {
            assert_eq!(bad.parse::<GroupKey>(), Err(NoSuchGroup(bad.to_owned())));
        }
    }
}
