//! The way through: take file -> attacks -> alignment -> second look -> report. Every command that scores calls this.

use crate::fault::{Fault, Outcome};
use indicatif::ProgressBar;
use std::path::{Path, PathBuf};
use takegauge_align::{Options as AlignOptions, Timebase, align, refit};
use takegauge_audio::{AudioError, ChannelChoice, Health, HealthMeter, TakeReader};
use takegauge_click::{ClickEar, beats_heard};
use takegauge_drill::Drill;
use takegauge_listen::{Listener, Options};
use takegauge_measure::SecondLook;
use takegauge_review::{Input, Mode, ScoreReport, TakeSection};
use takegauge_units::{Attack, Bpm, Decibels, Instant, Millis, SampleRate, Seconds, TakeInfo};

/// What was heard in a take without knowing any drill.
pub(crate) struct Heard {
    pub(crate) take: TakeInfo,
    pub(crate) rate: SampleRate,
    pub(crate) channel_used: String,
    /// All candidates, the faint ones (strength below 1) included, in order of time.
    pub(crate) attacks: Vec<Attack>,
    /// Recording health, where it was asked for.
    pub(crate) health: Option<Health>,
    pub(crate) warnings: Vec<String>,
}

/// A file that cannot be read: exit code 2.
pub(crate) fn unreadable(e: AudioError) -> Fault {
    Fault::usage(e)
}

/// Reads `--channel`.
pub(crate) fn channel(text: &str) -> Outcome<ChannelChoice> {
    text.parse().map_err(|e| Fault::usage(format!("--channel: {e}")))
}

/// How much to listen for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Ear {
    /// The attacks alone.
    Blind,
    /// Also the candidates below the blind threshold, and the recording's health.
    ForScoring,
}

/// Listens to a whole take.
pub(crate) fn hear(path: &Path, choice: ChannelChoice, ear: Ear, bar: &ProgressBar) -> Outcome<Heard> {
    let mut reader = TakeReader::open(path, choice).map_err(unreadable)?;
    let rate = reader.sample_rate();
    if let Some(frames) = reader.declared_frames() {
        bar.set_length(frames);
    }
    let mut listener = Listener::new(rate, Options { pitch: ear == Ear::ForScoring });
    let mut meter = (ear == Ear::ForScoring).then(|| HealthMeter::new(rate));
    while let Some(block) = reader.next_block().map_err(unreadable)? {
        listener.push(block);
        if let Some(meter) = &mut meter {
            meter.push(block);
        }
        bar.inc(block.len() as u64);
    }
    let channel_used = reader.channel_note();
    let summary = reader.finish();
    let attacks = if ear == Ear::Blind { listener.finish() } else { listener.finish_all() };
    let health = meter.map(|m| m.finish(summary.non_finite_samples));
    Ok(Heard { take: summary.info, rate, channel_used, attacks, health, warnings: summary.warnings })
}

/// The clicks of a file, in its own time, with their levels.
pub(crate) fn clicks(path: &Path, choice: ChannelChoice) -> Outcome<Vec<(Seconds, Decibels)>> {
    let mut reader = TakeReader::open(path, choice).map_err(unreadable)?;
    let mut ear = ClickEar::new(reader.sample_rate());
    while let Some(block) = reader.next_block().map_err(unreadable)? {
        ear.push(block);
    }
    Ok(ear.finish())
}

/// The beats of a click channel or file, in the take's own time, up to its end.
fn hear_clicks(path: &Path, choice: ChannelChoice, request: &Request<'_>, until: Seconds) -> Outcome<Vec<Seconds>> {
    let clicks = clicks(path, choice)?;
    let tempo = request.tempo.or_else(|| tempo_in_name(request.take)).unwrap_or(request.drill.tempo);
    beats_heard(&clicks, request.drill, tempo, until).map_err(|e| {
        Fault::usage(format!("{}: {e}", path.display()))
            .advise("check --click-channel or --click-file, or give --click-start in seconds")
    })
}

/// A time rounded as JSON shows it: 1 us.
pub(crate) fn seconds(at: Instant, rate: SampleRate) -> f64 {
    round(at.seconds(rate).0, 1e6)
}

/// `x` rounded to the given steps a unit; what is not finite becomes 0.
pub(crate) fn round(x: f64, steps: f64) -> f64 {
    let r = (x * steps).round() / steps;
    if r.is_finite() { r + 0.0 } else { 0.0 }
}

/// Where the click of a take is, if it was played to one.
#[derive(Debug, Clone)]
pub(crate) enum Click {
    /// No click: offset and tempo are fitted.
    None,
    /// The drill's first beat is this long after the file's start.
    Start(Seconds),
    /// The click is on another channel of the take.
    Channel(ChannelChoice),
    /// The click is in a file that starts with the take.
    File(PathBuf),
}

/// A take to score, and how.
pub(crate) struct Request<'a> {
    pub(crate) take: &'a Path,
    /// What the take was called where it came from, if its file here has another name.
    pub(crate) name: Option<&'a Path>,
    pub(crate) drill: &'a Drill,
    pub(crate) channel: ChannelChoice,
    pub(crate) tempo: Option<Bpm>,
    pub(crate) click: Click,
    /// The set-up's measured delay.
    pub(crate) delay: Option<Millis>,
    pub(crate) seed: u64,
    /// Keep the outline of the waveform in the report.
    pub(crate) waveform: bool,
}

