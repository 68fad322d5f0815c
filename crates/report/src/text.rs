//! The report of one take for the terminal: what stands out first, figures after, how sure last.

use crate::groups::groups;
use crate::style::Style;
use crate::words::{self, clock, count, early_late, figure};
use takegauge_review::declared::OUTSIDE;
use takegauge_review::{ExtraRow, FindingRow, Mode, NoteRow, ScoreReport, Status, caution};

/// The whole report of one take.
pub fn score_text(report: &ScoreReport, style: Style) -> String {
    let mut out = head(report, style);
    out.push_str(&findings(report, style));
    out.push_str(&groups(report, style));
    out.push_str(&errors(report, style));
    out.push_str(&passes(report, style));
    if let Some(camera) = &report.camera {
        out.push_str(&style.heading("The film"));
        out.push_str(&style.item(&camera.text));
    }
    out.push_str(&reliability(report, style));
    out.push_str(&plan(report, style));
    out.push_str(&curious(report, style));
    out.push_str(&how_sure(report, style));
    out
}

fn head(report: &ScoreReport, style: Style) -> String {
    let mut out = style.paragraph(&format!("{}: {}, {}", report.take.path, report.drill.name, words::rate(report)));
    for sentence in &report.summary.headline {
        out.push_str(&style.paragraph(sentence));
    }
    out
}

fn findings(report: &ScoreReport, style: Style) -> String {
    let mut out = style.heading("What stands out");
    if report.findings.is_empty() {
        out.push_str(&style.wrap(words::nothing(report), "  ", "  "));
    }
    for (i, f) in report.findings.iter().enumerate() {
        out.push_str(&finding(f, report, i + 1, style));
    }
    if !report.may_be_instrument.is_empty() {
        out.push_str(&style.heading(words::MAY_BE_INSTRUMENT));
        for f in &report.may_be_instrument {
            out.push_str(&style.item(&f.text));
        }
    }
    out
}

fn finding(f: &FindingRow, report: &ScoreReport, number: usize, style: Style) -> String {
    let mut out = style.wrap(&f.text, &format!("  {number}. "), "     ");
    if !f.or_also.is_empty() {
        let also = format!("This take cannot tell it apart from: {}.", words::also(f, report));
        out.push_str(&style.wrap(&also, "     ", "     "));
    }
    if !f.advice.is_empty() {
        out.push_str(&style.wrap(&format!("Try: {}", f.advice), "     ", "     "));
    }
    if !f.note_times_s.is_empty() {
        let shown: Vec<String> = f.note_times_s.iter().take(6).map(|s| clock(*s)).collect();
        let more = f.note_times_s.len().saturating_sub(6);
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        out.push_str(&style.wrap(&format!("Listen at: {}{more}", shown.join(", ")), "     ", "     "));
    }
    out
}

/// Lines of the list of notes not as written; the rest is counted.
const MOST_ERRORS: usize = 24;

/// Notes not heard, at another pitch or too many, in order of time.
fn errors(report: &ScoreReport, style: Style) -> String {
    let odd =
        report.notes.iter().filter(|n| matches!(n.status, Status::Missed | Status::WrongPitch)).map(not_as_written);
    let extra = report.extra.iter().map(too_many);
    let mut lines: Vec<(f64, String)> = odd.chain(extra).collect();
    if lines.is_empty() {
        return String::new();
    }
    lines.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut out = style.heading("Notes not as written");
    for (time_s, what) in lines.iter().take(MOST_ERRORS) {
        out.push_str(&style.item(&format!("{}: {what}", clock(*time_s))));
    }
    let hidden = lines.len().saturating_sub(MOST_ERRORS);
    if hidden > 0 {
        out.push_str(&style.item(&format!("and {hidden} more: see --csv or --json")));
    }
    out
}

/// When, s, and what.
fn not_as_written(n: &NoteRow) -> (f64, String) {
    let place = format!(
        "note {} (string {}, fret {}, step {} of repeat {})",
        n.index + 1,
        n.string,
        n.fret,
        n.position + 1,
        n.repeat + 1
    );
    let name = |key| takegauge_units::MidiKey(key).name();
    match (n.status, n.heard_midi) {
        (Status::Missed, _) => (n.expected_s, format!("{place} not heard")),
        (_, Some(key)) => (
            n.played_s.unwrap_or(n.expected_s),
            format!("{place} sounded as {} instead of {}", name(key), name(n.midi)),
        ),
        _ => (n.played_s.unwrap_or(n.expected_s), format!("{place} at another pitch")),
    }
}

/// The same of an extra attack.
fn too_many(e: &ExtraRow) -> (f64, String) {
    let after = e.after_index.map(|i| format!(" after note {}", i + 1)).unwrap_or_default();
    let key = e.heard_midi.map(|k| format!(", {}", takegauge_units::MidiKey(k).name())).unwrap_or_default();
    (e.played_s, format!("an extra attack{after} ({:.0} dBFS{key})", e.level_db))
}

