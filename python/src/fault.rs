//! Errors as exceptions, with the words of the program.

use pyo3::exceptions::PyOverflowError;
use pyo3::prelude::*;
use std::fmt::Display;
use takegauge_drill::DrillError;
use takegauge_journal::JournalError;
use takegauge_take::TakeError;

mod python {
    pyo3::import_exception!(takegauge._errors, InputError);
    pyo3::import_exception!(takegauge._errors, NotScoredError);
    pyo3::import_exception!(takegauge._errors, DrillError);
    pyo3::import_exception!(takegauge._errors, JournalError);
}

/// An argument that is not allowed, or a file that cannot be read.
pub(crate) fn input(message: impl Display) -> PyErr {
    python::InputError::new_err(message.to_string())
}

/// A take, or takes, that could be read and have no score.
pub(crate) fn not_scored(message: impl Display) -> PyErr {
    python::NotScoredError::new_err(message.to_string())
}

/// Of scoring a take.
pub(crate) fn take(error: TakeError) -> PyErr {
    if error.is_unscored() { not_scored(error) } else { input(error) }
}

/// Of reading or making a drill.
pub(crate) fn drill(error: DrillError) -> PyErr {
    python::DrillError::new_err(error.to_string())
}

/// Of a journal.
pub(crate) fn journal(error: JournalError) -> PyErr {
    python::JournalError::new_err(error.to_string())
}

/// Arguments as the engine has them.
///
/// # Errors
/// A number that is too large for what it counts, named; anything else as PyO3 tells it.
pub(crate) fn arguments<'py, T: for<'a> FromPyObject<'a, 'py, Error = PyErr>>(
    given: &Bound<'py, PyAny>,
) -> PyResult<T> {
    given.extract().map_err(|e: PyErr| {
        let py = given.py();
        match e.cause(py).filter(|cause| cause.is_instance_of::<PyOverflowError>(py)) {
            Some(_) => {
                let told = e.value(py).to_string();
                let field = told.lines().next().and_then(|t| t.rsplit_once('.')).map_or("a number", |t| t.1);
                input(format!("{field}: the number is too large, or below 0"))
            }
            None => e,
        }
    })
}

/// What a word stands for.
///
/// # Errors
/// Where it is none of those that are known.
pub(crate) fn word<T: takegauge_drill::Worded>(option: &str, text: &str) -> Result<T, PyErr> {
    T::of_word(text).ok_or_else(|| {
        let known: Vec<String> = T::WORDS.iter().map(|(word, _)| format!("{word:?}")).collect();
        input(format!("{option}={text:?}: give {}", known.join(" or ")))
    })
}
