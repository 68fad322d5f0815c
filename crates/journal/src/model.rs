//! What the journal keeps of a take, and what it hands back.

use crate::when::{Day, RecordedAt};
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::io::Read;
use std::path::Path;
use takegauge_drill::Drill;
use takegauge_review::GroupKey;
use takegauge_units::Bpm;

/// Which of several tries were kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Picked {
    /// Every try is in the journal.
    All,
    /// Only the best of several tries: such takes flatter.
    Best,
    /// Nobody said.
    #[default]
    Unknown,
}

impl Picked {
    /// As the journal and its exports write it.
    pub fn text(self) -> &'static str {
        match self {
            Self::All => "all",
            Self::Best => "best",
            Self::Unknown => "unknown",
        }
    }

    pub(crate) fn read(text: &str) -> Self {
        match text {
            "all" => Self::All,
            "best" => Self::Best,
            _ => Self::Unknown,
        }
    }
}

/// Everything about a take but its score: what an export carries and an import brings back.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TakeRecord {
    /// Whose playing it is, as this take was added.
    pub player: String,
    /// The drill as a version 1 drill file.
    pub drill: String,
    /// SHA-256 of the audio file's bytes, hexadecimal; of a step of a longer recording, [`step_hash`].
    pub audio_sha256: String,
    /// Where the file was when it was scored.
    pub path: String,
    /// When it was recorded, on the player's own clock.
    pub recorded_at: RecordedAt,
    /// Which tries were kept.
    #[serde(default)]
    pub picked: Picked,
    /// Which guitar, in the player's words.
    #[serde(default)]
    pub guitar: String,
    /// Amplifier, interface or microphone.
    #[serde(default)]
    pub microphone: String,
    /// Words to find takes by.
    #[serde(default)]
    pub tags: Vec<String>,
    /// Anything else.
    #[serde(default)]
    pub note: String,
}

/// A take as the lists show it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TakeRow {
    /// Its number.
    pub take: i64,
    /// Whose it is, as the journal calls them.
    pub player: String,
    /// The drill's present name.
    pub drill: String,
    /// The drill's identity: the first 12 digits of its hash.
    pub drill_id: String,
    /// When it was recorded.
    pub recorded_at: RecordedAt,
    /// The player's local day.
    pub day: Day,
    /// Where the file was.
    pub path: String,
    /// As played, quarter notes a minute.
    pub tempo_bpm: f64,
    /// Picked notes reached.
    pub notes: usize,
    /// Missed, wrong and extra notes together.
    pub errors: usize,
    /// Scatter of the string changes (of all notes where the drill has none), ms.
    pub spread_ms: Option<f64>,
    /// Which notes `spread_ms` is of.
    pub spread_of: GroupKey,
    /// Which tries were kept.
    pub picked: Picked,
    /// Guitar.
    pub guitar: String,
    /// Amplifier, interface or microphone.
    pub microphone: String,
    /// Tags, sorted.
    pub tags: Vec<String>,
    /// Free note.
    pub note: String,
    /// The first finding, in a sentence; empty where there was none.
    pub finding: String,
}

impl AsRef<Self> for TakeRow {
    fn as_ref(&self) -> &Self {
        self
    }
}

/// JSON shape `takegauge/journal-list/1`.
#[derive(Debug, Serialize)]
pub struct TakeList<'a> {
    schema: &'static str,
    takes: &'a [TakeRow],
}

impl<'a> TakeList<'a> {
    /// The takes, in the order given.
    pub fn new(takes: &'a [TakeRow]) -> Self {
        Self { schema: "takegauge/journal-list/1", takes }
    }
}

/// A drill that the journal knows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DrillRow {
    /// Row in the file.
    #[serde(skip)]
    pub id: i64,
    /// Hash of what is played: see [`drill_hash`].
    pub hash: String,
    /// The name of the latest take's drill file.
    pub name: String,
    /// The latest drill file.
    #[serde(skip)]
    pub toml: String,
}

impl DrillRow {
    /// The first 12 digits of its hash, as [`TakeRow::drill_id`].
    pub fn short_id(&self) -> &str {
        self.hash.get(..12).unwrap_or(&self.hash)
    }
}

