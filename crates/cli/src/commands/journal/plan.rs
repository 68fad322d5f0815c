//! `journal plan`: what is due, what has stalled, what may go up.

use super::{fault, filter};
use crate::args::PlanArgs;
use crate::commands::score::text_style;
use crate::fault::{Fault, Outcome};
use crate::output;
use std::collections::BTreeMap;
use takegauge_journal::{CHANGES, Day, Filter, Journal};
use takegauge_report::{json, plan_text};
use takegauge_review::history::{Practised, WHOLE_TAKE, plan};

pub(crate) fn run(args: &PlanArgs, journal: &Journal) -> Outcome {
    let wrong = |e| fault(e, journal.path());
    let which = filter(&args.filter, journal)?;
    let today = match &args.today {
        Some(text) => text.parse::<Day>().map_err(|e| Fault::usage(format!("--today: {e}")))?,
        None => Day::today(),
    };
    let mut drills: BTreeMap<(String, String), (String, Vec<i64>)> = BTreeMap::new();
    for row in journal.list(&which).map_err(wrong)?.into_iter().filter(|r| r.day <= today) {
        let (name, takes) = drills.entry((row.player, row.drill_id)).or_default();
        *name = row.drill;
        takes.push(row.take);
    }
    let mut practised = Vec::new();
    for ((player, _), (drill, takes)) in drills {
        let these = Filter { takes: Some(takes), ..Filter::default() };
        let mut points = journal.points(&these, CHANGES).map_err(wrong)?;
        if points.is_empty() {
            points = journal.points(&these, WHOLE_TAKE).map_err(wrong)?;
        }
        practised.push(Practised { player, drill, points });
    }
    let report = plan(&practised, today.0, &today.to_string());
    match &args.json {
        Some(path) => output::write(path, json(&report).as_bytes()),
        None => output::print(&plan_text(&report, text_style())),
    }
}
