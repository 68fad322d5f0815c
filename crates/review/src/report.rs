//! From one aligned and measured take to its report.

use takegauge_stats::{Sample, moments};

use crate::basis::{Basis, interval_deviations, scatter};
use crate::figure_row::row;
use crate::findings::findings;
use crate::gates::gates;
use crate::group_key::GroupKey;
use crate::groups::{Group, groups, label, tested_change};
use crate::residuals::residuals;
use crate::round::{milli, milli_or_zero};
use crate::scatter::spread_figure;
use crate::score::{
    ChangeRow, Figure, GroupRow, PassRow, Reason, SCORE_SCHEMA, ScoreReport, SearchSection, Summary, ToolSection,
};
use crate::take::{AfterSlip, Input, Judged, reached};
use crate::words::count;
use crate::{along, caution, curious, headline, instrument, plan, rank, reliability, search, swing, tables};

/// Said in every output: a recording does not show strokes.
pub const STROKES_NOTE: &str = "Strokes, inside and outside are the drill's: a recording does not show them. If the take began on an upstroke, \
     score it again with --first-stroke up.";

/// The report of one take.
pub fn score(input: &Input) -> ScoreReport {
    let notes = reached(input.grid, input.measured, input.after_slip);
    let mut residuals = residuals(&notes);
    let swung = swing::swing(input.drill, &notes);
    let mut steepest = instrument::by_steepest_rise(&notes);
    if let Some((_, shifts)) = &swung {
        for values in [Some(&mut residuals.local), steepest.as_mut()].into_iter().flatten() {
            values.iter_mut().zip(shifts).for_each(|(local, shift)| *local = local.map(|v| v - shift));
        }
    }
    let swung = swung.map(|(s, _)| s);
    let all = groups(input.drill, &notes);
    let mut basis = Basis {
        notes: &notes,
        local: &residuals.local,
        reference: Vec::new(),
        intervals: interval_deviations(&notes),
        detector_sd: input.measured.detector_sd.0,
        level_withheld: input.level_withheld.as_deref(),
    };
    let tempo = input.measured.alignment.passes.first().map_or(input.drill.tempo.0, |p| p.tempo.0);
    let apart_ms = 1e3 / notes_a_second(input, tempo);
    let hearing_limit = hearing_limit_ms(apart_ms);
    let found = findings(&basis, steepest.as_deref(), &all, hearing_limit, input.seed);
    basis.reference = found.reference.clone();
    let rows: Vec<GroupRow> = all.iter().map(|g| row(&basis, g, found.bias.get(&g.key).copied())).collect();
    let (along, told_along) = along::along(input, &basis, &all);
    let mut told = found.told;
    told.extend(told_along);
    told.extend(swung.map(|s| along::swing_finding(&basis, s)));
    let passes = tables::passes(input.measured, &notes, &residuals.local);
    let summary = summary(input, &basis, swung, &passes);
    rank::by_weight(&mut told, hearing_limit, apart_ms, summary.spread_ms.value);
    let line_notes = input.grid.iter().filter(|g| g.repeat == 0 && g.picked()).count();
    let drill_notes = input.grid.iter().filter(|g| g.picked()).count();
    let reliability = reliability::reliability(&notes, input.measured, line_notes, drill_notes);
    let changes = changes(input, &basis);
    let plan = plan::plan(&plan::Sources {
        drill: input.drill,
        grid: input.grid,
        basis: &basis,
        told: &told,
        groups: &rows,
        changes: &changes,
        reliability: &reliability,
        tempo,
    });
    let curious = curious::curious(&basis, input.mode, apart_ms, summary.spread_ms.clone());
    let mut warnings = input.warnings.clone();
    warnings.extend(input.measured.alignment.remarks.iter().cloned());
    ScoreReport {
        schema: SCORE_SCHEMA.into(),
        take: input.take.clone(),
        drill: tables::drill(input),
        timebase: tables::timebase(input, &notes),
        notes: tables::notes(input, &notes, &residuals.local, &all),
        extra: tables::extra(input.measured),
        set_aside: tables::set_aside(input.measured),
        tool: ToolSection { version: input.version.into(), seed: input.seed },
        recording: input.recording.clone(),
        warnings,
        passes,
        summary,
        changes,
        groups: rows,
        search: search_section(input.seed, &basis, found.groups_tried, hearing_limit),
        findings: told.into_iter().map(|t| t.row).collect(),
        may_be_instrument: found.may_be_instrument,
        curious,
        along,
        reliability,
        plan,
        cautions: vec![caution().to_owned()],
        camera: None,
        waveform: tables::waveform(input),
    }
}

/// From here on one shifted note is heard: 6 ms, or 2.5 % of the distance between notes where that is longer than
/// 240 ms (Friberg & Sundberg 1995, J. Acoust. Soc. Am. 98:2524).
fn hearing_limit_ms(apart_ms: f64) -> Option<f64> {
    apart_ms.is_finite().then_some(if apart_ms > 240.0 { 0.025 * apart_ms } else { 6.0 })
}

