//! What makes each test a few lines: a folder of its own, takes made on the spot, the program run in it.

#[path = "../common/mod.rs"]
mod shared;

pub(crate) use shared::fits;

use serde_json::Value;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};
use std::process::Command;
use tempfile::TempDir;

/// A folder of its own for one test; gone when the test ends.
pub(crate) struct Place(TempDir);

impl Place {
    pub(crate) fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    pub(crate) fn read(&self, name: &str) -> String {
        std::fs::read_to_string(self.path(name)).unwrap()
    }

    /// Writes a file; its name comes back, to stand among a command's words.
    pub(crate) fn file<'a>(&self, name: &'a str, bytes: impl AsRef<[u8]>) -> &'a str {
        std::fs::write(self.path(name), bytes).unwrap();
        name
    }

    /// Writes a mono WAV of 32-bit float samples at 44.1 kHz.
    pub(crate) fn wav<'a>(&self, name: &'a str, samples: &[f32]) -> &'a str {
        let spec = hound::WavSpec {
            channels: 1,
            sample_rate: 44_100,
            bits_per_sample: 32,
            sample_format: hound::SampleFormat::Float,
        };
        let mut file = hound::WavWriter::create(self.path(name), spec).unwrap();
        samples.iter().for_each(|s| file.write_sample(*s).unwrap());
        file.finalize().unwrap();
        name
    }

    /// The names of all files in it, sorted.
    pub(crate) fn names(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.0.path()).unwrap();
        let mut names: Vec<String> = entries.map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }

    /// Runs the program in the folder.
    pub(crate) fn run<S: AsRef<OsStr>>(&self, words: impl IntoIterator<Item = S>) -> Run {
        let out = self.command(words).output().unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        let run = Run { code: out.status.code(), out: text(out.stdout), err: text(out.stderr) };
        assert!(!run.err.contains("panicked"), "{}", run.err);
        run
    }

    /// The program, ready to run in the folder, apart from the settings of whoever runs the tests.
    pub(crate) fn command<S: AsRef<OsStr>>(&self, words: impl IntoIterator<Item = S>) -> Command {
        let mut command = Command::new(assert_cmd::cargo::cargo_bin!("takegauge"));
        command.args(words).current_dir(self.0.path()).env("HOME", self.0.path());
        for name in ["XDG_CONFIG_HOME", "XDG_DATA_HOME", "COLUMNS", "NO_COLOR", "RUST_BACKTRACE"] {
            command.env_remove(name);
        }
        command
    }
}

/// How the program ended.
#[derive(Debug)]
pub(crate) struct Run {
    pub(crate) code: Option<i32>,
    pub(crate) out: String,
    pub(crate) err: String,
}

impl Run {
    /// The run did its work: exit code 0.
    #[track_caller]
    pub(crate) fn done(self) -> Self {
        assert_eq!(self.code, Some(0), "{self:?}");
        self
    }

    /// The run stopped with this exit code, said this on standard error, and nothing on standard output.
    #[track_caller]
    pub(crate) fn stopped(self, code: i32, says: &str) -> Self {
        assert!(self.code == Some(code) && self.err.contains(says) && self.out.is_empty(), "{says:?} wanted: {self:?}");
        self
    }

    /// Standard output as JSON: nothing else may be on it.
    #[track_caller]
    pub(crate) fn json(&self) -> Value {
        serde_json::from_str(&self.out).unwrap_or_else(|e| panic!("{e}: {self:?}"))
    }
}

/// A committed take: its sound, drill and answers.
pub(crate) fn committed(name: &str, ending: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(format!("../../test-audio/{name}.{ending}"));
    path.to_str().unwrap().to_owned()
}

/// Scores a committed take with further options.
pub(crate) fn score_committed(place: &Place, name: &str, more: &[&str]) -> Run {
    let (take, drill) = (committed(name, "flac"), committed(name, "toml"));
    place.run(["score", &take, "--drill", &drill].into_iter().chain(more.iter().copied()))
}

/// The answers of a committed take.
pub(crate) fn answers(name: &str) -> Value {
    serde_json::from_str(&std::fs::read_to_string(committed(name, "json")).unwrap()).unwrap()
}

/// `count` plucks of a falling tone on different pitches, 0.25 s apart from 0.5 s on, in 44.1 kHz samples.
pub(crate) fn plucks(count: usize) -> Vec<f32> {
    let mut x = vec![0.0_f32; 22_050 + 11_025 * (count + 2)];
    for k in 0..count {
        let hertz = 196.0 * 2.0_f32.powf((k * 5 % 12) as f32 / 12.0);
        for (i, out) in x[22_050 + 11_025 * k..].iter_mut().take(11_025).enumerate() {
            let t = i as f32 / 44_100.0;
            let wave: f32 = (1..9).map(|h| (std::f32::consts::TAU * hertz * h as f32 * t).sin() / h as f32).sum();
            *out += 0.2 * wave * (-9.0 * t).exp() * (t * 1_500.0).min(1.0);
        }
    }
    x
}

/// Every number in a text as `#`, runs of blanks as one: the layout, without what depends on the ear's last digit.
pub(crate) fn layout(text: &str) -> String {
    let mut out = String::new();
    let mut last = ' ';
    for c in text.chars() {
        let c = if c.is_ascii_digit() { '#' } else { c };
        let inside_number = last == '#' && (c == '#' || c == '.');
        if !(inside_number || c == ' ' && last == ' ') {
            out.push(c);
            last = c;
        }
    }
    out
}
