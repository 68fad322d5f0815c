//! A journal, to read.

use crate::fault::{input, journal as fault};
use crate::reports::{Score, style};
use crate::table::Table;
use pyo3::prelude::*;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use takegauge_journal::{Day, DrillAsked, Filter, TakeList, TakeRow, figure_sheet, like_tempo, take_sheet};
use takegauge_report::{compare_text, json, plan_text, trend_text};
use takegauge_review::history::Metric;

/// The practice history.
#[pyclass(frozen, module = "takegauge._engine")]
pub(crate) struct Journal(Mutex<takegauge_journal::Journal>);

impl Journal {
    /// Nothing is left half done by a panic: the journal is only read.
    fn open(&self) -> MutexGuard<'_, takegauge_journal::Journal> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// Takes of a journal.
#[pyclass(frozen, module = "takegauge._engine")]
pub(crate) struct Takes(Vec<TakeRow>);

#[pymethods]
impl Takes {
    fn to_json(&self, py: Python<'_>) -> String {
        py.detach(|| json(&TakeList::new(&self.0)))
    }

    #[getter]
    fn takes(&self) -> PyResult<Table> {
        Table::of(take_sheet(&self.0))
    }
}

/// Which takes, as Python gives it.
#[derive(FromPyObject)]
#[pyo3(from_item_all)]
pub(crate) struct Which {
    player: Option<String>,
    drill: Option<String>,
    tempo: Option<Tempo>,
    since: Option<String>,
    until: Option<String>,
    tag: Option<String>,
}

#[derive(FromPyObject)]
enum Tempo {
    Range((f64, f64)),
    About(f64),
}

fn day(option: &str, text: Option<String>) -> PyResult<Option<Day>> {
    text.map(|t| t.parse().map_err(|e| input(format!("{option}: {e}")))).transpose()
}

impl Which {
    fn filter(self, journal: &takegauge_journal::Journal) -> PyResult<Filter> {
        let drills = match &self.drill {
            None => None,
            Some(named) => {
                let found = journal.drills_called(Path::new(named)).map_err(fault)?;
                if found.is_empty() {
                    return Err(input(format!("the journal has no drill {named:?}")));
                }
                Some(found)
            }
        };
        Ok(Filter {
            player: self.player,
            drills,
            tempo_bpm: self.tempo.map(|t| match t {
                Tempo::Range((low, high)) => [low, high],
                Tempo::About(tempo) => like_tempo(tempo),
            }),
            since: day("since", self.since)?,
            until: day("until", self.until)?,
            tag: self.tag,
            takes: None,
        })
    }
}

/// The one player that a question is about: the one asked for, or the only one there is.
fn one_player(which: &Filter, journal: &takegauge_journal::Journal) -> PyResult<String> {
    if let Some(player) = &which.player {
        return Ok(player.clone());
    }
    match journal.players().map_err(fault)?.as_slice() {
        [only] => Ok(only.clone()),
        [] => Err(input("the journal holds no takes yet")),
        many => Err(input(format!("the journal has several players; give player, one of: {}", many.join(", ")))),
    }
}

/// The name of the one drill that passes, to which `which` is narrowed.
fn one_drill(which: &mut Filter, journal: &takegauge_journal::Journal) -> PyResult<String> {
    match journal.drill_asked(which).map_err(fault)? {
        DrillAsked::None => Err(input("no take passes")),
        DrillAsked::One { name, ids } => {
            which.drills = Some(ids);
            Ok(name)
        }
        DrillAsked::Several(many) => {
            let names: Vec<String> = many.iter().map(|(d, _)| format!("{} ({})", d.name, d.short_id())).collect();
            Err(input(format!("these takes are of several drills; give drill, one of: {}", names.join("; "))))
        }
    }
}

fn metric_named(name: &str) -> PyResult<Metric> {
    Metric::named(name).ok_or_else(|| {
        let known: Vec<String> = Metric::all().into_iter().map(|m| format!("{:?}", m.name())).collect();
        input(format!("metric={name:?}: give {}", known.join(", ")))
    })
}

/// What a question to a journal came to.
#[pyclass(frozen, module = "takegauge._engine")]
pub(crate) struct Answer {
    json: String,
    text: String,
}

#[pymethods]
impl Answer {
    fn to_json(&self) -> &str {
        &self.json
    }

    fn to_text(&self) -> &str {
        &self.text
    }
}

#[pymethods]
impl Journal {
    #[new]
    fn new(py: Python<'_>, path: PathBuf) -> PyResult<Self> {
        let opened = py.detach(|| takegauge_journal::Journal::open(&path));
        opened.map(|j| Self(Mutex::new(j))).map_err(fault)
    }

    fn takes(&self, py: Python<'_>, which: Which) -> PyResult<Takes> {
        py.detach(|| {
            let journal = self.open();
            journal.list(&which.filter(&journal)?).map(Takes).map_err(fault)
        })
    }

    /// One row a take and group of notes.
    fn figures(&self, py: Python<'_>, which: Which) -> PyResult<Table> {
        let rows = py.detach(|| {
            let journal = self.open();
            journal.figure_rows(&which.filter(&journal)?).map_err(fault)
        })?;
        Table::of(figure_sheet(&rows))
    }

    /// The score of a take, by its number.
    fn take(&self, py: Python<'_>, take: i64) -> PyResult<Score> {
        let (_, _, report) = py.detach(|| self.open().take(take)).map_err(fault)?;
        Ok(Score(report))
    }

    /// What changed most, or the trend of one figure of one group. One player's takes of one drill.
    fn trend(&self, py: Python<'_>, which: Which, group: Option<String>, metric: Option<String>) -> PyResult<Answer> {
        py.detach(|| {
            let journal = self.open();
            let metric = metric.map(|name| metric_named(&name)).transpose()?;
            let mut which = which.filter(&journal)?;
            let player = one_player(&which, &journal)?;
            which.player = Some(player.clone());
            let drill = one_drill(&mut which, &journal)?;
            let told = journal.trend(&which, (&player, &drill), group.as_deref(), metric).map_err(fault)?;
            Ok(Answer { json: json(&told), text: trend_text(&told, style()) })
        })
    }

    /// Two sets of takes, by their numbers.
    fn compare(&self, py: Python<'_>, first: Vec<i64>, second: Vec<i64>) -> PyResult<Answer> {
        py.detach(|| {
            let told = self.open().compare(&first, &second).map_err(fault)?;
            Ok(Answer { json: json(&told), text: compare_text(&told, style()) })
        })
    }

    /// What is due on a day.
    fn plan(&self, py: Python<'_>, which: Which, today: Option<String>) -> PyResult<Answer> {
        py.detach(|| {
            let journal = self.open();
            let today = day("today", today)?.unwrap_or_else(Day::today);
            let told = journal.plan(&which.filter(&journal)?, today).map_err(fault)?;
            Ok(Answer { json: json(&told), text: plan_text(&told, style()) })
        })
    }

    #[getter]
    fn players(&self, py: Python<'_>) -> PyResult<Vec<String>> {
        py.detach(|| self.open().players()).map_err(fault)
    }

    #[getter]
    fn drills(&self, py: Python<'_>) -> PyResult<Vec<String>> {
        let drills = py.detach(|| self.open().drills()).map_err(fault)?;
        Ok(drills.into_iter().map(|d| d.name).collect())
    }
}