fn search_section(seed: u64, basis: &Basis, groups_tried: usize, hearing_limit: Option<f64>) -> SearchSection {
    let heard = basis.local.iter().flatten().count();
    SearchSection {
        groups_tried,
        permutations: search::settings(search::ALPHA, seed).permutations,
        alpha: search::ALPHA,
        gates: gates(),
        hearing_limit_ms: hearing_limit.and_then(milli),
        withheld: (heard < search::LEAST_NOTES)
            .then(|| format!("{heard} notes heard: a search needs {}", search::LEAST_NOTES)),
    }
}

/// One row a pair and kind, in order of string left, string reached, kind and leaving stroke.
fn changes(input: &Input, basis: &Basis) -> Vec<ChangeRow> {
    let mut found = std::collections::BTreeMap::new();
    for (i, n) in basis.notes.iter().enumerate().filter(|(_, n)| n.grid.picked() && n.stroke_used) {
        if let Some((c, kind)) = tested_change(n) {
            found.entry((c.from, c.to, kind, c.leaves_on)).or_insert_with(|| (c, kind, Vec::new())).2.push(i);
        }
    }
    let row_of = |(c, kind, members): (takegauge_drill::Change, takegauge_drill::ChangeKind, Vec<usize>)| {
        let key = GroupKey::PairKind(c.from, c.to, kind);
        let group = Group { key, label: label(key, input.drill), members };
        ChangeRow {
            from: c.from,
            to: c.to,
            kind: Some(kind),
            leaves_on: c.leaves_on,
            adjacent: c.adjacent,
            row: row(basis, &group, None),
        }
    };
    found.into_values().map(row_of).collect()
}

fn summary(input: &Input, basis: &Basis, swung: Option<swing::Swing>, passes: &[PassRow]) -> Summary {
    let picked: Vec<(usize, &Judged)> = basis.notes.iter().enumerate().filter(|(_, n)| n.grid.picked()).collect();
    let missed = picked.iter().filter(|(_, n)| n.missed()).count();
    let wrong_pitch = picked.iter().filter(|(_, n)| n.wrong()).count();
    let members: Vec<usize> = picked.iter().map(|(i, _)| *i).collect();
    let deviations: Vec<f64> = picked.iter().filter_map(|(_, n)| n.deviation).collect();
    let scatter = scatter(basis, &members);
    let spread_ms = spread_figure(scatter.as_ref());
    let leaves = |s| {
        let leaves_on = |n: &Judged| tested_change(n).is_some_and(|(c, k)| counts(k) && c.leaves_on == Some(s));
        picked.iter().filter(|(_, n)| leaves_on(n)).count()
    };
    let tempo = input.measured.alignment.passes.first().map_or(input.drill.tempo.0, |p| p.tempo.0);
    let played = picked.iter().filter(|(_, n)| n.deviation.is_some()).count() - wrong_pitch.min(deviations.len());
    let spoken = match (spread_ms.value, spread_ms.below, &spread_ms.withheld) {
        (Some(s), ..) => format!("scatter {s:.1} ms"),
        (None, Some(limit), _) => format!("scatter below {limit:.1} ms"),
        (None, None, Some(why)) => format!("scatter not told ({why})"),
        (None, None, None) => "scatter not told".to_owned(),
    };
    let raw_sd_ms = Sample::new(&deviations).ok().and_then(|s| moments::standard_deviation(s).ok()).and_then(milli);
    let assumed = picked.iter().filter(|(_, n)| n.stroke_used && !n.stroke_sure).count();
    let mut headline = vec![
        format!(
            "{} of {} notes heard at {} ({:.1} notes a second), {spoken}.",
            deviations.len(),
            picked.len(),
            headline::tempo(input, &picked),
            notes_a_second(input, tempo)
        ),
        format!("{missed} not heard, {wrong_pitch} at another pitch, {} extra.", input.measured.extra.len()),
    ];
    headline.extend(headline::another_drill(wrong_pitch, picked.len()));
    headline.extend(headline::more(input, &picked, passes));
    headline.extend(swung.map(swing::Swing::text));
    // Swung notes lie off a straight grid by what is told of them.
    let doubtful = raw_sd_ms.filter(|_| swung.is_none());
    headline.extend(doubtful.and_then(|sd| doubt(sd, 1e3 / notes_a_second(input, tempo))));
    Summary {
        headline,
        notes_reached: picked.len(),
        played,
        missed,
        wrong_pitch,
        extra: input.measured.extra.len(),
        notes_a_second: milli_or_zero(notes_a_second(input, tempo)),
        spread_ms,
        slips: scatter.map_or(0, |s| s.slips),
        detector_sd_ms: milli_or_zero(basis.detector_sd),
        raw_sd_ms,
        ioi_sd_ms: ioi_sd(basis),
        leaves_on_up: leaves(takegauge_drill::Stroke::Up),
        leaves_on_down: leaves(takegauge_drill::Stroke::Down),
        strokes_assumed: assumed,
        swing_pct: swung.map(|s| Figure::estimated(s.percent())),
        strokes_note: strokes_note(input, assumed, &picked),
    }
}

