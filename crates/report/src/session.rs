//! Several takes in the order played, as text.

use crate::style::Style;
use crate::words::{count, figure};
use crate::{Align, Table};
use takegauge_review::SessionReport;

/// The report for the terminal: what a rest brought back, then the takes.
pub fn session_text(report: &SessionReport, style: Style) -> String {
    let mut out = style.wrap(
        &format!("{}: {} in the order played", report.drill, count(report.takes.len(), "take", "takes")),
        "",
        "",
    );
    // What each rest brought back has a list of its own below.
    for remark in report.remarks.iter().filter(|r| report.rests.iter().all(|rest| rest.text != **r)) {
        out.push_str(&style.item(remark));
    }
    out.push_str(&style.heading("Take by take (ms)"));
    let mut table = Table::new(&[
        ("take", Align::Left),
        ("rest before s", Align::Right),
        ("bpm", Align::Right),
        ("scatter", Align::Right),
        ("95 %", Align::Right),
        ("scatter, first third", Align::Right),
        ("scatter, last third", Align::Right),
        ("errors", Align::Right),
        ("notes", Align::Right),
        ("", Align::Left),
    ]);
    let ms = |v: Option<f64>| v.map(|x| format!("{x:.1}")).unwrap_or_default();
    for t in &report.takes {
        table.row([
            t.path.clone(),
            t.rest_before_s.map(|s| format!("{s:.0}")).unwrap_or_default(),
            format!("{:.1}", t.tempo_bpm),
            ms(t.spread_ms.value),
            t.spread_ms.ci95.map(|c| format!("{:.1} to {:.1}", c[0], c[1])).unwrap_or_default(),
            ms(t.first_third_ms),
            ms(t.last_third_ms),
            t.errors.to_string(),
            t.notes.to_string(),
            if t.warm_up { "warm-up".to_owned() } else { String::new() },
        ]);
    }
    out.push_str(&table.fitted(2, style.width));
    if !report.rests.is_empty() {
        out.push_str(&style.heading("What each rest brought back"));
        for r in &report.rests {
            let between = format!("Takes {} to {}: ", r.after_take + 1, r.after_take + 2);
            out.push_str(&style.wrap(&r.text, &format!("  - {between}"), "    "));
        }
    }
    out.push_str(&style.heading("Over the session"));
    out.push_str(&style.item(&format!("scatter a take later: {}", figure(&report.spread_a_take_ms, "ms", 2))));
    for caution in &report.cautions {
        out.push('\n');
        out.push_str(&style.wrap(caution, "", ""));
    }
    out
}
