//! What a ladder says in words.

use super::model::{ComesApart, LadderGroupRow, LadderTempo};
use super::rungs::{CLEAN_PCT, ONE_TEMPO, tempo_of};
use crate::gates::GATE_BIAS_MS;
use crate::group_key::GroupKey;
use crate::score::ScoreReport;
use takegauge_stats::comparison::variance_ratio;
use takegauge_stats::ladder::LEAST_TEMPOS;

use crate::estimates::CONFIDENCE;
use crate::words::{capital, count};

/// The answer to "which change, from which tempo" comes first.
pub(super) fn remarks(
    takes: &[ScoreReport],
    tempos: &[LadderTempo],
    rows: &[LadderGroupRow],
    clean_up_to: Option<f64>,
) -> Vec<String> {
    let mut out = Vec::new();
    let top = tempos.last().map_or(0.0, |t| t.tempo_bpm);
    let mut apart: Vec<&LadderGroupRow> = rows.iter().filter(|r| r.comes_apart_bpm.is_some()).collect();
    apart.sort_by(|a, b| a.comes_apart_bpm.unwrap_or(0.0).total_cmp(&b.comes_apart_bpm.unwrap_or(0.0)));
    out.extend(apart.iter().filter_map(|r| comes_apart(r, tempos)));
    out.extend(rows.iter().filter_map(|r| mistakes(r, top)));
    out.extend(rows.iter().filter_map(|r| ringing(r, top)));
    if takes.len() == 1 {
        out.push("One take shows one tempo: record the drill at five tempos and more for a ladder.".to_owned());
    } else if tempos.len() < LEAST_TEMPOS {
        out.push(format!(
            "{}: where a kind of note comes apart can be told from {LEAST_TEMPOS} tempos on, and better from six.",
            count(tempos.len(), "tempo", "tempos")
        ));
    } else if out.is_empty() {
        out.push(nothing(rows, top));
    }
    out.extend(apart.iter().filter_map(|r| more(r)));
    out.extend(rows.iter().filter(|r| r.comes_apart_bpm.is_none()).filter_map(throughout));
    if !apart.is_empty() {
        out.extend(others(rows));
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

/// Which kind, from which tempo, by how much.
fn comes_apart(row: &LadderGroupRow, tempos: &[LadderTempo]) -> Option<String> {
    let (at, [low, high]) = (row.comes_apart_bpm?, row.comes_apart_ci95_bpm?);
    let top = tempos.last()?.tempo_bpm;
    let neighbours = tempos.windows(2).find(|w| w[0].tempo_bpm <= at && at < w[1].tempo_bpm).filter(|_| row.at_once);
    let from = match neighbours {
        Some(w) => format!("between {:.0} and {:.0} bpm (95 %: {low:.0} to {high:.0})", w[0].tempo_bpm, w[1].tempo_bpm),
        None => format!("from about {at:.0} bpm on (95 %: {low:.0} to {high:.0})"),
    };
    let late = |by: f64| if by < 0.0 { "earlier" } else { "later" };
    let (by, ratio) = (row.later_by_ms?, row.spread_at_top?);
    let shift = format!("they come {:.1} ms {} than below it", by.abs(), late(by));
    let wide = format!("they scatter {ratio:.1} times as much as below it");
    let what = match row.measure {
        ComesApart::Bias => shift,
        ComesApart::Spread => wide,
        ComesApart::BiasAndSpread => format!("{shift} and scatter {ratio:.1} times as much"),
    };
    Some(format!("{} come apart {from}: at {top:.0} bpm {what}.", capital(&row.label)))
}

/// What stands beside a hinge: its lateness in full, what else fits, what it rests on.
fn more(row: &LadderGroupRow) -> Option<String> {
    row.comes_apart_bpm?;
    let mut text = String::new();
    if let (Some(late), Some([low, high])) = (row.late_at_top_ms, row.later_by_ci95_ms)
        && row.measure != ComesApart::Spread
    {
        let side = if late < 0.0 { "early" } else { "late" };
        text.push_str(&format!(
            "{} at the highest tempo: {:.1} ms {side} against the notes on the same string; the tempo brings {low:.1} to \
             {high:.1} ms of it.",
            capital(&row.label),
            late.abs()
        ));
    }
    if !row.or_also.is_empty() {
        let names: Vec<String> = row.or_also.iter().map(ToString::to_string).collect();
        text.push_str(&format!(" These takes cannot tell them apart from: {}.", names.join(", ")));
    }
    let (n, unsure) = row.by_tempo.iter().fold((0, 0), |(n, u), t| (n + t.n, u + t.unsure));
    if unsure > 0 {
        text.push_str(&format!(
            " {unsure} of these {n} notes come after a missed note, where the drill's strokes are an assumption."
        ));
    }
    if row.bracketed == Some(false) {
        text.push_str(
            " The tempos do not reach far enough to both sides of it: record some more below and above to settle it.",
        );
    }
    (!text.is_empty()).then(|| text.trim_start().to_owned())
}

fn mistakes(row: &LadderGroupRow, top: f64) -> Option<String> {
    let h = row.mistakes.as_ref()?;
    let (at, [low, high]) = (h.from_bpm?, h.from_ci95_bpm?);
    Some(format!(
        "{} go wrong from about {at:.0} bpm on (95 %: {low:.0} to {high:.0}): {:.0} in 100 of them up to {top:.0} bpm, \
         {:.0} in 100 below it.",
        capital(&row.label),
        h.above?,
        h.below?
    ))
}

fn ringing(row: &LadderGroupRow, top: f64) -> Option<String> {
    let h = row.ringing.as_ref()?;
    let (at, [low, high]) = (h.from_bpm?, h.from_ci95_bpm?);
    Some(format!(
        "At {} the string left rings over longer from about {at:.0} bpm on (95 %: {low:.0} to {high:.0}): {:.0} ms up to \
         {top:.0} bpm, {:.0} ms below it.",
        row.label, h.above?, h.below?
    ))
}

/// Nothing was found: what these takes would have shown.
fn nothing(rows: &[LadderGroupRow], top: f64) -> String {
    let mut text = format!("No kind of string change is shown to come apart up to {top:.0} bpm.");
    text.push_str(&could(rows).map(|c| format!(" {c}")).unwrap_or_default());
    text
}

/// What the kinds that are not named would have shown.
fn others(rows: &[LadderGroupRow]) -> Option<String> {
    could(rows).map(|c| format!("No other kind is shown to come apart. {c}"))
}

fn could(rows: &[LadderGroupRow]) -> Option<String> {
    let open = |r: &&LadderGroupRow| r.comes_apart_bpm.is_none() && r.withheld.is_none();
    let kinds = || rows.iter().filter(open).filter(|r| matches!(r.group, GroupKey::Kind(_)));
    let shown: Vec<&LadderGroupRow> =
        if kinds().next().is_some() { kinds().collect() } else { rows.iter().filter(open).take(1).collect() };
    let told: Vec<String> = shown
        .iter()
        .filter_map(|r| Some(format!("{} that come {:.0} ms late", r.label, r.could_show_late_ms?)))
        .collect();
    (!told.is_empty()).then(|| {
        format!(
            "With a chance of 4 in 5 these takes would have shown {} at the highest tempo; smaller ones need more takes \
             or repeats.",
            told.join(", or ")
        )
    })
}

/// A kind that is late at every tempo alike is worth a sentence too: it is not the tempo's doing.
fn throughout(row: &LadderGroupRow) -> Option<String> {
    let (late, [low, high]) = (row.late_throughout_ms?, row.late_throughout_ci95_ms?);
    let sure = matches!(row.group, GroupKey::Kind(_)) && row.withheld.is_none() && (low > 0.0 || high < 0.0);
    (sure && late.abs() >= GATE_BIAS_MS).then(|| {
        let (side, late, [low, high]) = if late < 0.0 { ("early", -late, [-high, -low]) } else { ("late", late, [low, high]) };
        format!(
            "{} come {late:.1} ms {side} on average at all tempos ({low:.1} to {high:.1}); that they grow later with the \
             tempo is not shown.",
            capital(&row.label)
        )
    })
}

fn clean(tempos: &[LadderTempo], clean_up_to: Option<f64>) -> String {
    match clean_up_to {
        Some(tempo) => {
            let below = tempos.iter().filter(|t| t.tempo_bpm < tempo);
            let failing: Vec<String> = below
                .filter(|t| t.at_most_in_100.is_none_or(|p| p >= CLEAN_PCT))
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
