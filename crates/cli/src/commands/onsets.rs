//! `takegauge onsets`: the attacks of a take, blind.

use crate::args::{Common, OnsetsArgs};
use crate::commands::inputs::channel;
use crate::fault::Outcome;
use crate::output::{self, TakeBar};
use serde::Serialize;
use takegauge_report::{Align, Table, json};
use takegauge_take::{Heard, hear};

/// JSON shape `takegauge/onsets/1`.
#[derive(Serialize)]
struct OnsetsReport {
    schema: &'static str,
    take: TakeShape,
    onsets: Vec<Onset>,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct TakeShape {
    path: String,
    sample_rate_hz: u32,
    channels: u16,
    duration_s: f64,
    channel_used: String,
}

#[derive(Serialize)]
struct Onset {
    time_s: f64,
    uncertainty_ms: f64,
    strength: f64,
    level_db: f64,
}

pub(crate) fn run(args: &OnsetsArgs, common: &Common) -> Outcome {
    let bar = TakeBar::new(common.quiet);
    let heard = hear(&args.input.take, channel(&args.input.channel)?, &bar)?;
    bar.finish();
    for w in &heard.warnings {
        tell!("takegauge: {w}");
    }
    let report = shape(&heard);
    if report.onsets.is_empty() && !common.quiet {
        tell!("takegauge: no attack was heard; is the recording silent, or is it on another channel (--channel)?");
    }
    match &args.json {
        Some(path) => output::write(path, json(&report).as_bytes()),
        None => output::print(&text(&report)),
    }
}

fn shape(heard: &Heard) -> OnsetsReport {
    OnsetsReport {
        schema: "takegauge/onsets/1",
        take: TakeShape {
            path: heard.take.path.clone(),
            sample_rate_hz: heard.rate.hz(),
            channels: heard.take.channels,
            duration_s: round(heard.take.duration_s.0, 1e6),
            channel_used: heard.channel_used.clone(),
        },
        onsets: heard
            .attacks
            .iter()
            .map(|a| Onset {
                time_s: round(a.at.seconds(heard.rate).0, 1e6),
                uncertainty_ms: round(a.uncertainty.0, 1e3),
                strength: round(f64::from(a.strength), 1e3),
                level_db: round(a.level.0, 1e3),
            })
            .collect(),
        warnings: heard.warnings.clone(),
    }
}

/// `x` rounded to so many steps a unit; what is not finite becomes 0.
fn round(x: f64, steps: f64) -> f64 {
    let r = (x * steps).round() / steps;
    if r.is_finite() { r + 0.0 } else { 0.0 }
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