/// A task, as an export carries it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TaskRecord {
    /// For whom.
    pub player: String,
    /// In words; may be empty where a drill says it.
    #[serde(default)]
    pub what: String,
    /// The drill or practice loop, as a version 1 drill file.
    #[serde(default)]
    pub drill: Option<String>,
    /// At which tempo, quarter notes a minute.
    #[serde(default)]
    pub tempo_bpm: Option<f64>,
    /// The day it was set.
    pub set: Day,
    /// The day by which it is to be done.
    #[serde(default)]
    pub due: Option<Day>,
    /// The day it was ticked off.
    #[serde(default)]
    pub done: Option<Day>,
}

/// A task of the journal.
#[derive(Debug, Clone, PartialEq)]
pub struct TaskRow {
    /// Its number.
    pub task: i64,
    /// What was set; the player as the journal calls them.
    pub record: TaskRecord,
    /// The drill's name.
    pub drill: Option<String>,
}

/// Tags as they are kept: trimmed, sorted, each once.
pub(crate) fn tidy_tags(tags: &[String]) -> Vec<String> {
    let mut tags: Vec<String> = tags.iter().map(|t| t.trim().to_owned()).filter(|t| !t.is_empty()).collect();
    tags.sort();
    tags.dedup();
    tags
}

/// Which takes. Empty fields let everything through.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Filter {
    /// Of this player, in whatever spelling.
    pub player: Option<String>,
    /// Of these drills.
    pub drills: Option<Vec<i64>>,
    /// Tempo as played, lowest and highest.
    pub tempo_bpm: Option<[f64; 2]>,
    /// From this day on.
    pub since: Option<Day>,
    /// Up to this day, itself included.
    pub until: Option<Day>,
    /// With this tag.
    pub tag: Option<String>,
    /// These takes alone.
    pub takes: Option<Vec<i64>>,
}

impl Filter {
    /// Whether every take passes.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }
}

/// Identity of a drill: SHA-256 of its canonical file without name, note and tempo. A drill under a new name, or
/// played at another tempo, keeps its history; another line, tuning or picking is another drill.
pub fn drill_hash(drill: &Drill) -> String {
    let mut bare = drill.clone();
    bare.name = "drill".to_owned();
    bare.note.clear();
    bare.tempo = Bpm(100.0);
    hex(&Sha256::digest(bare.to_toml().as_bytes()))
}

/// SHA-256 of a file's bytes, hexadecimal.
///
/// # Errors
/// As the system's.
pub fn file_hash(path: &Path) -> std::io::Result<String> {
    let mut file = std::fs::File::open(path)?;
    let mut hash = Sha256::new();
    let mut block = vec![0u8; 1 << 16];
    loop {
        match file.read(&mut block)? {
            0 => return Ok(hex(&hash.finalize())),
            n => hash.update(&block[..n]),
        }
    }
}

/// Identity of a step of a longer recording with this [`file_hash`]: SHA-256 of that, of the step's number from 0 and of
/// its tempo.
pub fn step_hash(file: &str, step: usize, tempo: Bpm) -> String {
    hex(&Sha256::digest(format!("{file} step {step} at {} bpm", tempo.0).as_bytes()))
}

pub(crate) fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sha256_of_the_standards_own_example() {
        // FIPS 180-2, appendix B.1.
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("abc");
        std::fs::write(&path, "abc").unwrap();
        let expected = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
        assert_eq!(file_hash(&path).unwrap(), expected);
    }

    #[test]
    fn a_renamed_or_faster_drill_is_the_same_and_a_changed_line_is_not() {
        let drill = |name: &str, bpm: u32, line: &str| {
            let text = format!(
                "name='{name}'\ntempo_bpm={bpm}\nsteps_per_beat=4\nrepeats=2\ntuning='standard'\npicking='alternate'\n\
                 line='{line}'"
            );
            drill_hash(&Drill::parse(&text, "t").unwrap())
        };
        let one = drill("a", 120, "6:1 6:2 5:1 5:2");
        assert_eq!(one, drill("b", 160, "6:1  6:2 5:1 5:2"));
        assert_ne!(one, drill("a", 120, "6:1 6:2 5:1 5:3"));
    }
}
