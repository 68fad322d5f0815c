//! What must hold of any bytes, kind by kind: shared by the replay of tests/corpus (stable Rust, crates/cli/tests) and by
//! the fuzz targets (fuzz/). A property that fails panics.

#![allow(clippy::panic, clippy::unwrap_used)] // a property that fails panics

#[path = "../../crates/cli/src/settings.rs"]
mod settings;

use std::cell::RefCell;
use std::io::Write;
use takegauge_align::{Options, Timebase, align};
use takegauge_audio::{ChannelChoice, TakeReader};
use takegauge_drill::Drill;
use takegauge_journal::Journal;
use takegauge_units::{Attack, Bpm, Decibels, Instant, KEYS, Millis, PitchEvidence, SampleRate, Seconds};

/// Every kind of bytes, as its folder under tests/corpus is called.
pub(crate) const KINDS: [&str; 11] =
    ["audio", "drill", "tab", "midi", "musicxml", "mxl", "jams", "table", "journal", "config", "align"];

/// Holds the bytes against the property of their kind.
pub(crate) fn hold(kind: &str, bytes: &[u8]) {
    match kind {
        "audio" => audio(bytes),
        "drill" => drill(bytes),
        "tab" => import(bytes, "a.txt"),
        "midi" => import(bytes, "a.mid"),
        "musicxml" => import(bytes, "a.musicxml"),
        "mxl" => import(bytes, "a.mxl"),
        "jams" => import(bytes, "a.jams"),
        "table" => table(bytes),
        "journal" => journal(bytes),
        "config" => config(bytes),
        "align" => alignment(bytes),
        other => panic!("no such kind of bytes: {other}"),
    }
}

/// A file of any kind is refused, or read to an end: every block within its bound, every sample finite, as many as are
/// told in the end.
fn audio(bytes: &[u8]) {
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(bytes).unwrap();
    for choice in [ChannelChoice::Auto, ChannelChoice::Left] {
        let Ok(mut reader) = TakeReader::open(file.path(), choice) else { continue };
        let mut frames = 0u64;
        loop {
            match reader.next_block() {
                Ok(Some(block)) => {
                    assert!(!block.is_empty() && block.len() <= takegauge_audio::MAX_BLOCK);
                    assert!(block.iter().all(|x| x.is_finite()));
                    frames += block.len() as u64;
                }
                Ok(None) => break assert_eq!(reader.finish().frames, frames),
                Err(_) => break,
            }
        }
    }
}

/// A drill that is read is written as a file that reads back as the same drill, and its grid rises.
fn drill(bytes: &[u8]) {
    let Ok(drill) = Drill::parse(&String::from_utf8_lossy(bytes), "bytes") else { return };
    let again = Drill::parse(&drill.to_toml(), "again").unwrap();
    assert_eq!(again.to_toml(), drill.to_toml());
    rises(&drill);
}

fn rises(drill: &Drill) {
    let grid = drill.grid();
    assert!(grid.len() <= takegauge_drill::MAX_NOTES);
    assert!(grid.iter().all(|n| n.expected.0.is_finite()));
    assert!(grid.windows(2).all(|w| w[0].expected <= w[1].expected));
}

/// What is brought in from another format is a drill as any other.
fn import(bytes: &[u8], name: &str) {
    let Ok(got) = takegauge_exchange::import::read_bytes(bytes, name, &Default::default()) else { return };
    rises(&got.drill);
    let _ = Drill::parse(&got.drill.to_toml(), "brought in").unwrap();
}

/// A table of a click track that is read is written as one that reads back the same.
fn table(bytes: &[u8]) {
    let text = String::from_utf8_lossy(bytes);
    let Ok(steps) = takegauge_click::read_ladder_table(&text, "bytes") else { return };
    assert!(steps.iter().all(|s| s.notes_to.0.is_finite() && s.click_from <= s.notes_from));
    let _ = takegauge_click::ladder_table(&steps);
}

