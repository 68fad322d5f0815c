//! `score --markers`: a take's notes on a DAW's time line.

use crate::fault::{Fault, Outcome};
use crate::{output, pipeline};
use std::path::Path;
use takegauge_audio::{ChannelChoice, Cue, TakeReader, WavFormat, WavWriter};
use takegauge_report::{Marker, jams, markers, markers_csv};
use takegauge_review::ScoreReport;

/// What a markers file is, by its ending.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    Wav,
    Csv,
    Jams,
}

impl Kind {
    /// # Errors
    /// An ending of no known kind, and the take itself, which is never written over.
    pub(crate) fn of(path: &Path, take: &Path) -> Outcome<Self> {
        let same = std::fs::canonicalize(path).ok().zip(std::fs::canonicalize(take).ok()).is_some_and(|(a, b)| a == b);
        if same {
            return Err(Fault::usage(format!("--markers {}: this is the take itself", path.display()))
                .advise("give the marked copy another name"));
        }
        let ending = path.extension().map(|e| e.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
        match ending.as_str() {
            "wav" => Ok(Self::Wav),
            "csv" => Ok(Self::Csv),
            "jams" => Ok(Self::Jams),
            _ => Err(Fault::usage(format!(
                "--markers {}: the ending chooses the kind: .wav, .csv or .jams",
                path.display()
            ))),
        }
    }
}

pub(crate) fn write(path: &Path, kind: Kind, take: &Path, channel: ChannelChoice, report: &ScoreReport) -> Outcome {
    match kind {
        Kind::Wav => copy(path, take, channel, report),
        Kind::Csv => output::write(path, markers_csv(&markers(report)).as_bytes()),
        Kind::Jams => output::write(path, jams(report).as_bytes()),
    }
}

/// The take as it was listened to, mono, at its own rate. 24 bits hold a decoded 16- or 24-bit take to the bit; a take
/// beyond full scale stays floating point, so that nothing is clipped.
fn copy(path: &Path, take: &Path, channel: ChannelChoice, report: &ScoreReport) -> Outcome {
    let peak_dbfs = report.recording.as_ref().map_or(0.0, |h| h.peak_dbfs);
    let format = if peak_dbfs < 0.0 { WavFormat::Int24 } else { WavFormat::Float32 };
    let mut reader = TakeReader::open(take, channel).map_err(pipeline::unreadable)?;
    let rate = reader.sample_rate();
    let mut copy = WavWriter::create(path, rate, 1, format).map_err(Fault::usage)?;
    let mut samples = 0u64;
    while let Some(block) = reader.next_block().map_err(pipeline::unreadable)? {
        copy.write(block).map_err(Fault::usage)?;
        samples += block.len() as u64;
    }
    // A note expected after the take's end is marked on its last sample.
    let last = samples.saturating_sub(1);
    let cue = |m: Marker| Cue { at: (rate.samples_in(m.at) as u64).min(last), label: m.label };
    let cues: Vec<Cue> = markers(report).into_iter().map(cue).collect();
    copy.finish_with_cues(&cues).map_err(Fault::usage)
}
