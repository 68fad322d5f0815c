//! What is made of a take's sound beside its report, from the one pass that measures it: the copy with markers for a
//! DAW's time line, and the sound inside an HTML report.

use crate::fault::{Fault, Outcome};
use crate::output;
use std::path::Path;
use takegauge_audio::{AudioError, Cue, EmbeddedSound, SoundEncoder, WavFormat, WavWriter};
use takegauge_report::{Marker, Sound, address_from, jams, markers, markers_csv, score_html_filmed, score_html_with};
use takegauge_review::ScoreReport;
use takegauge_take::{Heard, Tap};
use takegauge_units::SampleRate;

/// What a markers file is, by its ending.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Wav,
    Csv,
    Jams,
}

impl Kind {
    /// # Errors
    /// An ending of no known kind, and the take itself, which is never written over.
    fn of(path: &Path, take: &Path) -> Outcome<Self> {
        let same = std::fs::canonicalize(path).ok().zip(std::fs::canonicalize(take).ok()).is_some_and(|(a, b)| a == b);
        if same {
            return Err(Fault::usage(format!("--markers {}: this is the take itself", path.display()))
                .advise("give the marked copy another name"));
        }
        let ending = path.extension().map(|e| e.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
        match ending.as_str() {
            "wav" => {
                output::keep_what_is_there(path)?;
                Ok(Self::Wav)
            }
            "csv" => Ok(Self::Csv),
            "jams" => Ok(Self::Jams),
            _ => Err(Fault::usage(format!(
                "--markers {}: the ending chooses the kind: .wav, .csv or .jams",
                path.display()
            ))),
        }
    }
}

/// Takes along what is asked for.
pub(crate) struct Beside<'a> {
    markers: Option<(&'a Path, Kind)>,
    copy: Option<WavWriter>,
    /// Whether its sound is wanted, and what makes it.
    wants_sound: bool,
    sound: Option<SoundEncoder>,
    rate: Option<SampleRate>,
    samples: u64,
}

impl<'a> Beside<'a> {
    /// Nothing but the samples.
    pub(crate) fn with_sound() -> Self {
        Self { markers: None, copy: None, wants_sound: true, sound: None, rate: None, samples: 0 }
    }

    /// # Errors
    /// As [`Kind::of`].
    pub(crate) fn new(markers: Option<&'a Path>, sound: bool, take: &Path) -> Outcome<Self> {
        let markers = markers.map(|path| Kind::of(path, take).map(|kind| (path, kind))).transpose()?;
        Ok(Self { markers, wants_sound: sound, ..Self::with_sound() })
    }

    /// Writes the markers of a take that was scored; its sound, where that was asked for.
    pub(crate) fn finish(self, report: &ScoreReport) -> Outcome<Option<EmbeddedSound>> {
        match (self.markers, self.copy) {
            (Some((path, Kind::Csv)), _) => output::write(path, markers_csv(&markers(report)).as_bytes())?,
            (Some((path, Kind::Jams)), _) => output::write(path, jams(report).as_bytes())?,
            (_, Some(copy)) => copy.finish_with_cues(&cues(report, self.rate, self.samples)).map_err(Fault::usage)?,
            _ => {}
        }
        self.sound.map(SoundEncoder::finish).transpose().map_err(Fault::usage)
    }
}

fn cues(report: &ScoreReport, rate: Option<SampleRate>, samples: u64) -> Vec<Cue> {
    let Some(rate) = rate else { return Vec::new() };
    // A note expected after the take's end is marked on its last sample.
    let last = samples.saturating_sub(1);
    let cue = |m: Marker| Cue { at: (rate.samples_in(m.at) as u64).min(last), label: m.label };
    markers(report).into_iter().map(cue).collect()
}

/// Writes the report as one HTML file, the sound inside it where there is one; a film stays where it is.
pub(crate) fn html(path: &Path, report: &ScoreReport, sound: Option<EmbeddedSound>) -> Outcome {
    let film = report.camera.as_ref().and_then(|c| film_from(path, Path::new(&c.path)));
    let Some(mut sound) = sound else {
        return output::write(path, score_html_filmed(report, film.as_deref()).as_bytes());
    };
    let media_type = sound.media_type;
    let mut bytes = sound.reader().map_err(Fault::usage)?;
    let sound = Sound { bytes: &mut bytes, media_type };
    output::stream(path, |out| score_html_with(report, sound, film.as_deref(), out))
}

/// The address of a film as seen from a report.
fn film_from(report: &Path, film: &Path) -> Option<String> {
    // The folder is there before the report is, and may be reached through a link.
    let report = std::path::absolute(report).ok()?;
    let folder = std::fs::canonicalize(report.parent()?).ok()?;
    address_from(&folder.join(report.file_name()?), &std::fs::canonicalize(film).ok()?)
}

impl Tap for Beside<'_> {
    /// The copy is the take as it was listened to, mono, at its own rate. 24 bits hold a decoded 16- or 24-bit take to
    /// the bit; a take beyond full scale stays floating point, so that nothing is clipped.
    fn begin(&mut self, heard: &Heard) -> Result<(), AudioError> {
        self.rate = Some(heard.rate);
        if let Some((path, Kind::Wav)) = self.markers {
            let full = heard.health.as_ref().is_none_or(|h| h.peak_dbfs >= 0.0);
            let format = if full { WavFormat::Float32 } else { WavFormat::Int24 };
            let frames = heard.rate.samples_in(heard.take.duration_s) as u64;
            self.copy = Some(WavWriter::for_frames(path, heard.rate, 1, format, frames)?);
        }
        if self.wants_sound {
            self.sound = Some(SoundEncoder::new(heard.rate)?);
        }
        Ok(())
    }

    fn samples(&mut self, block: &[f32]) -> Result<(), AudioError> {
        self.samples += block.len() as u64;
        if let Some(copy) = &mut self.copy {
            copy.write(block)?;
        }
        if let Some(sound) = &mut self.sound {
            sound.push(block)?;
        }
        Ok(())
    }
}
