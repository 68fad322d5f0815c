//! What the second look at a take adds to its alignment.

use crate::stroke::Stroke;
use takegauge_align::{Alignment, Extra};
use takegauge_units::{Decibels, MidiKey, Millis, Seconds};

/// What was measured at one placed note (same order as `Pass::notes`).
#[derive(Debug, Clone, PartialEq)]
pub struct NoteMeasure {
    /// Peak level just after the attack, dBFS.
    pub level: Option<Decibels>,
    /// Peak level just before it, dBFS: what sounded already.
    pub before: Option<Decibels>,
    /// The pitch heard.
    pub heard: Option<MidiKey>,
    /// How long after the attack the sound rises most: a second reference for the note's time, signed.
    pub rise: Option<Millis>,
    /// On a note that arrives on another string: how long the left string still sounds after this attack, until its
    /// own partials are 20 dB down from their level just before it, or the reason in plain words why that cannot be told. `None` on
    /// notes that are no string change.
    pub smear: Option<Result<Millis, String>>,
}

/// What was measured at one attack that is no note of the drill.
#[derive(Debug, Clone, PartialEq)]
pub struct ExtraMeasure {
    /// The extra attack, as aligned.
    pub extra: Extra,
    /// When, refined, in the take's time.
    pub played: Seconds,
    /// Peak level, dBFS.
    pub level: Decibels,
    /// The pitch heard, where one was.
    pub heard: Option<MidiKey>,
}

/// The waveform's outline for a plot: lowest and highest sample of each equal stretch of the take.
#[derive(Debug, Clone, PartialEq)]
pub struct Envelope {
    /// How long a stretch is.
    pub step: Seconds,
    /// (lowest, highest), full scale is 1.
    pub extremes: Vec<(f32, f32)>,
}

/// The aligned take after the second look: attack times, statuses and fitted grid are the refined ones.
#[derive(Debug, Clone, PartialEq)]
pub struct Measured {
    /// The alignment, with `played`, `uncertainty`, `expected`, `status`, offset and tempo refined.
    pub alignment: Alignment,
    /// One list a pass, one entry a note.
    pub notes: Vec<Vec<NoteMeasure>>,
    /// One an extra attack.
    pub extra: Vec<ExtraMeasure>,
    /// Every place beside the drill's notes where a string may have been struck, told or not, in order of time: what the
    /// rule for extras is fitted on.
    pub strokes: Vec<(Seconds, Stroke)>,
    /// What is weighed of each extra that may be another sound than a string's, told or set aside, and when it was played:
    /// what the rule for other sounds is fitted on.
    pub beginnings: Vec<(Seconds, [f64; 5])>,
    /// For plots.
    pub envelope: Envelope,
    /// The detector's own error, one standard deviation over the notes' stated uncertainties (root mean square).
    pub detector_sd: Millis,
}
