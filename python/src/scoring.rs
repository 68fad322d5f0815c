//! Hearing and scoring takes, with the interpreter's lock let go.

use crate::drill::Drill;
use crate::fault::{self, arguments, input, not_scored, word};
use crate::reports::{Ladder, Onsets, Score};
use crate::samples::Samples;
use crate::table::Table;
use crate::watch::Watch;
use pyo3::prelude::*;
use std::path::PathBuf;
use takegauge_audio::{ChannelChoice, Recording, path_text};
use takegauge_drill::Stroke;
use takegauge_review::many::{TakeOutcome, Unscored};
use takegauge_review::{AfterSlip, ScoreReport};
use takegauge_take::{Click, OnsetsReport, Request, TakeError};
use takegauge_units::Millis;

/// Where a take is.
#[derive(FromPyObject)]
pub(crate) enum Take {
    Samples(Py<Samples>),
    File(PathBuf),
}

impl Take {
    fn recording(&self) -> Recording<'_> {
        match self {
            Self::Samples(samples) => (&samples.get().0).into(),
            Self::File(path) => path.into(),
        }
    }
}

fn channel(option: &str, text: &str) -> PyResult<ChannelChoice> {
    text.parse().map_err(|e| input(format!("{option}: {e}")))
}

#[pyfunction]
pub(crate) fn onsets(py: Python<'_>, take: Take, channel_text: &str, progress: Option<Py<PyAny>>) -> PyResult<Onsets> {
    let channel = channel("channel", channel_text)?;
    let heard = py.detach(|| {
        let watch = Watch::new(progress);
        takegauge_take::hear(take.recording(), channel, &watch).map_err(|e| watch.fault(e))
    })?;
    Ok(Onsets(OnsetsReport::of(&heard)))
}

/// How takes are scored, as Python gives it.
#[derive(FromPyObject)]
#[pyo3(from_item_all)]
pub(crate) struct Options {
    tempo: Option<f64>,
    first_stroke: Option<String>,
    channel: String,
    click_start: Option<f64>,
    click_channel: Option<String>,
    click_file: Option<PathBuf>,
    delay_ms: Option<f64>,
    after_slip: String,
    seed: u64,
    waveform: bool,
}

impl Options {
    fn click(&self) -> PyResult<Click> {
        match (self.click_start, &self.click_channel, &self.click_file) {
            (None, None, None) => Ok(Click::None),
            (Some(s), None, None) => takegauge_take::click_start(s).map_err(|e| input(format!("click_start={e}"))),
            (None, Some(c), None) => channel("click_channel", c).map(Click::Channel),
            (None, None, Some(file)) => Ok(Click::File(file.clone())),
            _ => Err(input("give one of click_start, click_channel and click_file")),
        }
    }

    fn after_slip(&self) -> PyResult<AfterSlip> {
        match self.after_slip.as_str() {
            "keep" => Ok(AfterSlip::Keep),
            "drop" => Ok(AfterSlip::Drop),
            other => Err(input(format!("after_slip={other:?}: give \"keep\" or \"drop\""))),
        }
    }

    fn delay(&self) -> PyResult<Option<Millis>> {
        let delay = self.delay_ms.map(takegauge_take::delay).transpose();
        delay.map_err(|e| input(format!("delay_ms={e}")))
    }
}

/// A take scored, or why it is not. What is wrong with the options is raised, and so is what stopped the work.
fn scored(
    py: Python<'_>,
    take: &Take,
    drill: &Drill,
    options: &Bound<'_, PyAny>,
    progress: Option<Py<PyAny>>,
) -> PyResult<Result<ScoreReport, TakeError>> {
    let options: Options = arguments(options)?;
    let mut drill = drill.drill.clone();
    if let Some(stroke) = &options.first_stroke {
        drill.first_stroke = word::<Stroke>("first_stroke", stroke)?;
    }
    let tempo = options.tempo.map(takegauge_take::tempo).transpose().map_err(|e| input(format!("tempo={e}")))?;
    let (click, after_slip, delay) = (options.click()?, options.after_slip()?, options.delay()?);
    let channel = channel("channel", &options.channel)?;
    let (seed, waveform) = (options.seed, options.waveform);
    py.detach(|| {
        let watch = Watch::new(progress);
        let like = Request::new(take.recording(), &drill);
        let request = Request { channel, tempo, after_slip, click, delay, seed, waveform, ..like };
        match takegauge_take::score(&request, &watch) {
            Err(e @ TakeError::Stopped) => Err(watch.fault(e)),
            told => Ok(told),
        }
    })
}

#[pyfunction]
pub(crate) fn score(
    py: Python<'_>,
    take: Take,
    drill: &Drill,
    options: &Bound<'_, PyAny>,
    progress: Option<Py<PyAny>>,
) -> PyResult<Score> {
    scored(py, &take, drill, options, progress)?.map(Score).map_err(fault::take)
}

/// A take's rows in the tables of many takes: one of the take, and those of its notes. `called` stands for the take's
/// own path, in the reason why there is no score too.
#[pyfunction]
pub(crate) fn rows(
    py: Python<'_>,
    take: Take,
    drill: &Drill,
    options: &Bound<'_, PyAny>,
    called: Option<&str>,
) -> PyResult<(Table, Table)> {
    let own = path_text(take.recording().path());
    let path = called.unwrap_or(&own);
    let score = scored(py, &take, drill, options, None)?.map_err(|e| (e.kind(), e.to_string().replace(&own, path)));
    tables(&TakeOutcome { path, score: score.as_ref().map_err(|(kind, why)| (*kind, why.as_str())) })
}

/// The same of a take that has no drill, or of none at all.
#[pyfunction]
pub(crate) fn no_rows(take: PathBuf, why: &str) -> PyResult<(Table, Table)> {
    tables(&TakeOutcome { path: &path_text(&take), score: Err((Unscored::NoDrill, why)) })
}

fn tables(take: &TakeOutcome<'_>) -> PyResult<(Table, Table)> {
    Ok((Table::of(take.take_sheet())?, Table::of(take.note_sheet())?))
}

#[pyfunction]
pub(crate) fn ladder(py: Python<'_>, scores: Vec<Py<Score>>, seed: u64) -> PyResult<Ladder> {
    let report = py.detach(|| {
        let reports: Vec<_> = scores.iter().map(|s| s.get().0.clone()).collect();
        takegauge_review::ladder(&reports, seed)
    });
    report.map(Ladder).map_err(not_scored)
}
