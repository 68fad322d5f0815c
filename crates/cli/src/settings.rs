//! The text of the settings file: what stands in for options that are not given.
//!
//!     player = "Ada"
//!     tuning = "D2 A2 D3 G3 B3 E4"
//!     journal = "/home/ada/practice.db"

use serde::de::Error;
use serde::{Deserialize, Deserializer};
use std::path::PathBuf;
use takegauge_drill::Tuning;

/// What the settings say.
#[derive(Debug, Clone, Default, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Settings {
    /// Whose playing it is where no option says so.
    pub(crate) player: Option<String>,
    /// Open strings of a drill that is made or brought in, where neither option nor file says them.
    #[serde(default, deserialize_with = "tuning")]
    pub(crate) tuning: Option<Tuning>,
    /// The journal, as it is written in the file.
    pub(crate) journal: Option<PathBuf>,
}

fn tuning<'de, D: Deserializer<'de>>(d: D) -> Result<Option<Tuning>, D::Error> {
    Tuning::parse(&String::deserialize(d)?).map(Some).map_err(D::Error::custom)
}

impl Settings {
    /// Reads the text; the error is what is wrong with it, in words.
    pub(crate) fn from_text(text: &str) -> Result<Self, String> {
        toml::from_str(text).map_err(|e| e.message().to_owned())
    }
}
