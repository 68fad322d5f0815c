//! A report in three lines: what was heard, how sure that is, what comes next. For a hurried player, or a message.

use crate::words::{self, count, figure};
use takegauge_review::{FindingRow, ScoreReport};

/// Exactly three lines, each whole: a terminal breaks them where it likes.
pub fn score_brief(report: &ScoreReport) -> String {
    let heads = ["What", "How sure", "Next"].into_iter();
    heads.zip(sentences(report)).map(|(head, text)| format!("{head}: {text}\n")).collect()
}

/// What was heard, how sure that is, what comes next: each in one line.
pub(crate) fn sentences(report: &ScoreReport) -> [String; 3] {
    let first = report.findings.first();
    let what = match first {
        Some(f) => with_also(f, report),
        None => words::nothing(report).to_owned(),
    };
    let heard = report.summary.headline.first().map_or("", |s| s.as_str());
    [format!("{heard} {what}"), how_sure(first, report), next(report)]
        .map(|line| line.split_whitespace().collect::<Vec<_>>().join(" "))
}

fn with_also(f: &FindingRow, report: &ScoreReport) -> String {
    if f.or_also.is_empty() {
        return f.text.clone();
    }
    format!("{} This take cannot tell it apart from: {}.", f.text, words::also(f, report))
}

fn how_sure(first: Option<&FindingRow>, report: &ScoreReport) -> String {
    let scatter = format!("scatter of the take {}", figure(&report.summary.spread_ms, "ms", 1));
    let Some(f) = first else { return format!("The {scatter}; {}", report.reliability.text) };
    let chance = match f.p_adjusted {
        Some(p) if p < 0.001 => "p below 0.001 over all that was tried; ".to_owned(),
        Some(p) => format!("p {p:.3} over all that was tried; "),
        None => String::new(),
    };
    let others = match report.findings.len() - 1 {
        0 => String::new(),
        n => format!("; {} in the full report", count(n, "finding more", "findings more")),
    };
    format!("The first finding rests on {}; {chance}{scatter}{others}.", count(f.n, "note", "notes"))
}

fn next(report: &ScoreReport) -> String {
    match report.plan.first() {
        Some(p) => {
            let (what, start, step) = (p.what.trim_end_matches('.'), p.start_bpm, p.step_bpm);
            format!("{what}. Start at {start:.0} bpm, up by {step:.0}.")
        }
        None => "This take gives no reason for another drill.".to_owned(),
    }
}
