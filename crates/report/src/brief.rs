//! A report in three lines: what was heard, how sure that is, what comes next. For a hurried player, or a message.

use crate::words::{self, count, figure};
use takegauge_review::{FindingRow, ScoreReport};

/// Where no kind of note stands out and single notes are not as written: three lines have no list of them.
const SINGLE_NOTES: &str =
    "No kind of note stands out beyond chance, in time or in mistakes; the full report lists the single notes.";

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
        None if report.reliability.errors > 0 => SINGLE_NOTES.to_owned(),
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
    // Where it is not told, the first line says so, with the reason.
    let spread = &report.summary.spread_ms;
    let scatter = (spread.value.is_some() || spread.below.is_some()).then(|| figure(spread, "ms", 1));
    let Some(f) = first else {
        let scatter = scatter.map(|s| format!("Scatter of the take {s}. ")).unwrap_or_default();
        return format!("{scatter}{}", report.reliability.text);
    };
    let scatter = scatter.map(|s| format!("scatter of the take {s}"));
    let chance = match f.p_adjusted {
        Some(p) if p < 0.001 => Some("p below 0.001 over all that was tried".to_owned()),
        Some(p) => Some(format!("p {p:.3} over all that was tried")),
        None => None,
    };
    let others = match report.findings.len() - 1 {
        0 => None,
        n => Some(format!("{} in the full report", count(n, "finding more", "findings more"))),
    };
    let rests = format!("The first finding rests on {}", count(f.n, "note", "notes"));
    let parts: Vec<String> = [Some(rests), chance, scatter, others].into_iter().flatten().collect();
    format!("{}.", parts.join("; "))
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