/// Lines of a journal are taken whole or refused, and the journal is sound afterwards. One that took nothing and is found
/// empty serves again: to make one takes longer than to refuse a hundred lines.
fn journal(bytes: &[u8]) {
    thread_local!(static EMPTY: RefCell<Option<(tempfile::TempDir, Journal)>> = const { RefCell::new(None) });
    let (folder, mut journal) = EMPTY.take().unwrap_or_else(|| {
        let folder = tempfile::tempdir().unwrap();
        let journal = Journal::open_or_create(&folder.path().join("j.db")).unwrap();
        (folder, journal)
    });
    let mut told = 0;
    let _ = journal.import_lines(&mut &bytes[..], &mut |_| told += 1);
    let takes = journal.list(&Default::default()).unwrap().len();
    assert!(takes <= told);
    if told == 0 {
        return EMPTY.set(Some((folder, journal)));
    }
    assert_eq!(journal.check().unwrap(), Vec::<String>::new());
}

/// Settings are refused in words, or read; what was read can be written so that it reads back the same.
fn config(bytes: &[u8]) {
    let read = match settings::Settings::from_text(&String::from_utf8_lossy(bytes)) {
        Ok(read) => read,
        Err(why) => return assert!(!why.is_empty()),
    };
    let values = [
        ("player", read.player.clone()),
        ("tuning", read.tuning.as_ref().map(takegauge_drill::Tuning::pitches)),
        ("journal", read.journal.as_ref().map(|p| p.to_str().unwrap().to_owned())),
    ];
    let table: toml::Table =
        values.into_iter().filter_map(|(name, value)| Some((name.to_owned(), toml::Value::String(value?)))).collect();
    assert_eq!(settings::Settings::from_text(&table.to_string()), Ok(read));
}

/// Any attacks against any drill: refused, or every note of every pass accounted for, matched attacks in order of time
/// and none taken twice.
fn alignment(bytes: &[u8]) {
    let mut rest = bytes.iter().copied();
    let mut next = move || rest.next();
    let (Some(notes), Some(repeats), Some(tempo), Some(click)) = (next(), next(), next(), next()) else { return };
    let mut line = String::new();
    for _ in 0..=notes {
        let Some(b) = next() else { return };
        line.push_str(&match b % 16 {
            0 => "- ".to_owned(),
            1 => "~ ".to_owned(),
            mark => format!("{}:{}{} ", 1 + b % 6, b / 16, ["", "", "x", "h", ">"][usize::from(mark % 5)]),
        });
    }
    let text = format!(
        "name = 'any'\ntempo_bpm = {}\nsteps_per_beat = 4\nrepeats = {}\ntuning = 'standard'\npicking = 'alternate'\n\
         line = '{line}'\n",
        40 + u32::from(tempo),
        1 + repeats % 8
    );
    let Ok(drill) = Drill::parse(&text, "any") else { return };
    let Some(rate) = SampleRate::new(48_000) else { return };
    let (mut attacks, mut at) = (Vec::new(), 0.1);
    while let (Some(gap), Some(key), Some(strength)) = (next(), next(), next()) {
        at += f64::from(gap) / 500.0;
        let mut pitch = [40u8; KEYS];
        pitch[usize::from(key) % KEYS] = 200;
        let at = Instant::at(Seconds(at), rate);
        let strength = f32::from(strength) / 100.0;
        attacks.push(Attack {
            at,
            uncertainty: Millis(0.5),
            strength,
            level: Decibels(-12.0),
            pitch: PitchEvidence(pitch),
        });
        if attacks.len() == 3000 {
            break;
        }
    }
    let timebase = match click % 3 {
        0 => Timebase::Click((0..64).map(|k| Seconds(f64::from(k) * 0.3 + f64::from(click) / 99.0)).collect()),
        _ => Timebase::Steady,
    };
    let options = Options { tempo: (click % 5 == 1).then_some(Bpm(97.0)), tempo_in_name: None, timebase };
    let grid = drill.grid();
    let Ok(found) = align(&attacks, rate, &grid, &drill, &options) else { return };
    let mut taken = vec![false; attacks.len()];
    for pass in &found.passes {
        assert_eq!(pass.notes.len(), grid.len());
        let matched: Vec<usize> = pass.notes.iter().filter_map(|n| n.attack).collect();
        assert!(matched.windows(2).all(|w| w[0] < w[1]), "attacks out of order");
        assert!(pass.notes.iter().all(|n| n.expected.0.is_finite() && n.played.is_some() == n.attack.is_some()));
        for attack in matched {
            assert!(!std::mem::replace(&mut taken[attack], true), "attack {attack} is two notes");
        }
    }
}
