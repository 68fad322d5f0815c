//! A take scored from end to end.

use crate::error::TakeError;
use crate::hear::{FEW_ATTACKS, Heard, hear_for_scoring};
use crate::measure::{NoTap, Tap, measure};
use crate::progress::Progress;
use crate::request::{Click, Request};
use crate::tempo::tempo_in_name;
use crate::timebase::timebase;
use std::path::Path;
use takegauge_align::{AlignError, Alignment, Options, Timebase, align_told, refit};
use takegauge_audio::ChannelChoice;
use takegauge_drill::GridNote;
use takegauge_measure::{Measured, SecondLook};
use takegauge_review::{Input, Mode, ScoreReport, TakeSection};
use takegauge_units::Attack;

/// A take scored.
///
/// # Errors
/// Any [`TakeError`] but [`TakeError::NoPlace`].
pub fn score(request: &Request<'_>, progress: &dyn Progress) -> Result<ScoreReport, TakeError> {
    score_with(request, progress, &mut NoTap)
}

/// The same, with the samples of the second pass handed to `tap` as well.
///
/// # Errors
/// As [`score`], and where the tap fails.
pub fn score_with(request: &Request<'_>, progress: &dyn Progress, tap: &mut dyn Tap) -> Result<ScoreReport, TakeError> {
    let heard = hear(request, progress)?;
    score_heard(request, &heard, progress, tap)
}

/// The same of a take that was heard before, by [`hear_to_score`]: its first pass is not taken twice.
///
/// # Errors
/// As [`score_with`].
pub fn score_heard(
    request: &Request<'_>,
    heard: &Heard,
    progress: &dyn Progress,
    tap: &mut dyn Tap,
) -> Result<ScoreReport, TakeError> {
    let options = options(request, timebase(request, heard)?);
    let grid = request.drill.grid();
    let alignment = aligned(request, heard, &heard.attacks, &grid, &options, progress)?;
    let second = SecondLook::new(heard.rate, &grid, request.drill, alignment, &heard.attacks);
    let measured = measure(request.take, heard, second, progress, tap)?;
    Ok(report(request, heard, &grid, measured, &options.timebase))
}

/// The first pass of scoring alone, for a take whose drill is still to be told.
///
/// # Errors
/// A file that cannot be read.
pub fn hear_to_score(take: &Path, channel: ChannelChoice, progress: &dyn Progress) -> Result<Heard, TakeError> {
    hear_for_scoring(take.into(), channel, None, progress)
}

/// The first pass for a request.
pub(crate) fn hear(request: &Request<'_>, progress: &dyn Progress) -> Result<Heard, TakeError> {
    let click = match request.click {
        Click::Channel(c) => Some(c),
        _ => None,
    };
    hear_for_scoring(request.take, request.playing(), click, progress)
}

pub(crate) fn options(request: &Request<'_>, timebase: Timebase) -> Options {
    Options { tempo: request.tempo, tempo_in_name: tempo_in_name(request.called()), timebase }
}

pub(crate) fn aligned(
    request: &Request<'_>,
    heard: &Heard,
    attacks: &[Attack],
    grid: &[GridNote],
    options: &Options,
    progress: &dyn Progress,
) -> Result<Alignment, TakeError> {
    let mut told = |share| progress.seek(share).is_continue();
    align_told(attacks, heard.rate, grid, request.drill, options, &mut told).map_err(|source| match source {
        AlignError::Stopped => TakeError::Stopped,
        AlignError::NoFit { .. } if heard.strong() < FEW_ATTACKS.min(of_a_repeat(grid)) => {
            TakeError::TooShort { take: request.take.path().display().to_string(), attacks: heard.strong() }
        }
        source => TakeError::NotAligned { take: request.take.path().display().to_string(), source },
    })
}

/// Notes to pick in one repeat of the line.
fn of_a_repeat(grid: &[GridNote]) -> usize {
    grid.iter().filter(|n| n.repeat == 0 && n.picked()).count()
}

/// The report of what was measured.
pub(crate) fn report(
    request: &Request<'_>,
    heard: &Heard,
    grid: &[GridNote],
    mut measured: Measured,
    timebase: &Timebase,
) -> ScoreReport {
    // The second look moved the attacks; the grid follows them.
    refit(&mut measured.alignment, grid, request.drill, timebase);
    let mut warnings = heard.warnings.clone();
    let problems = heard.health.iter().flat_map(|h| &h.problems);
    warnings.extend(problems.map(|p| format!("{}; {}", p.text, p.advice)));
    let driven = heard.health.as_ref().is_some_and(|h| h.limited_or_driven);
    let level_withheld =
        driven.then(|| "the recording is driven or limited, so levels say nothing about the strokes".to_owned());
    takegauge_review::score(&Input {
        drill: request.drill,
        grid,
        measured: &measured,
        take: TakeSection {
            path: heard.take.path.clone(),
            sample_rate_hz: heard.rate.hz(),
            channels: heard.take.channels,
            channel_used: heard.channel_used.clone(),
            duration_s: (heard.take.duration_s.0 * 1e6).round() / 1e6,
        },
        recording: heard.health.clone(),
        warnings,
        first_stroke: request.drill.first_stroke,
        mode: if *timebase == Timebase::Steady { Mode::Steady } else { Mode::Click },
        asked_tempo: request.tempo.or_else(|| tempo_in_name(request.called())),
        after_slip: request.after_slip,
        latency: request.delay,
        level_withheld,
        seed: request.seed,
        version: env!("CARGO_PKG_VERSION"),
        with_waveform: request.waveform,
    })
}
