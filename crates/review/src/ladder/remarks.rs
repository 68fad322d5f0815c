//! What a ladder says in words.

use super::{LadderGroupRow, LadderTempo, ONE_TEMPO, tempo_of};
use crate::score::ScoreReport;
use takegauge_stats::comparison::variance_ratio;
use takegauge_stats::hinge::LEAST_TEMPOS;

use crate::figures::CONFIDENCE;
use crate::tell::{capital, count};

pub(super) fn remarks(
    takes: &[ScoreReport],
    tempos: &[LadderTempo],
    rows: &[LadderGroupRow],
    clean_up_to: Option<f64>,
) -> Vec<String> {
    let mut out = Vec::new();
    if takes.len() == 1 {
        out.push("One take shows one tempo: record the drill at five tempos and more for a ladder.".to_owned());
    } else if tempos.len() < LEAST_TEMPOS {
        out.push(format!(
            "{}: where a kind of note comes apart can be told from {LEAST_TEMPOS} tempos on.",
            count(tempos.len(), "tempo", "tempos")
        ));
    }
    let mut apart: Vec<&LadderGroupRow> = rows.iter().filter(|r| r.comes_apart_bpm.is_some()).collect();
    apart.sort_by(|a, b| a.comes_apart_bpm.unwrap_or(0.0).total_cmp(&b.comes_apart_bpm.unwrap_or(0.0)));
    for row in &apart {
        out.extend(comes_apart(row));
    }
    if apart.is_empty() && tempos.len() >= LEAST_TEMPOS {
        out.push(
            "No kind of note comes apart beyond chance at these tempos, against the notes on the same string."
                .to_owned(),
        );
    }
    out.push(clean(tempos, clean_up_to));
    out.extend(
        tempos
            .iter()
            .filter(|t| t.takes > 1)
            .map(|t| format!("{} takes at {:.0} bpm are counted as one tempo.", t.takes, t.tempo_bpm)),
    );
    out.extend(order(takes));
    out
}

fn comes_apart(row: &LadderGroupRow) -> Option<String> {
    let (at, [low, high]) = (row.comes_apart_bpm?, row.comes_apart_ci95_bpm?);
    let mut text = format!(
        "{} come apart from about {at:.0} bpm on ({low:.0} to {high:.0}): at the top they spread {:.1} times as wide \
         about their own average as below it, against the notes on the same string.",
        capital(&row.label),
        row.spread_at_top?
    );
    let (n, unsure) = row.by_tempo.iter().fold((0, 0), |(n, u), t| (n + t.n, u + t.unsure));
    if unsure > 0 {
        text.push_str(&format!(
            " {unsure} of these {n} notes come after a missed or extra one, where the drill's strokes are an assumption."
        ));
    }
    if row.bracketed == Some(false) {
        text.push_str(
            " The tempos do not reach far enough to both sides of it: record some more below and above to settle it.",
        );
    }
    Some(text)
}

fn clean(tempos: &[LadderTempo], clean_up_to: Option<f64>) -> String {
    match clean_up_to {
        Some(tempo) => {
            let below = tempos.iter().filter(|t| t.tempo_bpm < tempo);
            let failing: Vec<String> = below
                .filter(|t| t.at_most_in_100.is_none_or(|p| p >= super::CLEAN_PCT))
                .map(|t| format!("{:.0}", t.tempo_bpm))
                .collect();
            let mut text = format!("Clean up to {tempo:.0} bpm: at most 5 wrong in 100 notes (95 %).");
            if !failing.is_empty() {
                text.push_str(&format!(" Slower takes do not show as much: {} bpm.", failing.join(", ")));
            }
            text
        }
        None => {
            "No tempo is shown to be clean: at least 59 notes without an error at a tempo would show it.".to_owned()
        }
    }
}

/// What the order of the takes lets be told: tempo and tiredness go together where tempos only rise.
fn order(takes: &[ScoreReport]) -> Option<String> {
    let tempos: Vec<f64> = takes.iter().map(tempo_of).collect();
    let (first, last) = (takes.first()?, takes.last()?);
    if takes.len() < 3 {
        return None;
    }
    let back = (tempo_of(last) / tempo_of(first) - 1.0).abs() <= ONE_TEMPO;
    if back {
        return Some(returned(first, last));
    }
    let rising = tempos.windows(2).all(|w| w[1] > w[0] * (1.0 - ONE_TEMPO));
    let falling = tempos.windows(2).all(|w| w[1] < w[0] * (1.0 + ONE_TEMPO));
    let ask = format!("Record one more take at {:.0} bpm at the end to tell them apart.", tempo_of(first));
    if rising {
        return Some(format!(
            "The takes go from slow to fast, so tempo and tiredness cannot be told apart in the order given. {ask}"
        ));
    }
    if falling {
        return Some(format!(
            "The takes go from fast to slow, so tempo and warming up cannot be told apart in the order given. {ask}"
        ));
    }
    Some(format!("Tempos are mixed in the order given, so tiredness does not follow tempo. {ask}"))
}

/// The first tempo again at the end: how its scatter compares.
fn returned(first: &ScoreReport, last: &ScoreReport) -> String {
    let spread = |t: &ScoreReport| t.summary.spread_ms.value.map(|s| (s, t.summary.spread_ms.n));
    let (Some((a, na)), Some((b, nb))) = (spread(first), spread(last)) else {
        return "The first tempo was played again at the end; its scatter is not told in both takes.".to_owned();
    };
    let df = [nb.saturating_sub(1).max(1) as f64, na.saturating_sub(1).max(1) as f64];
    let ratio = variance_ratio([b * b, a * a], df, na + nb, CONFIDENCE);
    match ratio {
        Ok(e) if e.interval.low > 1.0 => format!(
            "Back at the first tempo the scatter is {:.1} times what it was ({:.1} to {:.1}): part of what the fast takes \
             show may be tiredness.",
            e.value, e.interval.low, e.interval.high
        ),
        Ok(e) => format!(
            "Back at the first tempo the scatter is {:.1} times what it was ({:.1} to {:.1}): no tiredness shows.",
            e.value, e.interval.low, e.interval.high
        ),
        Err(_) => "The first tempo was played again at the end.".to_owned(),
    }
}
