//! `journal plan`: what is due, what has stalled, what may go up, what was set.

use super::asked::filter;
use super::told::fault;
use crate::args::PlanArgs;
use crate::fault::Outcome;
use crate::output;
use crate::output::text_style;
use takegauge_journal::{Day, Journal};
use takegauge_report::{json, plan_text};

pub(crate) fn run(args: &PlanArgs, journal: &Journal) -> Outcome {
    let today = args.today.unwrap_or_else(Day::today);
    let report = journal.plan(&filter(&args.filter, journal)?, today).map_err(|e| fault(e, journal.path()))?;
    match &args.json {
        Some(path) => output::write(path, json(&report).as_bytes()),
        None => output::print(&plan_text(&report, text_style())),
    }
}
