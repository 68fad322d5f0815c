//! `journal trend`: one drill of one player at like tempo.

use super::asked::{filter, one_player};
use super::told::fault;
use crate::args::TrendArgs;
use crate::config::Config;
use crate::fault::{Fault, Outcome};
use crate::output::text_style;
use crate::output::{self, takes};
use takegauge_journal::{DrillAsked, Filter, Journal};
use takegauge_report::{Format, PlotError, Size, json, trend_plot, trend_text};

pub(crate) fn run(args: &TrendArgs, config: &Config, journal: &Journal) -> Outcome {
    let wrong = |e| fault(e, journal.path());
    let mut which = filter(&args.filter, journal)?;
    which.player = Some(one_player(args.filter.player.as_deref(), config, journal)?);
    let drill = one_drill(&mut which, journal)?;
    let player = which.player.clone().unwrap_or_default();
    let report = journal.trend(&which, (&player, &drill), args.group.as_deref(), args.metric).map_err(wrong)?;
    if let Some(path) = &args.plot {
        let format = Format::of(path).map_err(Fault::usage)?;
        match report.rows.first().map(|row| trend_plot(&report, row, Size::default(), format)) {
            Some(Ok(bytes)) => output::write(path, &bytes)?,
            Some(Err(e @ PlotError::Nothing(_))) => output::remark(e),
            Some(Err(e)) => return Err(Fault::usage(e)),
            None => {}
        }
    }
    match &args.json {
        Some(path) => output::write(path, json(&report).as_bytes())?,
        None => output::print(&trend_text(&report, text_style()))?,
    }
    Ok(())
}

/// The one drill that passes the filter; its name.
fn one_drill(which: &mut Filter, journal: &Journal) -> Outcome<String> {
    match journal.drill_asked(which).map_err(|e| fault(e, journal.path()))? {
        DrillAsked::None => Err(Fault::usage("no take passes").advise("`takegauge journal list` shows what there is")),
        DrillAsked::One { name, ids } => {
            which.drills = Some(ids);
            Ok(name)
        }
        DrillAsked::Several(many) => {
            let list: Vec<String> =
                many.iter().map(|(d, n)| format!("{} ({}, {})", d.name, d.short_id(), takes(*n))).collect();
            Err(Fault::usage("these takes are of several drills")
                .advise(format!("name one with --drill: {}", list.join("; "))))
        }
    }
}
