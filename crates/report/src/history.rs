//! Trends, comparisons and the plan over a history, for the terminal.

use crate::text::Style;
use crate::words::signed;
use crate::{Align, Table};
use takegauge_review::history::{CompareReport, PlanReport, TrendReport};

/// The question in sentences, its days as a table, the other figures in sentences.
pub fn trend_text(report: &TrendReport, style: Style) -> String {
    let tempo = match report.tempo_bpm {
        Some([low, high]) => format!(", {low:.0} to {high:.0} bpm"),
        None => String::new(),
    };
    let mut out = style.paragraph(&format!("{}, {}{tempo}", report.player, report.drill));
    let Some(question) = report.rows.first() else {
        out.push_str("No takes.\n");
        return out;
    };
    out.push('\n');
    out.push_str(&style.paragraph(&question.text));
    for remark in &report.remarks {
        out.push_str(&style.paragraph(remark));
    }
    if !question.days.is_empty() {
        out.push_str(&style.heading("Practice days"));
        let mut table = Table::new(&[
            ("day", Align::Left),
            ("takes", Align::Right),
            ("bpm", Align::Right),
            (question.metric.words(), Align::Right),
            ("line", Align::Right),
        ]);
        for d in &question.days {
            let weeks = f64::from(d.day - question.days[0].day) / 7.0;
            table.row([
                d.date.clone(),
                d.takes.to_string(),
                format!("{:.0}", d.tempo_bpm),
                format!("{:.1}", d.value),
                question
                    .fit
                    .as_ref()
                    .map(|f| format!("{:.1}", f.start_value + f.slope_a_week * weeks))
                    .unwrap_or_default(),
            ]);
        }
        out.push_str(&table.text(2));
    }
    if report.rows.len() > 1 {
        out.push_str(&style.heading("Other figures, corrected for their number"));
        for row in &report.rows[1..] {
            out.push_str(&style.item(&row.text));
        }
    }
    out
}

/// What differs in sentences, then every difference as a table.
pub fn compare_text(report: &CompareReport, style: Style) -> String {
    let list = |ids: &[i64]| ids.iter().map(i64::to_string).collect::<Vec<_>>().join(", ");
    let (first, second) = (list(&report.first), list(&report.second));
    let mut out =
        style.paragraph(&format!("First: takes {first}. Second: takes {second}. + means more in the second."));
    out.push('\n');
    for sentence in &report.text {
        out.push_str(&style.paragraph(sentence));
    }
    if report.rows.is_empty() {
        return out;
    }
    out.push('\n');
    let mut table = Table::new(&[
        ("", Align::Left),
        ("figure", Align::Left),
        ("first", Align::Right),
        ("second", Align::Right),
        ("differs by", Align::Right),
        ("95 %", Align::Right),
        ("p", Align::Right),
        ("takes differ by (SD)", Align::Right),
    ]);
    for r in &report.rows {
        let unit = if r.unit == "ms" { "ms" } else { "in 100" };
        let what = match r.measure.as_str() {
            "bias" => "late +",
            "spread" => "scatter",
            _ => "errors",
        };
        let number = |x: Option<f64>| x.map(|x| format!("{x:.1}")).unwrap_or_default();
        table.row([
            r.label.clone(),
            format!("{what}, {unit}"),
            number(r.first),
            number(r.second),
            r.difference.map(signed).unwrap_or_default(),
            r.ci95.map(|[a, b]| format!("{} to {}", signed(a), signed(b))).unwrap_or_default(),
            r.p_adjusted.map(|p| if p < 0.001 { "< 0.001".to_owned() } else { format!("{p:.3}") }).unwrap_or_default(),
            number(r.take_sd),
        ]);
    }
    out.push_str(&table.text(0));
    if let Some(why) = report.rows.iter().find_map(|r| r.withheld.as_deref()) {
        out.push_str(&style.paragraph(&format!("Where no range stands: {why}.")));
    }
    out
}

/// One item a drill, then what to heed.
pub fn plan_text(report: &PlanReport, style: Style) -> String {
    let mut out = style.paragraph(&format!("For {}", report.today));
    if report.lines.is_empty() {
        out.push_str("No takes yet.\n");
        return out;
    }
    let several = report.lines.iter().any(|l| l.player != report.lines[0].player);
    out.push('\n');
    for (i, line) in report.lines.iter().enumerate() {
        let who = if several { format!("{}: ", line.player) } else { String::new() };
        let due = if line.due { " (due)" } else { "" };
        out.push_str(&style.wrap(&format!("{who}{}{due}", line.what), &format!("  {}. ", i + 1), "     "));
        out.push_str(&style.wrap(&line.why, "     ", "     "));
    }
    for caution in &report.cautions {
        out.push('\n');
        out.push_str(&style.paragraph(caution));
    }
    out
}
