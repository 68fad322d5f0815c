//! Trends, comparisons and the plan over a history, for the terminal.

use crate::player::{item, next_text};
use crate::style::Style;
use crate::words::signed;
use crate::{Align, Table};
use takegauge_review::history::{CompareReport, CompareRow, Metric, PlanReport, TrendReport};

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
    out.push_str(&style.paragraph(&report.headline));
    for sentence in &report.text {
        out.push_str(&style.paragraph(sentence));
    }
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
        out.push_str(&table.fitted(2, style.width));
    }
    if report.rows.len() > 1 {
        out.push_str(&style.heading("Other figures, corrected together"));
        for row in &report.rows[1..] {
            out.push_str(&style.item(&row.text));
        }
    }
    out
}

/// What differs in sentences, then what differs as a table; the rest stands in the JSON.
pub fn compare_text(report: &CompareReport, style: Style) -> String {
    let list = |ids: &[i64]| {
        let all = ids.iter().map(i64::to_string).collect::<Vec<_>>().join(", ");
        format!("{} {all}", if ids.len() == 1 { "take" } else { "takes" })
    };
    let (first, second) = (list(&report.first), list(&report.second));
    let mut out = style.paragraph(&format!("First: {first}. Second: {second}. + means more in the second."));
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
        ("first", Align::Right),
        ("second", Align::Right),
        ("differs by", Align::Right),
        ("95 %", Align::Right),
        ("p", Align::Right),
        ("SD", Align::Right),
    ]);
    let differ: Vec<&CompareRow> = report.rows.iter().filter(|r| r.differs()).collect();
    if differ.is_empty() {
        return out;
    }
    for group in differ.chunk_by(|a, b| a.group == b.group) {
        table.title(&group[0].label);
        for r in group {
            let what = match r.measure {
                Metric::Figure(f) => format!("  {}, {}", f.shown.map_or(f.words, |s| s.short), r.unit.name()),
                Metric::Errors | Metric::CleanTempo => "  errors in 100".to_owned(),
            };
            let number = |x: Option<f64>| x.map(|x| format!("{x:.1}").replacen("-0.0", "0.0", 1)).unwrap_or_default();
            table.row([
                what,
                number(r.first),
                number(r.second),
                r.difference.map(signed).unwrap_or_default(),
                r.ci95.map(|[a, b]| format!("{} to {}", signed(a), signed(b))).unwrap_or_default(),
                r.p_adjusted
                    .map(|p| if p < 0.001 { "< 0.001".to_owned() } else { format!("{p:.3}") })
                    .unwrap_or_default(),
                number(r.take_sd),
            ]);
        }
    }
    out.push_str(&table.fitted(0, style.width));
    if differ.iter().any(|r| r.take_sd.is_some()) {
        out.push_str(
            &style.paragraph(
                "p: corrected for the number of rows. SD: how much takes of this drill differ on their own.",
            ),
        );
    }
    out
}

/// What was set, one item a drill, then what to heed.
pub fn plan_text(report: &PlanReport, style: Style) -> String {
    let mut out = style.paragraph(&format!("For {}", report.today));
    if report.lines.is_empty() {
        out.push_str(if report.cautions.is_empty() { "No takes yet.\n" } else { "No takes up to then.\n" });
    }
    let players = report.lines.iter().map(|l| &l.player).chain(report.tasks.iter().map(|t| &t.player));
    let several = players.clone().any(|p| Some(p) != players.clone().next());
    if !report.tasks.is_empty() {
        out.push_str(&style.heading("Set"));
        report.tasks.iter().for_each(|task| out.push_str(&item(task, several, style)));
    }
    out.push('\n');
    out + &next_text(&report.lines, &report.cautions, several, style)
}
