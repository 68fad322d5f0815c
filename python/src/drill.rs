//! Drills: read, made, brought in and taken out.

use crate::fault::{arguments, drill as fault, input, word};
use pyo3::prelude::*;
use pyo3::types::PyBytes;
use std::path::PathBuf;
use takegauge_drill::make::{Aim, Direction, MakeOptions, Scale};
use takegauge_drill::{ChangeKind, Picking, Stroke, Tuning, alter};
use takegauge_exchange::{export, import};
use takegauge_report::{DrillReport, json};
use takegauge_units::Bpm;

/// What is to be played.
#[pyclass(frozen, module = "takegauge._engine")]
pub(crate) struct Drill {
    pub(crate) drill: takegauge_drill::Drill,
    /// What was not carried over, or done otherwise than asked.
    remarks: Vec<String>,
}

impl From<takegauge_drill::Drill> for Drill {
    fn from(drill: takegauge_drill::Drill) -> Self {
        Self { drill, remarks: Vec::new() }
    }
}

fn tuning(text: Option<String>) -> PyResult<Option<Tuning>> {
    text.map(|t| Tuning::parse(&t).map_err(|e| input(format!("tuning={t:?}: {e}; {}", Tuning::allowed())))).transpose()
}

/// What can be asked of a made drill, as Python gives it.
#[derive(FromPyObject)]
#[pyo3(from_item_all)]
pub(crate) struct Make {
    scale: String,
    position: u8,
    notes: Vec<u8>,
    strings: Option<(u8, u8)>,
    direction: String,
    sequence: Option<u8>,
    skip: u8,
    roll: Option<u8>,
    only: Option<String>,
    leaves_on: Option<String>,
    change: Option<(u8, u8)>,
    span: u8,
    tuning: Option<String>,
    tempo: f64,
    steps_per_beat: u8,
    repeats: u32,
    picking: String,
    first_stroke: String,
}

impl Make {
    fn aim(&self) -> PyResult<Option<Aim>> {
        Ok(match (&self.only, &self.leaves_on, self.change) {
            (None, None, None) => None,
            (Some(kind), None, None) => Some(Aim::Only(word::<ChangeKind>("only", kind)?)),
            (None, Some(stroke), None) => Some(Aim::LeavesOn(word::<Stroke>("leaves_on", stroke)?)),
            (None, None, Some((from, to))) => Some(Aim::Change { from, to }),
            _ => return Err(input("give one of only, leaves_on and change")),
        })
    }

    fn options(self) -> PyResult<MakeOptions> {
        let scale = Scale::parse(&self.scale)
            .ok_or_else(|| input(format!("{:?} is no scale or chord that is known; {}", self.scale, Scale::known())))?;
        let defaults = MakeOptions::new(scale);
        Ok(MakeOptions {
            position: self.position,
            aim: self.aim()?,
            direction: word::<Direction>("direction", &self.direction)?,
            picking: word::<Picking>("picking", &self.picking)?,
            first_stroke: word::<Stroke>("first_stroke", &self.first_stroke)?,
            tuning: tuning(self.tuning)?.unwrap_or_else(|| defaults.tuning.clone()),
            notes_a_string: self.notes,
            strings: self.strings,
            sequence: self.sequence,
            skip: self.skip,
            roll: self.roll,
            span: self.span,
            tempo: Bpm(self.tempo),
            steps_per_beat: self.steps_per_beat,
            repeats: self.repeats,
            ..defaults
        })
    }
}

/// What to bring in, as Python gives it.
#[derive(FromPyObject)]
#[pyo3(from_item_all)]
pub(crate) struct Import {
    part: Option<usize>,
    bars: Option<(usize, usize)>,
    voice: Option<String>,
    tuning: Option<String>,
    tempo: Option<f64>,
    even: Option<u8>,
}

#[pymethods]
impl Drill {
    /// A drill file, or a built-in drill by its name.
    #[staticmethod]
    fn read(py: Python<'_>, named: PathBuf) -> PyResult<Self> {
        py.detach(|| takegauge_drill::Drill::open(named)).map(Self::from).map_err(fault)
    }

    #[staticmethod]
    fn parse(text: &str, name: &str) -> PyResult<Self> {
        takegauge_drill::Drill::parse(text, name).map(Self::from).map_err(fault)
    }

    /// The names of the built-in drills, and what each isolates.
    #[staticmethod]
    fn built_in() -> Vec<(&'static str, String)> {
        takegauge_drill::built_in().map(|b| (b.name, b.drill().map(|d| d.note).unwrap_or_default())).collect()
    }

    #[staticmethod]
    fn make(py: Python<'_>, options: &Bound<'_, PyAny>) -> PyResult<Self> {
        let options = arguments::<Make>(options)?.options()?;
        let made = py.detach(|| takegauge_drill::make::make(&options)).map_err(fault)?;
        Ok(Self { drill: made.drill, remarks: made.remarks })
    }

    /// MusicXML, a Standard MIDI File, tablature text or JAMS.
    #[staticmethod]
    fn bring_in(py: Python<'_>, bytes: Vec<u8>, name: &str, options: &Bound<'_, PyAny>) -> PyResult<Self> {
        let Import { part, bars, voice, tuning: tuned, tempo, even } = arguments(options)?;
        let options = import::Options { part, bars, voice, tuning: tuning(tuned)?, tempo: tempo.map(Bpm), even };
        let brought = py.detach(|| import::read_bytes(&bytes, name, &options)).map_err(fault)?;
        Ok(Self { drill: brought.drill, remarks: brought.losses })
    }

    /// The bytes of a file of this ending, and what it does not carry.
    fn take_out<'py>(&self, py: Python<'py>, ending: &str) -> PyResult<(Bound<'py, PyBytes>, Vec<String>)> {
        let format = export::Format::of_name(&format!("drill.{ending}"))
            .ok_or_else(|| input(format!("{ending:?}: give musicxml, mid, txt or toml")))?;
        let out = py.detach(|| export::write(&self.drill, format));
        Ok((PyBytes::new(py, &out.bytes), out.losses))
    }

    /// Another first stroke.
    fn start_on(&self, stroke: &str) -> PyResult<Self> {
        alter::start_on(&self.drill, word::<Stroke>("stroke", stroke)?).map(Self::from).map_err(fault)
    }

    fn to_toml(&self) -> String {
        self.drill.to_toml()
    }

    fn to_json(&self, py: Python<'_>) -> String {
        py.detach(|| json(&DrillReport::from(&self.drill)))
    }

    fn to_text(&self, py: Python<'_>) -> String {
        py.detach(|| self.drill.show())
    }

    /// What is doubtful in it, a sentence each.
    fn check(&self) -> Vec<String> {
        self.drill.check().into_iter().map(|d| d.text).collect()
    }

    #[getter]
    fn remarks(&self) -> Vec<String> {
        self.remarks.clone()
    }
}
