//! The engine as Python sees it: reports as JSON text, tables through the Arrow C interface, errors as exceptions. What
//! makes it pleasant to use is Python, in `takegauge/`.

mod drill;
mod fault;
mod journal;
mod reports;
mod samples;
mod scoring;
mod table;
mod watch;

use pyo3::prelude::*;

#[pymodule]
#[pyo3(name = "_engine")]
fn engine(m: &Bound<'_, PyModule>) -> PyResult<()> {
    m.add("__version__", env!("CARGO_PKG_VERSION"))?;
    m.add_class::<samples::Samples>()?;
    m.add_class::<drill::Drill>()?;
    m.add_class::<reports::Onsets>()?;
    m.add_class::<reports::Score>()?;
    m.add_class::<reports::Ladder>()?;
    m.add_class::<journal::Journal>()?;
    m.add_class::<journal::Takes>()?;
    m.add_class::<journal::Answer>()?;
    m.add_class::<table::Table>()?;
    m.add_function(wrap_pyfunction!(scoring::onsets, m)?)?;
    m.add_function(wrap_pyfunction!(scoring::score, m)?)?;
    m.add_function(wrap_pyfunction!(scoring::rows, m)?)?;
    m.add_function(wrap_pyfunction!(scoring::no_rows, m)?)?;
    m.add_function(wrap_pyfunction!(scoring::ladder, m)?)?;
    Ok(())
}