/// What of a take is scored.
pub(crate) struct Stretch<'a> {
    /// Its attacks, the faint ones included.
    pub(crate) attacks: &'a [Attack],
    /// Nothing after this belongs to it; `None` for the take's end.
    pub(crate) until: Option<Seconds>,
    pub(crate) timebase: Timebase,
}

/// A take scored.
pub(crate) fn score(request: &Request<'_>, bar: &ProgressBar) -> Outcome<ScoreReport> {
    let heard = hear(request.take, request.channel, Ear::ForScoring, bar)?;
    let timebase = timebase(request, heard.take.duration_s)?;
    bar.set_position(0);
    bar.set_message("measuring");
    judge(request, &heard, Stretch { attacks: &heard.attacks, until: None, timebase }, bar)
}

/// A stretch of a take that was heard already, scored.
pub(crate) fn judge(
    request: &Request<'_>,
    heard: &Heard,
    stretch: Stretch<'_>,
    bar: &ProgressBar,
) -> Outcome<ScoreReport> {
    let Stretch { attacks, until, timebase } = stretch;
    let grid = request.drill.grid();
    let mode = if timebase == Timebase::Steady { Mode::Steady } else { Mode::Click };
    let options = AlignOptions {
        tempo: request.tempo,
        tempo_in_name: tempo_in_name(request.name.unwrap_or(request.take)),
        timebase,
    };
    let alignment = align(attacks, heard.rate, &grid, request.drill, &options)
        .map_err(|e| Fault::not_scored(e).about(request.take.display()))?;
    let mut reader = TakeReader::open(request.take, request.channel).map_err(unreadable)?;
    let mut second_look = SecondLook::new(heard.rate, &grid, request.drill, alignment, attacks);
    let mut read = 0usize;
    while let Some(block) = reader.next_block().map_err(unreadable)? {
        second_look.push(block);
        read += block.len();
        bar.inc(block.len() as u64);
        if until.is_some_and(|u| read > heard.rate.samples_in(u)) {
            break;
        }
    }
    let mut measured = second_look.finish();
    // The second look moved the attacks; the grid follows them.
    refit(&mut measured.alignment, &grid, request.drill, &options.timebase);
    let mut warnings = heard.warnings.clone();
    let problems = heard.health.iter().flat_map(|h| &h.problems);
    warnings.extend(problems.map(|p| format!("{} {}", p.text, p.advice)));
    let driven = heard.health.as_ref().is_some_and(|h| h.limited_or_driven);
    let level_withheld =
        driven.then(|| "the recording is driven or limited, so levels say nothing about the strokes".to_owned());
    Ok(takegauge_review::score(&Input {
        drill: request.drill,
        grid: &grid,
        measured: &measured,
        take: TakeSection {
            path: heard.take.path.clone(),
            sample_rate_hz: heard.rate.hz(),
            channels: heard.take.channels,
            channel_used: heard.channel_used.clone(),
            duration_s: round(heard.take.duration_s.0, 1e6),
        },
        recording: heard.health.clone(),
        warnings,
        first_stroke: request.drill.first_stroke,
        mode,
        latency: request.delay,
        level_withheld,
        seed: request.seed,
        version: env!("CARGO_PKG_VERSION"),
        with_waveform: request.waveform,
    }))
}

/// The grid's time base: fitted, or given by a click.
fn timebase(request: &Request<'_>, duration: Seconds) -> Outcome<Timebase> {
    match &request.click {
        Click::None => Ok(Timebase::Steady),
        Click::Start(first) => {
            let faster = request.tempo.map_or(1.0, |t| t.0 / request.drill.tempo.0);
            let beat = request.drill.step_seconds().0 * f64::from(request.drill.steps_per_beat.max(1)) / faster;
            if first.0 >= duration.0 {
                return Err(Fault::usage(format!(
                    "--click-start: the take ends at {:.2} s, before the time given",
                    duration.0
                )));
            }
            Ok(Timebase::Click(even_beats(*first, Seconds(beat), duration)))
        }
        Click::Channel(c) => hear_clicks(request.take, *c, request, duration).map(Timebase::Click),
        Click::File(path) => hear_clicks(path, ChannelChoice::Auto, request, duration).map(Timebase::Click),
    }
}

/// Beats of one length from `first` on, up to `until`; at least three.
pub(crate) fn even_beats(first: Seconds, beat: Seconds, until: Seconds) -> Vec<Seconds> {
    let beats = (((until.0 - first.0) / beat.0).ceil() as usize).max(2);
    (0..=beats).map(|k| first + beat * k as f64).collect()
}

/// The last number from 40 to 320 in a file's name, which may be its tempo.
pub(crate) fn tempo_in_name(path: &Path) -> Option<Bpm> {
    let name = path.file_stem()?.to_string_lossy().into_owned();
    let mut numbers = name.split(|c: char| !c.is_ascii_digit() && c != '.').filter_map(|s| s.parse::<f64>().ok());
    numbers.rfind(|n| (40.0..=320.0).contains(n)).map(Bpm)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tempo_in_the_name_is_found_and_a_year_or_a_take_number_is_not() {
        let find = |n: &str| tempo_in_name(Path::new(n)).map(|b| b.0);
        assert_eq!(find("ladder_160.wav"), Some(160.0));
        assert_eq!(find("2026-11-25 take 3.wav"), None);
        assert_eq!(find("rolls 132.5 bpm.flac"), Some(132.5));
        assert_eq!(find("48000.wav"), None);
    }
}
