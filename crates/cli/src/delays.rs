//! Measured round-trip delays, one a recording device, in a small TOML file:
//!
//!     [device."Stage box"]
//!     delay_ms = 11.42
//!     spread_ms = 0.02
//!     clicks = 28

use crate::config::data_folder;
use crate::fault::{Fault, Outcome};
use crate::output;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use takegauge_click::Delay;
use takegauge_units::Millis;

/// One device.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Device {
    delay_ms: f64,
    spread_ms: f64,
    clicks: usize,
}

#[derive(Debug, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Kept {
    #[serde(default)]
    device: BTreeMap<String, Device>,
}

/// The delays kept in a file.
#[derive(Debug)]
pub(crate) struct Delays {
    path: PathBuf,
    kept: Kept,
}

/// Where delays are kept in the data folder.
pub(crate) fn file_in(data: &Path) -> PathBuf {
    data.join("delays.toml")
}

impl Delays {
    /// The file that `--delay-file` names, else the usual one; one that is not there holds nothing.
    pub(crate) fn open(option: Option<&Path>) -> Outcome<Self> {
        let usual = || data_folder().map(|f| file_in(&f));
        let path = option.map(Path::to_path_buf).or_else(usual).ok_or_else(|| {
            Fault::usage("this system names no folder for measured delays").advise("name a file with --delay-file")
        })?;
        let text = match std::fs::read_to_string(&path) {
            Ok(text) => text,
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => String::new(),
            Err(e) => return Err(Fault::unread(&path, &e)),
        };
        let kept: Kept = toml::from_str(&text).map_err(|e| {
            Fault::usage(format!("{}: {}", path.display(), e.message()))
                .advise("it is written by `click --loopback-check`; move it away to start anew")
        })?;
        Ok(Self { path, kept })
    }

    /// Keeps a device's delay, in place of an older one.
    pub(crate) fn keep(&mut self, name: &str, delay: Delay) -> Outcome<&Path> {
        let round = |x: Millis| (x.0 * 1e3).round() / 1e3;
        let device = Device { delay_ms: round(delay.median), spread_ms: round(delay.spread), clicks: delay.n };
        self.kept.device.insert(name.to_owned(), device);
        if let Some(folder) = self.path.parent() {
            output::make_folder(folder)?;
        }
        let text = toml::to_string(&self.kept).map_err(Fault::usage)?;
        output::write(&self.path, text.as_bytes())?;
        Ok(&self.path)
    }

    /// A device's delay; `None` where none was measured.
    pub(crate) fn find(&self, name: &str) -> Outcome<Option<Millis>> {
        let checked = |d: &Device| {
            takegauge_take::delay(d.delay_ms)
                .map_err(|_| Fault::usage(format!("{}: {name} has {} ms", self.path.display(), d.delay_ms)))
        };
        self.kept.device.get(name).map(checked).transpose()
    }

    fn of(&self, name: &str) -> Outcome<Millis> {
        match self.find(name)? {
            Some(delay) => Ok(delay),
            None => {
                let names: Vec<&str> = self.kept.device.keys().map(String::as_str).collect();
                let known = if names.is_empty() { "none yet".to_owned() } else { names.join(", ") };
                Err(Fault::usage(format!("--delay {name}: no delay of that device was measured; known: {known}"))
                    .advise("measure it with `takegauge click DRILL --loopback-check TAKE --device NAME`, or give ms"))
            }
        }
    }
}

/// Reads `--delay`: milliseconds, or a device's name.
pub(crate) fn delay(text: &str, file: Option<&Path>) -> Outcome<Millis> {
    match text.trim().parse::<f64>() {
        Ok(ms) => takegauge_take::delay(ms).map_err(|e| Fault::usage(format!("--delay {e}"))),
        Err(_) => Delays::open(file)?.of(text),
    }
}
