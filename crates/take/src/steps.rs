//! One long recording to a rising click, scored step by step; it too is read once to listen and once to measure.

use crate::error::TakeError;
use crate::hear::Heard;
use crate::measure::{Look, measure_stretches};
use crate::progress::Progress;
use crate::request::{Click, Request};
use crate::score::{aligned, hear, options, report};
use crate::timebase::even_beats;
use takegauge_align::{Options, Timebase};
use takegauge_click::{ClickStep, offset};
use takegauge_drill::{Drill, GridNote};
use takegauge_measure::SecondLook;
use takegauge_review::ScoreReport;
use takegauge_units::{Attack, Bpm, Seconds};

/// A player to a click is rarely further off than this (common practice, no source).
const WITHIN: Seconds = Seconds(0.03);
/// Notes that must be found where a beginning puts them, in a hundred.
const ENOUGH_PCT: usize = 40;
/// What follows the last step's last note still belongs to it.
const TAIL: Seconds = Seconds(2.0);

/// Where in a take its click track began.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Began {
    /// The track's first sample, in the take's time.
    pub at: Seconds,
    /// Notes of the steps that fall near their places there.
    pub fits: usize,
    /// Notes of all steps.
    pub notes: usize,
}

/// A step that could not be scored.
#[derive(Debug)]
pub struct LeftOut {
    /// Its place in the list, from 0.
    pub step: usize,
    /// Its tempo.
    pub tempo: Bpm,
    /// Why.
    pub why: TakeError,
}

/// A step that was scored.
#[derive(Debug)]
pub struct StepScore {
    /// Its place in the list, from 0.
    pub step: usize,
    /// The drill as the step asks for it: at its tempo, with its repeats.
    pub drill: Drill,
    /// Its report, in the times of the whole recording; its path names the step.
    pub report: ScoreReport,
}

/// What became of the steps.
#[derive(Debug)]
pub struct StepScores {
    /// The steps that could be scored, in order.
    pub scored: Vec<StepScore>,
    /// The other steps.
    pub left_out: Vec<LeftOut>,
    /// Where the click track began, where that was sought.
    pub began: Option<Began>,
}

/// A step on its way.
struct Step<'a> {
    number: usize,
    drill: Drill,
    grid: Vec<GridNote>,
    attacks: &'a [Attack],
    until: Seconds,
    options: Options,
}

/// Steps of the line over all repeats of all steps of a table: twelve hours of the fastest playing.
const MOST_NOTES: usize = 1_000_000;

/// Scores each step of one recording. Where the request says when the first step's notes begin ([`Click::Start`]) the
/// grid is the click's, else the beginning is sought and every step's grid fitted.
///
/// # Errors
/// A take that cannot be read, and [`TakeError::NoPlace`].
pub fn score_steps(
    request: &Request<'_>,
    steps: &[ClickStep],
    progress: &dyn Progress,
) -> Result<StepScores, TakeError> {
    let heard = hear(request, progress)?;
    // Each step's grid is made: a table of a thousand steps of a thousand repeats asks for more than any take holds.
    let notes = request.drill.line.len().saturating_mul(steps.iter().map(|s| s.repeats as usize).sum());
    if notes > MOST_NOTES {
        return Err(TakeError::TooManySteps { notes, most: MOST_NOTES });
    }
    let (begins, began) = match (&request.click, steps.first()) {
        (Click::Start(notes), Some(first)) => (*notes - first.notes_from, None),
        _ => {
            let began = begins(&heard, request.drill, steps)?;
            (began.at, Some(began))
        }
    };
    let prepared: Vec<Step<'_>> = (0..steps.len()).map(|i| step(request, &heard, steps, i, begins)).collect();
    let (mut looks, mut scored, mut left_out) = (Vec::new(), Vec::new(), Vec::new());
    for step in &prepared {
        let at_step = at_step(request, step);
        match aligned(&at_step, &heard, step.attacks, &step.grid, &step.options, progress) {
            Ok(alignment) => {
                let second = SecondLook::new(heard.rate, &step.grid, &step.drill, alignment, step.attacks);
                looks.push(Look { second, until: step.until });
                scored.push(step);
            }
            Err(TakeError::Stopped) => return Err(TakeError::Stopped),
            Err(why) => left_out.push(LeftOut { step: step.number, tempo: step.drill.tempo, why }),
        }
    }
    let measured = measure_stretches(request.take, &heard, looks, progress)?;
    let scored = scored.into_iter().zip(measured).map(|(step, measured)| {
        let mut report = report(&at_step(request, step), &heard, &step.grid, measured, &step.options.timebase);
        report.take.path = format!("{}, step {}", heard.take.path, step.number + 1);
        StepScore { step: step.number, drill: step.drill.clone(), report }
    });
    Ok(StepScores { scored: scored.collect(), left_out, began })
}

