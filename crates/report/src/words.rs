//! Figures as a player reads them: a unit, a sign in words, rounded to 0.1 ms.

use takegauge_review::{Figure, FindingRow, GroupKey, LEAST_FOR_ESTIMATES, Mode, ScoreReport, TempoFrom, ringing};

/// "13.6 ms late", "2.0 ms early", "0.0 ms" below 0.05 ms.
pub(crate) fn early_late(ms: f64) -> String {
    if ms.abs() < 0.05 {
        "0.0 ms".to_owned()
    } else {
        format!("{:.1} ms {}", ms.abs(), if ms > 0.0 { "late" } else { "early" })
    }
}

/// "+13.6", "-2.0", "0.0": for narrow columns whose head says what + is.
pub fn signed(ms: f64) -> String {
    let text = format!("{ms:+.1}");
    if text == "+0.0" || text == "-0.0" { "0.0".to_owned() } else { text }
}

/// A scatter and its interval: "3.2 (2.5 to 4.1)", "below 1.9" where the interval reaches 0, "" where withheld.
pub fn spread(value: Option<f64>, ci: Option<[Option<f64>; 2]>) -> String {
    match (value, ci) {
        (_, Some([None, Some(high)])) => format!("below {high:.1}"),
        (Some(v), Some([Some(low), Some(high)])) => format!("{v:.1} ({low:.1} to {high:.1})"),
        (Some(v), _) => format!("{v:.1}"),
        _ => String::new(),
    }
}

/// Whether a figure rests on fewer notes than a group needs for estimates.
pub(crate) fn few(notes: usize) -> bool {
    notes < LEAST_FOR_ESTIMATES
}

/// A time of ringing over, with the number of notes where it rests on few: "33 or less", "68 (n 3)".
pub(crate) fn rings(ms: f64, notes: usize) -> String {
    if few(notes) { format!("{} (n {notes})", ringing(ms)) } else { ringing(ms) }
}

/// What a finding cannot be told apart from, as a player reads it.
pub(crate) fn also(finding: &FindingRow, report: &ScoreReport) -> String {
    let label =
        |key: &GroupKey| report.groups.iter().find(|g| g.group == *key).map_or(key.to_string(), |g| g.label.clone());
    finding.or_also.iter().map(label).collect::<Vec<_>>().join(", ")
}

/// How the take's scatter was got, after the word "scatter": its interval, what was left out, what was taken off.
pub(crate) fn scatter(report: &ScoreReport) -> String {
    let s = &report.summary;
    let left_out = match s.slips {
        0 => String::new(),
        n => format!("; left out: {}, beyond 4 MAD of their place", count(n, "slip", "slips")),
    };
    format!(
        "{}{left_out}; the detector's own error of {:.2} ms (SD) is taken off",
        figure(&s.spread_ms, "ms", 1),
        s.detector_sd_ms
    )
}

/// "3.2 ms (95 %: 2.5 to 4.1, n = 120)" or the reason why not.
pub(crate) fn figure(f: &Figure, unit: &str, digits: usize) -> String {
    let gap = if unit.is_empty() { "" } else { " " };
    match (f.value, f.ci95) {
        (Some(v), Some([a, b])) => {
            format!("{v:.digits$}{gap}{unit} (95 %: {a:.digits$} to {b:.digits$}, n = {})", f.n)
        }
        (Some(v), None) => format!("{v:.digits$}{gap}{unit} (n = {})", f.n),
        (None, _) if f.below.is_some() => f.withheld.clone().unwrap_or_default(),
        (None, _) => format!("withheld: {}", f.withheld.as_deref().unwrap_or("not enough notes")),
    }
}

/// How many strings the drill's instrument has: "6=E2 ... 1=E4" names them all. 0 where nothing is named.
pub(crate) fn strings(report: &ScoreReport) -> u8 {
    report.drill.tuning.split(' ').filter_map(|s| s.split_once('=')?.0.parse().ok()).max().unwrap_or(0)
}

/// How the grid was placed, in a word.
pub(crate) fn mode(mode: Mode) -> &'static str {
    match mode {
        Mode::Steady => "steady",
        Mode::Click => "click",
    }
}