/// What every output says of strokes, with how many of them are assumed.
fn strokes_note(input: &Input, assumed: usize, picked: &[(usize, &Judged)]) -> String {
    let mut text = STROKES_NOTE.to_owned();
    let dropped = picked.iter().filter(|(_, n)| !n.stroke_used).count();
    if assumed > 0 {
        text.push_str(&format!(
            " {} after a slip: there the hand is taken to have kept moving (--after-slip drop leaves them out).",
            count(assumed, "note comes", "notes come")
        ));
    }
    if dropped > 0 {
        let why = if input.after_slip == AfterSlip::Drop {
            "they come after a slip, or in a pass that begins on another stroke"
        } else {
            "they come in a pass that begins on another stroke than the drill"
        };
        text.push_str(&format!(
            " {} in no group that speaks of strokes: {why}.",
            count(dropped, "note is", "notes are")
        ));
    }
    text
}

/// Said where the notes lie so far from their places that another line, or another rhythm, may have been played: a line
/// that merely resembles the drill is matched note by note, and its figures look like those of a player.
fn doubt(raw_sd_ms: f64, apart_ms: f64) -> Option<String> {
    let share = raw_sd_ms / apart_ms;
    (share.is_finite() && share >= DOUBTFUL_SHARE).then(|| {
        format!(
            "The notes lie {raw_sd_ms:.0} ms (SD) from their places, {:.0} % of the distance between notes: check that \
             this is the drill that was played, and its rhythm.",
            100.0 * share
        )
    })
}

/// Takes of their own drill, from clean to messy, stay below 0.12; a line of the same contour on other strings that was
/// taken for the drill had 0.27, and swung notes against a straight drill lie at 0.17 and above.
const DOUBTFUL_SHARE: f64 = 0.2;

/// A sweep needs no clearing of the strings, so its leaving stroke is not counted.
fn counts(kind: takegauge_drill::ChangeKind) -> bool {
    kind != takegauge_drill::ChangeKind::Sweep
}

fn ioi_sd(basis: &Basis) -> Figure {
    let all: Vec<f64> = basis.intervals.iter().flatten().copied().collect();
    match Sample::new(&all).and_then(|s| takegauge_stats::intervals::sd_interval(s, 0.95)) {
        Ok(e) => Figure::estimated(e),
        Err(_) => Figure::withheld(Reason::TooFew, "fewer than two intervals between neighbours", 0),
    }
}

/// Notes a second where notes follow one another at the drill's usual distance, at `tempo`.
fn notes_a_second(input: &Input, tempo: f64) -> f64 {
    let neighbours = input.grid.windows(2).filter(|w| !w[1].after_gap);
    let apart: Vec<f64> = neighbours.map(|w| w[1].expected.0 - w[0].expected.0).filter(|d| *d > 0.0).collect();
    let usual = Sample::new(&apart).map_or(input.drill.step_seconds().0, takegauge_stats::robust::median);
    tempo / input.drill.tempo.0 / usual
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::{aligned, drill, input};

    const LINE: &str = "6:3 6:5 6:7 5:3 5:5 5:7 4:5 4:7 4:5 5:7 5:5 5:3 6:7 6:5";

    #[test]
    fn an_exact_take_deviates_nowhere_and_its_report_reads_back() {
        let d = drill(LINE, 4);
        let grid = d.grid();
        let m = aligned(&grid, 160.0, |_| Some(0.0));
        let r = score(&input(&d, &grid, &m));
        assert_eq!(r.notes.len(), grid.len());
        assert!(r.notes.iter().all(|n| n.deviation_ms == Some(0.0) && n.local_deviation_ms == Some(0.0)));
        assert_eq!(r.timebase.tempo_error_pct, 33.333);
        let text = serde_json::to_string(&r).unwrap();
        assert_eq!(serde_json::from_str::<ScoreReport>(&text).unwrap(), r);
    }

    #[test]
    fn nothing_heard_at_all_is_counts_only() {
        let d = drill(LINE, 1);
        let grid = d.grid();
        let m = aligned(&grid, 120.0, |_| None);
        let r = score(&input(&d, &grid, &m));
        assert_eq!((r.summary.missed, r.summary.played, r.reliability.at_most_in_100), (14, 0, Some(100.0)));
        assert!(r.groups.iter().all(|g| g.figures.value(&crate::declared::BIAS).is_none() && g.withheld.is_some()));
    }
}