/// The request as one step asks it.
fn at_step<'a>(request: &Request<'a>, step: &'a Step<'_>) -> Request<'a> {
    Request { drill: &step.drill, tempo: Some(step.drill.tempo), ..request.clone() }
}

/// The step at `i`, cut out in the middle of the rests around it.
fn step<'a>(request: &Request<'_>, heard: &'a Heard, steps: &[ClickStep], i: usize, begins: Seconds) -> Step<'a> {
    let this = &steps[i];
    let from = match i.checked_sub(1).and_then(|b| steps.get(b)) {
        Some(before) => begins + (before.notes_to + this.notes_from) * 0.5,
        None => begins + this.click_from,
    };
    let until = begins + steps.get(i + 1).map_or(this.notes_to + TAIL, |n| (this.notes_to + n.notes_from) * 0.5);
    // A table may go on beyond the take.
    let until = if until > heard.take.duration_s { heard.take.duration_s } else { until };
    let drill = drill_of(request.drill, this);
    let timebase = match request.click {
        Click::Start(_) => Timebase::Click(even_beats(begins + this.notes_from, Seconds(drill.beat_seconds()), until)),
        _ => Timebase::Steady,
    };
    let options = options(&Request { tempo: Some(this.tempo), ..request.clone() }, timebase);
    let grid = drill.grid();
    Step { number: i, drill, grid, attacks: between(heard, from, until), until, options }
}

/// The drill as one step asks for it.
fn drill_of(drill: &Drill, step: &ClickStep) -> Drill {
    Drill { tempo: step.tempo, repeats: step.repeats, ..drill.clone() }
}

/// Where in the take the click track began: where most notes fall on their places.
fn begins(heard: &Heard, drill: &Drill, steps: &[ClickStep]) -> Result<Began, TakeError> {
    let attacks: Vec<Seconds> =
        heard.attacks.iter().filter(|a| a.strength >= 1.0).map(|a| a.at.seconds(heard.rate)).collect();
    let notes = |step: &ClickStep| -> Vec<Seconds> {
        let grid = drill_of(drill, step).grid();
        grid.iter().filter(|n| n.picked()).map(|n| step.notes_from + n.expected).collect()
    };
    let expected: Vec<Seconds> = steps.iter().flat_map(notes).collect();
    let track = steps.last().map_or(Seconds(0.0), |s| s.notes_to);
    let found = offset(&attacks, &expected, (-track, heard.take.duration_s), WITHIN);
    let fits = found.as_ref().map_or(0, |f| f.pairs.len());
    match found {
        Some(f) if 100 * fits >= ENOUGH_PCT * expected.len() => Ok(Began { at: f.at, fits, notes: expected.len() }),
        _ => Err(TakeError::NoPlace { take: heard.take.path.clone(), fits, notes: expected.len() }),
    }
}

fn between(heard: &Heard, from: Seconds, until: Seconds) -> &[Attack] {
    let first = heard.attacks.partition_point(|a| a.at.seconds(heard.rate) < from);
    let end = heard.attacks.partition_point(|a| a.at.seconds(heard.rate) < until);
    heard.attacks.get(first..end).unwrap_or(&[])
}
