//! `journal compare`: two takes or two sets of takes.

use super::asked::numbers;
use super::told::fault;
use crate::args::CompareArgs;
use crate::fault::{Fault, Outcome};
use crate::output;
use crate::output::text_style;
use takegauge_journal::{Filter, Journal};
use takegauge_report::{Format, PlotError, Size, compare_plot, compare_text, json};

pub(crate) fn run(args: &CompareArgs, journal: &Journal) -> Outcome {
    let (first, second) = (set(&args.first, journal)?, set(&args.second, journal)?);
    let report = journal.compare(&first, &second).map_err(|e| fault(e, journal.path()))?;
    if let Some(path) = &args.plot {
        let format = Format::of(path).map_err(Fault::usage)?;
        match compare_plot(&report, Size::default(), format) {
            Ok(bytes) => output::write(path, &bytes)?,
            Err(e @ PlotError::Nothing(_)) => output::remark(e),
            Err(e) => return Err(Fault::usage(e)),
        }
    }
    match &args.json {
        Some(path) => output::write(path, json(&report).as_bytes()),
        None => output::print(&compare_text(&report, text_style())),
    }
}

/// "12", "12,13,15-18" or "tag:WORD".
fn set(text: &str, journal: &Journal) -> Outcome<Vec<i64>> {
    let Some(tag) = text.strip_prefix("tag:") else { return numbers(text) };
    let filter = Filter { tag: Some(tag.to_owned()), ..Filter::default() };
    let ids: Vec<i64> = journal.list(&filter).map_err(|e| fault(e, journal.path()))?.iter().map(|r| r.take).collect();
    if ids.is_empty() { Err(Fault::usage(format!("no take has the tag {tag:?}"))) } else { Ok(ids) }
}
