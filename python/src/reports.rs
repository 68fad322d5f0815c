//! Reports: JSON text as the program writes it, tables, words, figures.

use crate::fault::input;
use crate::table::Table;
use pyo3::prelude::*;
use takegauge_report::{Format, PlotError, Size, Style, json};
use takegauge_review::{LadderReport, ScoreReport};
use takegauge_take::OnsetsReport;

/// The attacks of a take.
#[pyclass(frozen, module = "takegauge._engine")]
pub(crate) struct Onsets(pub(crate) OnsetsReport);

#[pymethods]
impl Onsets {
    fn to_json(&self, py: Python<'_>) -> String {
        py.detach(|| json(&self.0))
    }

    #[getter]
    fn onsets(&self) -> PyResult<Table> {
        Table::of(self.0.sheet())
    }
}

/// How text is set.
pub(crate) fn style() -> Style {
    Style { width: 100, bold: false, every_group: true }
}

/// A plot, as SVG or PNG.
fn plot<R>(of: fn(&R, Size, Format) -> Result<Vec<u8>, PlotError>, report: &R, format: &str) -> PyResult<Vec<u8>> {
    let format = Format::of(std::path::Path::new(&format!("plot.{format}"))).map_err(input)?;
    of(report, Size::default(), format).map_err(input)
}

/// A take scored.
#[pyclass(frozen, module = "takegauge._engine")]
pub(crate) struct Score(pub(crate) ScoreReport);

#[pymethods]
impl Score {
    /// What the program wrote.
    #[staticmethod]
    fn from_json(py: Python<'_>, text: &str) -> PyResult<Self> {
        let read = py.detach(|| ScoreReport::from_json(text));
        read.map(Self).map_err(|e| input(format!("this is no score as takegauge writes it: {e}")))
    }

    fn to_json(&self, py: Python<'_>) -> String {
        py.detach(|| json(&self.0))
    }

    #[getter]
    fn notes(&self) -> PyResult<Table> {
        Table::of(self.0.note_sheet())
    }

    #[getter]
    fn groups(&self) -> PyResult<Table> {
        Table::of(self.0.group_sheet())
    }

    #[getter]
    fn changes(&self) -> PyResult<Table> {
        Table::of(self.0.change_sheet())
    }

    fn to_jams(&self, py: Python<'_>) -> String {
        py.detach(|| takegauge_report::jams(&self.0))
    }

    fn to_text(&self, py: Python<'_>) -> String {
        py.detach(|| takegauge_report::score_text(&self.0, style()))
    }

    fn to_html(&self, py: Python<'_>) -> String {
        py.detach(|| takegauge_report::score_html(&self.0))
    }

    fn card(&self, py: Python<'_>) -> String {
        py.detach(|| takegauge_report::score_card(&self.0))
    }

    /// `which` is "take" or "changes".
    fn plot(&self, py: Python<'_>, which: &str, format: &str) -> PyResult<Vec<u8>> {
        match which {
            "take" => py.detach(|| plot(takegauge_report::take_plot, &self.0, format)),
            "changes" => py.detach(|| plot(takegauge_report::changes_plot, &self.0, format)),
            other => Err(input(format!("which={other:?}: give \"take\" or \"changes\""))),
        }
    }
}

/// One drill at rising tempos.
#[pyclass(frozen, module = "takegauge._engine")]
pub(crate) struct Ladder(pub(crate) LadderReport);

#[pymethods]
impl Ladder {
    /// What the program wrote.
    #[staticmethod]
    fn from_json(py: Python<'_>, text: &str) -> PyResult<Self> {
        let read = py.detach(|| serde_json::from_str(text));
        read.map(Self).map_err(|e| input(format!("this is no ladder as takegauge writes it: {e}")))
    }

    fn to_json(&self, py: Python<'_>) -> String {
        py.detach(|| json(&self.0))
    }

    #[getter]
    fn by_tempo(&self) -> PyResult<Table> {
        Table::of(self.0.sheet())
    }

    fn to_text(&self, py: Python<'_>) -> String {
        py.detach(|| takegauge_report::ladder_text(&self.0, style()))
    }

    fn to_html(&self, py: Python<'_>) -> String {
        py.detach(|| takegauge_report::ladder_html(&self.0))
    }

    fn card(&self, py: Python<'_>) -> String {
        py.detach(|| takegauge_report::ladder_card(&self.0))
    }

    fn plot(&self, py: Python<'_>, format: &str) -> PyResult<Vec<u8>> {
        py.detach(|| plot(takegauge_report::ladder_plot, &self.0, format))
    }
}