/// Head of what is no finding, as it may not be the player's doing.
pub(crate) const MAY_BE_INSTRUMENT: &str = "May be the instrument, not the hand";

/// Where there is no finding: what that means. Notes not as written are there all the same.
pub(crate) fn nothing(report: &ScoreReport) -> &'static str {
    if report.reliability.errors > 0 {
        "No kind of note stands out beyond chance, in time or in mistakes; the single notes not as written are listed."
    } else {
        "No kind of note stands out beyond chance."
    }
}

/// The tempo against the one asked for, or the drill's where none was.
pub(crate) fn tempo_against(t: &takegauge_review::TimebaseSection, drill_bpm: f64) -> String {
    match t.asked_tempo_bpm {
        Some(asked) => format!("{asked:.0} asked for"),
        None => format!("the drill is written at {drill_bpm:.0}"),
    }
}

/// What gave the tempo, in a word or two.
pub(crate) fn tempo_from(from: TempoFrom) -> &'static str {
    match from {
        TempoFrom::Given => "given",
        TempoFrom::FileName => "file name",
        TempoFrom::Drill => "drill",
        TempoFrom::Sought => "sought",
        TempoFrom::Click => "click",
    }
}

/// "sixteenths" for four steps a beat, and so on; "steps" where the trade has no word.
pub(crate) fn subdivision(steps_per_beat: u8) -> &'static str {
    match steps_per_beat {
        1 => "quarters",
        2 => "eighths",
        3 => "triplets",
        4 => "sixteenths",
        6 => "sextuplets",
        8 => "thirty-seconds",
        _ => "steps",
    }
}

/// "160 bpm, sixteenths (10.7 notes a second)"
pub(crate) fn rate(report: &ScoreReport) -> String {
    let word = subdivision(report.drill.steps_per_beat);
    let bpm = report.timebase.tempo_bpm;
    let bpm = if (bpm - bpm.round()).abs() < 0.05 { format!("{bpm:.0}") } else { format!("{bpm:.1}") };
    format!("{bpm} bpm, {word} ({:.1} notes a second)", report.summary.notes_a_second)
}

/// "1:02.4" above a minute, else "12.41 s".
pub(crate) fn clock(seconds: f64) -> String {
    if seconds < 60.0 {
        format!("{seconds:.2} s")
    } else {
        let minutes = (seconds / 60.0).floor();
        format!("{minutes:.0}:{:04.1}", seconds - minutes * 60.0)
    }
}

/// Passes that are listed; hours of a drill have a thousand.
pub(crate) const MOST_PASSES: usize = 20;

/// What of a long list is shown: all of it up to `most`, else its first and last halves with how many lie between.
pub(crate) fn ends<T>(list: &[T], most: usize) -> (&[T], usize, &[T]) {
    let between = list.len().saturating_sub(most.max(2));
    if between == 0 {
        return (list, 0, &[]);
    }
    let (first, rest) = list.split_at(most.max(2) / 2);
    (first, between, &rest[between..])
}

/// "1 note", "3 notes"
pub(crate) fn count(n: usize, one: &str, many: &str) -> String {
    format!("{n} {}", if n == 1 { one } else { many })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_negative_zero_and_words_for_signs() {
        assert_eq!(signed(-0.04), "0.0");
        assert_eq!(signed(13.64), "+13.6");
        assert_eq!(early_late(-2.04), "2.0 ms early");
        assert_eq!(early_late(0.01), "0.0 ms");
        assert_eq!(clock(62.41), "1:02.4");
        assert_eq!(ends(&[1, 2, 3], 3), (&[1, 2, 3][..], 0, &[][..]));
        assert_eq!(ends(&[1, 2, 3, 4, 5, 6], 4), (&[1, 2][..], 2, &[5, 6][..]));
        assert_eq!(spread(Some(1.0), Some([None, Some(1.94)])), "below 1.9");
        assert_eq!((rings(68.2, 3), rings(33.0, 8)), ("68 (n 3)".to_owned(), "33 or less".to_owned()));
    }
}