fn passes(report: &ScoreReport, style: Style) -> String {
    if report.passes.len() < 2 && report.set_aside.is_empty() {
        return String::new();
    }
    let mut out = style.heading("Along the recording");
    let (first, between, last) = words::ends(&report.passes, words::MOST_PASSES);
    for (k, p) in first.iter().chain(last).enumerate() {
        if between > 0 && k == first.len() {
            out.push_str(&style.item(&format!("{between} more passes: see --json")));
        }
        out.push_str(&style.item(&format!(
            "pass {}: {} to {}, {:.1} bpm, {} reached, {}{}",
            p.pass + 1,
            clock(p.from_s),
            clock(p.to_s),
            p.tempo_bpm,
            count(p.notes_reached, "note", "notes"),
            count(p.errors, "error", "errors"),
            p.scatter_ms.map(|s| format!(", scatter {s:.1} ms")).unwrap_or_default(),
        )));
    }
    for s in &report.set_aside {
        out.push_str(&style.item(&format!("set aside: {} to {}, {}", clock(s.from_s), clock(s.to_s), s.why)));
    }
    out
}

fn reliability(report: &ScoreReport, style: Style) -> String {
    let mut lines: Vec<String> = Vec::new();
    if !report.reliability.text.is_empty() {
        lines.push(report.reliability.text.clone());
    }
    // The kinds that land outside most often: the one at its limit must not be among those left out.
    let mut kinds: Vec<(f64, String)> = report
        .groups
        .iter()
        .filter_map(|g| Some((g.figures.value(&OUTSIDE)?, format!("{}: {}", g.label, g.outside_text.as_ref()?))))
        .collect();
    kinds.sort_by(|a, b| b.0.total_cmp(&a.0));
    lines.extend(kinds.into_iter().take(3).map(|(_, line)| line));
    lines.extend(report.along.text.iter().cloned());
    if lines.is_empty() {
        return String::new();
    }
    let mut out = style.heading("Margin, and what changes along the take");
    for line in lines {
        out.push_str(&style.item(&line));
    }
    out
}

fn plan(report: &ScoreReport, style: Style) -> String {
    if report.plan.is_empty() {
        return String::new();
    }
    let mut out = style.heading("What to practise next");
    for (i, p) in report.plan.iter().enumerate() {
        let burst = p.burst_bpm.map(|b| format!(", short bursts at {b:.0}")).unwrap_or_default();
        let line = format!(
            "{}. Start at {:.0} bpm, up by {:.0}{burst}. {} {}",
            p.what.trim_end_matches('.'),
            p.start_bpm,
            p.step_bpm,
            p.stop.replace(caution(), "").trim(),
            p.rest
        );
        out.push_str(&style.wrap(&line, &format!("  {}. ", i + 1), "     "));
        out.push_str(&style.wrap(&format!("Because: {}", p.why), "     ", "     "));
        for line in &p.tab {
            out.push_str(&format!("     {line}\n"));
        }
    }
    out.push_str(&style.wrap(caution(), "  ", "  "));
    out
}

fn curious(report: &ScoreReport, style: Style) -> String {
    let c = &report.curious;
    let lines = [
        ("inter-onset intervals, SD", figure(&report.summary.ioi_sd_ms, "ms", 1)),
        ("same at every repeat (SD of the places' means)", figure(&c.systematic_sd_ms, "ms", 1)),
        ("from repeat to repeat", figure(&c.trial_sd_ms, "ms", 1)),
        ("nPVI of intervals over nominal lengths", figure(&c.npvi, "", 1)),
        ("lag-1 autocorrelation of intervals", figure(&c.lag1, "", 2)),
        ("timing split, timekeeper SD", figure(&c.timekeeper_sd_ms, "ms", 1)),
        ("timing split, motor SD", figure(&c.motor_sd_ms, "ms", 1)),
        ("mean resultant length around the step", figure(&c.resultant_length, "", 3)),
    ];
    let mut out = style.heading("For the curious");
    for (name, value) in lines {
        out.push_str(&style.item(&format!("{name}: {value}")));
    }
    out
}

fn how_sure(report: &ScoreReport, style: Style) -> String {
    let mut out = style.heading("How sure this is");
    let t = &report.timebase;
    out.push_str(&style.item(&format!("scatter {}", words::scatter(report))));
    let from = match (t.from_click_ms, &t.from_click_withheld) {
        (Some(ms), _) => format!("; {} against the click on average", early_late(ms)),
        (None, Some(why)) if t.mode == Mode::Click => format!("; the distance from the click is withheld: {why}"),
        _ => String::new(),
    };
    out.push_str(&style.item(&format!(
        "tempo {:.2} bpm as played ({}; sought from: {}), mode {}{from}",
        t.tempo_bpm,
        words::tempo_against(t, report.drill.tempo_bpm),
        words::tempo_from(t.tempo_from),
        words::mode(t.mode)
    )));
    if t.cents_off.abs() >= 5.0 {
        out.push_str(&style.item(&format!(
            "the guitar is {:+.0} cents off the drill's pitch; notes are judged at its own",
            t.cents_off
        )));
    }
    out.push_str(&style.item(&format!("tuning {}; channel: {}", report.drill.tuning, report.take.channel_used)));
    out.push_str(&style.item(&report.summary.strokes_note));
    for w in &report.warnings {
        out.push_str(&style.item(w));
    }
    out
}
