//! `takegauge onsets`: the attacks of a take, blind.

use crate::args::{Common, OnsetsArgs};
use crate::commands::inputs::channel;
use crate::fault::Outcome;
use crate::output::{self, TakeBar};
use takegauge_report::{Align, Table, json};
use takegauge_take::{OnsetsReport, hear};

pub(crate) fn run(args: &OnsetsArgs, common: &Common) -> Outcome {
    let bar = TakeBar::new(common.quiet);
    let heard = hear(&args.input.take, channel(&args.input.channel)?, &bar)?;
    bar.finish();
    for w in &heard.warnings {
        tell!("takegauge: {w}");
    }
    let report = OnsetsReport::of(&heard);
    // No score is asked for: an empty list is an answer, and said.
    if let Err(nothing) = heard.not_silent() {
        output::remark(nothing);
    }
    match &args.json {
        Some(path) => output::write(path, json(&report).as_bytes()),
        None => output::print(&text(&report)),
    }
}

fn text(report: &OnsetsReport) -> String {
    let mut table = Table::new(&[
        ("attack", Align::Right),
        ("time s", Align::Right),
        ("+- ms", Align::Right),
        ("level dBFS", Align::Right),
        ("since the last ms", Align::Right),
    ]);
    let mut last: Option<f64> = None;
    for (i, o) in report.onsets.iter().enumerate() {
        table.row([
            (i + 1).to_string(),
            format!("{:.4}", o.time_s),
            format!("{:.1}", o.uncertainty_ms),
            format!("{:.1}", o.level_db),
            last.map(|l| format!("{:.1}", (o.time_s - l) * 1e3)).unwrap_or_default(),
        ]);
        last = Some(o.time_s);
    }
    let t = &report.take;
    let head = format!(
        "{}: {} attack{} in {:.1} s ({} Hz, {})\n",
        t.path,
        report.onsets.len(),
        if report.onsets.len() == 1 { "" } else { "s" },
        t.duration_s,
        t.sample_rate_hz,
        t.channel_used
    );
    if table.is_empty() { head } else { format!("{head}\n{}", table.text(2)) }
}
