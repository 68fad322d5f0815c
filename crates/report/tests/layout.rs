//! What a reader sees, held as a whole: the HTML report without its inlined files, the ladder's text, a plot. All from
//! one stored report, so that nothing here moves when listening does. `cargo insta review` shows what changed.
#![allow(clippy::unwrap_used, clippy::panic)] // tests

use takegauge_report::{
    Format, Size, Style, changes_plot, ladder_html, ladder_plot, ladder_text, score_brief, score_html, score_text,
};
use takegauge_review::{ExtraRow, GroupKey, LadderReport, ScoreReport, Status, ladder};

/// The demo's report as the journal keeps one.
fn stored() -> ScoreReport {
    serde_json::from_str(include_str!("../../journal/src/packing-1.json")).unwrap()
}

/// The stored notes over and over at six tempos, with a made scatter; above 160 bpm the changes come later and later.
fn six_tempos() -> LadderReport {
    let at = |tempo: f64| {
        let mut report = stored();
        report.take.path = format!("take at {tempo}.wav");
        (report.drill.tempo_bpm, report.timebase.tempo_bpm) = (tempo, tempo);
        let few = report.notes.clone();
        let group = |key: GroupKey| report.groups.iter().position(|g| g.group == key).unwrap();
        let (same, change) = (group(GroupKey::SameString), group(GroupKey::Change));
        report.notes = (0..240)
            .map(|i| {
                let mut note = few[i % few.len()].clone();
                (note.index, note.repeat, note.position) = (i, i / few.len(), i % few.len());
                note.expected_s = 1.0 + i as f64 * 15.0 / tempo;
                note.groups = vec![if note.change.is_some() { change } else { same }];
                let scatter = [1.0, -4.0, 3.0, -2.0, 5.0, -1.0, -5.0, 2.0, 0.0, 4.0, -3.0][i * 7 % 11];
                let late = if note.change.is_some() { 0.3 * (tempo - 160.0).max(0.0) } else { 0.0 };
                (note.deviation_ms, note.local_deviation_ms) = (Some(scatter + late), Some(scatter + late));
                note.played_s = Some(note.expected_s + (scatter + late) / 1e3);
                note
            })
            .collect();
        report
    };
    ladder(&[120.0, 140.0, 160.0, 180.0, 200.0, 220.0].map(at), 1).unwrap()
}

/// One tag a line, and in place of what stands in files of its own only where it stands.
fn outline(html: &str) -> String {
    let mut rest = html;
    let mut kept = String::new();
    while let Some((at, end)) = ["<style", "<script"]
        .iter()
        .filter_map(|open| rest.find(open).map(|at| (at, if *open == "<style" { "</style>" } else { "</script>" })))
        .min()
    {
        let inside = at + rest[at..].find('>').unwrap() + 1;
        kept.push_str(&rest[..inside]);
        kept.push_str("...");
        rest = &rest[inside + rest[inside..].find(end).unwrap()..];
        kept.push_str(end);
        rest = &rest[end.len()..];
    }
    kept.push_str(rest);
    kept.replace("><", ">\n<")
}

#[test]
fn the_report_in_html() {
    insta::assert_snapshot!(outline(&score_html(&stored())));
}

#[test]
fn notes_not_as_written_stand_in_order_of_time() {
    let mut report = stored();
    for (i, status) in [(3, Status::Missed), (1, Status::WrongPitch)] {
        report.notes[i].status = status;
    }
    report.extra = [0.5, 2.0, 40.0]
        .map(|played_s| ExtraRow { played_s, level_db: -20.0, heard_midi: None, after_index: None, pass: 0 })
        .to_vec();
    let text = score_text(&report, Style { width: 160, bold: false, every_group: false });
    let listed = text.split("Notes not as written").nth(1).unwrap().split("\n\n").next().unwrap();
    let seconds = |line: &str| line["  - ".len()..].split(' ').next().unwrap().parse::<f64>().unwrap();
    let times: Vec<f64> = listed.lines().filter(|l| l.starts_with("  - ")).map(seconds).collect();
    assert!(times.len() >= 5 && times.is_sorted(), "{times:?}\n{listed}");
}

#[test]
fn three_lines_for_a_hurried_reader() {
    let mut report = stored();
    insta::assert_snapshot!("brief", score_brief(&report));
    report.findings.clear();
    report.summary.spread_ms = Default::default();
    insta::assert_snapshot!("brief_of_little", score_brief(&report));
}

#[test]
fn a_ladder_in_text() {
    insta::assert_snapshot!(ladder_text(&six_tempos(), Style { width: 100, bold: false, every_group: false }));
}

#[test]
fn a_ladder_in_html() {
    insta::assert_snapshot!(outline(&ladder_html(&six_tempos())));
}

#[test]
fn plots_in_svg() {
    let svg = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap().replace("><", ">\n<");
    insta::assert_snapshot!("changes", svg(changes_plot(&stored(), Size::default(), Format::Svg).unwrap()));
    insta::assert_snapshot!("ladder", svg(ladder_plot(&six_tempos(), Size::default(), Format::Svg).unwrap()));
}
