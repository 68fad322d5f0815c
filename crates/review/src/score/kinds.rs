//! The small types of the reports' fields, with their names in JSON.

#[cfg(feature = "schemas")]
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How the grid was placed in time.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
#[serde(rename_all = "lowercase")]
pub enum Mode {
    /// Offset and tempo fitted to the playing.
    Steady,
    /// To a click.
    Click,
}

/// What a finding is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Measure {
    /// Early or late on average.
    Bias,
    /// Scatter.
    Spread,
    /// Not heard.
    Missed,
    /// At another pitch.
    WrongPitch,
    /// Attacks too many.
    Extra,
    /// Ringing over.
    Smear,
    /// Level.
    Level,
    /// Faster or slower than the tempo asked for.
    Tempo,
    /// Notes in pairs, long and short.
    Swing,
    /// Rushing or dragging.
    TempoChange,
    /// Scatter that grows or shrinks along the take.
    ChangeInTake,
}

impl Measure {
    /// All, with their names in JSON.
    const NAMED: [(Self, &'static str); 11] = [
        (Self::Bias, "bias"),
        (Self::Spread, "spread"),
        (Self::Missed, "missed"),
        (Self::WrongPitch, "wrong_pitch"),
        (Self::Extra, "extra"),
        (Self::Smear, "smear"),
        (Self::Level, "level"),
        (Self::Tempo, "tempo"),
        (Self::Swing, "swing"),
        (Self::TempoChange, "tempo_change"),
        (Self::ChangeInTake, "change_in_take"),
    ];

    /// The name in JSON.
    pub fn name(self) -> &'static str {
        Self::NAMED.iter().find(|(m, _)| *m == self).map_or("", |(_, name)| name)
    }

    /// By its name.
    pub fn named(name: &str) -> Option<Self> {
        Self::NAMED.iter().find(|(_, n)| *n == name).map(|(m, _)| *m)
    }
}

/// The unit of a figure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
pub enum Unit {
    /// Milliseconds.
    #[serde(rename = "ms")]
    Milliseconds,
    /// Decibels.
    #[serde(rename = "dB")]
    Decibels,
    /// Hundredths of something.
    #[serde(rename = "per cent")]
    PerCent,
    /// Of so many notes.
    #[serde(rename = "in 100 notes")]
    InHundredNotes,
    /// Quarter notes a minute.
    #[serde(rename = "bpm")]
    BeatsAMinute,
    /// One figure over another.
    #[serde(rename = "ratio")]
    Ratio,
    /// A number without one.
    #[serde(rename = "")]
    None,
}

impl Unit {
    /// As a reader sees it after a number; empty for a number without one.
    pub fn name(self) -> &'static str {
        match self {
            Self::Milliseconds => "ms",
            Self::Decibels => "dB",
            Self::PerCent => "per cent",
            Self::InHundredNotes => "in 100 notes",
            Self::BeatsAMinute => "bpm",
            Self::Ratio => "ratio",
            Self::None => "",
        }
    }

    /// What names of such figures end in.
    pub fn suffix(self) -> &'static str {
        match self {
            Self::Milliseconds => "_ms",
            Self::Decibels => "_db",
            Self::PerCent => "_pct",
            Self::BeatsAMinute => "_bpm",
            Self::InHundredNotes | Self::Ratio | Self::None => "",
        }
    }
}

/// Why a figure is withheld, sorted by what would bring it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemas", derive(JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Reason {
    /// More notes, intervals or takes are needed.
    TooFew,
    /// The line was played once, and the figure is about its repeats.
    PlayedOnce,
    /// It cannot be told from the detector's own error; where there is a limit to it, `below` holds that.
    BelowDetector,
    /// So many notes that it would take too long.
    TooMany,
    /// It needs a click, or the delay of the set-up to one.
    NoClick,
    /// It is of playing without a click.
    ToAClick,
    /// The recording is driven or limited.
    Driven,
    /// The model behind it does not hold for this playing.
    ModelFails,
    /// There is nothing of it to be seen.
    NoneShown,
}

#[cfg(test)]
mod tests {
    use super::Measure;

    #[test]
    fn measures_are_called_as_in_json() {
        for (measure, name) in Measure::NAMED {
            assert_eq!(serde_json::to_string(&measure).unwrap(), format!("{name:?}"));
            assert_eq!((measure.name(), Measure::named(name)), (name, Some(measure)));
        }
        assert_eq!(Measure::named("bias_ms"), None);
    }
}
