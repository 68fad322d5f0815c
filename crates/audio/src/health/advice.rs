//! From numbers to what a player should do.

use super::figures::{Health, Problem, ProblemKind};

/// Peaks below this are silence, dBFS.
const SILENT_PEAK_DBFS: f64 = -70.0;
/// Playing below this is quiet, dBFS.
const QUIET_DBFS: f64 = -50.0;
/// Signal to noise below this hides soft strokes, dB.
const NOISY_DB: f64 = 35.0;
/// A hum this near below the playing is worth a word, dB.
const HUM_BELOW_DB: f64 = 30.0;
/// Offset worth a word, share of full scale (-40 dBFS).
const OFFSET: f64 = 0.01;
/// A driven guitar's peaks stand this little above its rms within 50 ms, dB (a sine's: 3); a plain one's 7 to 16.
const DRIVEN_CREST_DB: f64 = 5.5;
/// So many of the sounding stretches within 1 dB of the highest peak are a limiter's work.
const LIMITED_SHARE: f64 = 0.5;

pub(super) fn limited_or_driven(crest_db: Option<f64>, near_peak_share: f64) -> bool {
    crest_db.is_some_and(|c| c < DRIVEN_CREST_DB) || near_peak_share > LIMITED_SHARE
}

/// What is wrong, the gravest first.
pub(super) fn problems(h: &Health) -> Vec<Problem> {
    // Nothing more can be said of silence.
    if let Some(silent) = silent(h) {
        return vec![silent];
    }
    let looks = [non_finite, clipped, noise, hum, echo, driven, hard_cuts, quiet, offset];
    looks.into_iter().filter_map(|look| look(h)).collect()
}

fn problem(kind: ProblemKind, text: String, advice: &str) -> Problem {
    Problem { kind, text, advice: advice.to_owned() }
}

fn silent(h: &Health) -> Option<Problem> {
    (h.peak_dbfs < SILENT_PEAK_DBFS).then(|| {
        problem(
            ProblemKind::Silent,
            format!("the take is silent (highest peak {:.0} dBFS)", h.peak_dbfs),
            "check the input, the channel (--channel) and that the right track was exported",
        )
    })
}

fn non_finite(h: &Health) -> Option<Problem> {
    (h.non_finite_samples > 0).then(|| {
        problem(
            ProblemKind::NonFinite,
            format!("{} samples are no number and were read as silence", h.non_finite_samples),
            "export the take again, as 24-bit WAV or FLAC",
        )
    })
}

fn clipped(h: &Health) -> Option<Problem> {
    (h.clipped_samples > 0).then(|| {
        problem(
            ProblemKind::Clipped,
            format!(
                "{} samples clipped in {} places, the first at {:.2} s",
                h.clipped_samples,
                h.clipped_runs,
                h.first_clipped_s.unwrap_or(0.0)
            ),
            "turn the input gain down until the hardest stroke peaks near -6 dBFS; levels of single notes are unsure \
             here",
        )
    })
}

fn noise(h: &Health) -> Option<Problem> {
    let snr = h.signal_to_noise_db.filter(|s| *s < NOISY_DB)?;
    let hissing = h.hum_dbfs.is_none_or(|hum| h.hiss_dbfs.is_some_and(|hiss| hiss > hum));
    hissing.then(|| {
        problem(
            ProblemKind::Noise,
            format!("the noise is only {snr:.0} dB below the playing"),
            "record direct or nearer to the microphone, with more level before the converter; soft strokes may go \
             unheard",
        )
    })
}

fn hum(h: &Health) -> Option<Problem> {
    let (hz, hum) = h.hum_hz.zip(h.hum_dbfs)?;
    let near = h.level_dbfs.is_some_and(|level| level - hum < HUM_BELOW_DB);
    near.then(|| {
        problem(
            ProblemKind::Hum,
            format!("mains hum at {hz:.0} Hz and its multiples, {hum:.0} dBFS"),
            "turn the guitar or move away from transformers and screens, check cable and ground",
        )
    })
}

fn echo(h: &Health) -> Option<Problem> {
    let (ms, db) = h.echo_ms.zip(h.echo_db)?;
    Some(problem(
        ProblemKind::Echo,
        format!(
            "something comes again exactly {ms:.0} ms later ({db:.0} dB against the sound): a delay effect, or a \
                 click that bleeds into the recording"
        ),
        "record without delay and reverb, with the click in closed headphones: copies can be taken for notes",
    ))
}

fn driven(h: &Health) -> Option<Problem> {
    h.limited_or_driven.then(|| {
        problem(
            ProblemKind::LimitedOrDriven,
            format!(
                "the level hardly moves (peaks {:.0} dB above the mean within a note): overdrive, a limiter or strong \
                 compression",
                h.crest_db.unwrap_or(0.0)
            ),
            "for timing this is fine; levels of strokes cannot be compared, so record clean or direct for those",
        )
    })
}

fn hard_cuts(h: &Health) -> Option<Problem> {
    (h.hard_cuts > 0).then(|| {
        problem(
            ProblemKind::HardCuts,
            format!(
                "the sound breaks off into digital silence {}, first at {:.2} s: an edit or a hard gate",
                if h.hard_cuts == 1 { "once".to_owned() } else { format!("{} times", h.hard_cuts) },
                h.first_hard_cut_s.unwrap_or(0.0)
            ),
            "score the take as it was recorded: unedited, gate off",
        )
    })
}

fn quiet(h: &Health) -> Option<Problem> {
    let level = h.level_dbfs.filter(|l| *l < QUIET_DBFS)?;
    Some(problem(
        ProblemKind::Quiet,
        format!("the playing is very quiet ({level:.0} dBFS)"),
        "raise the input gain until the hardest stroke peaks near -6 dBFS",
    ))
}

fn offset(h: &Health) -> Option<Problem> {
    (h.dc_offset.abs() > OFFSET && !h.limited_or_driven).then(|| {
        problem(
            ProblemKind::DcOffset,
            format!("a constant offset of {:.1} % of full scale", h.dc_offset * 100.0),
            "switch on the interface's or the DAW's DC or rumble filter",
        )
    })
}
