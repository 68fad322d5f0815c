//! What the first lines say of the tempo, of several passes, and of what was set aside.

use crate::round::milli_or_zero;
use crate::score::PassRow;
use crate::take::{Input, Judged};
use crate::words::count;
use takegauge_align::SetAside;

/// Passes whose tempos lie further apart than this, in per cent, were not played at one tempo.
const ONE_TEMPO_PCT: f64 = 3.0;
/// A tempo this far from the drill's, in per cent, is worth a sentence, where none was asked for.
const OTHER_TEMPO_PCT: f64 = 1.0;
/// A bend of the tempo of this size, in per cent, over a pass is told as a range.
const BENT_PCT: f64 = 5.0;

/// It is asked what drill was played where one note in so many, or more, is at another pitch ...
const OTHER_PITCH_ONE_IN: usize = 4;
/// ... and so many notes at least are.
const OTHER_PITCH_NOTES: usize = 4;

/// A question rather than a figure, where the notes are so little the drill's that figures of them mean nothing.
pub(crate) fn another_drill(wrong_pitch: usize, reached: usize) -> Option<String> {
    (wrong_pitch >= OTHER_PITCH_NOTES && OTHER_PITCH_ONE_IN * wrong_pitch >= reached).then(|| {
        "So many notes at another pitch: was this drill played, and is its tuning the guitar's? If not, nothing below \
         holds."
            .to_owned()
    })
}

/// Lowest and highest tempo of a take that was not played at one: of its passes and of the bends within them.
fn range(input: &Input, picked: &[(usize, &Judged)]) -> Option<(f64, f64)> {
    let mut ends = (f64::INFINITY, 0.0f64);
    for (pass, p) in input.measured.alignment.passes.iter().enumerate() {
        let bend = bend(picked, pass).filter(|b| b.abs() * 100.0 >= BENT_PCT).unwrap_or(0.0);
        for t in [p.tempo.0 * (1.0 - 0.5 * bend), p.tempo.0 * (1.0 + 0.5 * bend)] {
            ends = (ends.0.min(t), ends.1.max(t));
        }
    }
    (ends.0.is_finite() && ends.1 > ends.0 * (1.0 + ONE_TEMPO_PCT / 100.0)).then_some(ends)
}

/// How far the tempo rises from the beginning to the end of a pass, as a share: from local tempos of its first and last
/// quarter, as a straight line of time against the grid has them.
fn bend(picked: &[(usize, &Judged)], pass: usize) -> Option<f64> {
    let heard: Vec<(f64, f64)> = picked
        .iter()
        .filter(|(_, n)| n.pass == pass)
        .filter_map(|(_, n)| Some((n.placed.expected.0, n.placed.played?.0)))
        .collect();
    let quarter = heard.len() / 4;
    let slope = |part: &[(f64, f64)]| {
        let n = part.len() as f64;
        let (mx, my) = (part.iter().map(|p| p.0).sum::<f64>() / n, part.iter().map(|p| p.1).sum::<f64>() / n);
        let sxx: f64 = part.iter().map(|p| (p.0 - mx).powi(2)).sum();
        let sxy: f64 = part.iter().map(|p| (p.0 - mx) * (p.1 - my)).sum();
        (sxx > 0.0 && sxy > 0.0).then(|| sxx / sxy)
    };
    if quarter < 8 {
        return None;
    }
    let (first, last) = (slope(heard.get(..quarter)?)?, slope(heard.get(heard.len() - quarter..)?)?);
    // From the middles of the quarters to the ends of the pass.
    Some((last / first - 1.0) * 4.0 / 3.0)
}

/// "150.1 bpm", or "120 to 200 bpm".
pub(crate) fn tempo(input: &Input, picked: &[(usize, &Judged)]) -> String {
    if let Some((low, high)) = range(input, picked) {
        return format!("{low:.0} to {high:.0} bpm");
    }
    let passes = &input.measured.alignment.passes;
    let longest = |p: usize| picked.iter().filter(|(_, n)| n.pass == p).count();
    let main = (0..passes.len()).rev().max_by_key(|p| longest(*p)).and_then(|p| passes.get(p));
    let one = main.map_or(input.drill.tempo.0, |p| p.tempo.0);
    format!("{one:.1} bpm")
}

/// Sentences on the tempo that was meant, the passes, and what was set aside.
pub(crate) fn more(input: &Input, picked: &[(usize, &Judged)], rows: &[PassRow]) -> Vec<String> {
    let mut out = Vec::new();
    let alignment = &input.measured.alignment;
    let passes = alignment.passes.len();
    if let Some((low, high)) = range(input, picked) {
        out.push(rising(input, picked, low, high));
    } else if let Some(p) = alignment.passes.first()
        && input.asked().is_none()
        && (p.tempo.0 / input.drill.tempo.0 - 1.0).abs() * 100.0 >= OTHER_TEMPO_PCT
    {
        out.push(format!("The drill is written at {:.0} bpm; no tempo was asked for.", input.drill.tempo.0));
    }
    let drill_notes = input.grid.iter().filter(|g| g.picked()).count();
    let of_pass = |p: usize| picked.iter().filter(|(_, n)| n.pass == p).count();
    let whole = (0..passes).filter(|p| of_pass(*p) >= drill_notes).count();
    if passes > 1 {
        let partly: Vec<usize> = (0..passes).filter(|p| of_pass(*p) < drill_notes).collect();
        let on = partly.iter().filter(|p| goes_on(input, **p)).count();
        let mut text = format!("Played {} whole", count(whole, "time", "times"));
        let parts = partly.len() - on;
        if parts > 0 {
            text.push_str(&format!(", {} in part", count(parts, "time", "times")));
        }
        text.push('.');
        if on > 0 {
            let notes: usize = partly.iter().filter(|p| goes_on(input, **p)).map(|p| of_pass(*p)).sum();
            text.push_str(&format!(
                " The line was played on past the drill's {}: {} more, counted with the rest.",
                count(input.drill.repeats as usize, "repeat", "repeats"),
                count(notes, "note", "notes")
            ));
        }
        out.push(text);
    }
    let whole: Vec<&PassRow> = rows.iter().filter(|r| of_pass(r.pass) >= drill_notes).collect();
    out.extend(best_and_worst(&whole));
    let aside: Vec<String> = alignment.set_aside.iter().map(told_aside).take(3).collect();
    if !aside.is_empty() {
        let more = alignment.set_aside.len().saturating_sub(aside.len());
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        out.push(format!("Set aside and counted in no figure: {}{more}.", aside.join("; ")));
    }
    out
}

/// A stretch this long, in seconds, is told with its end: it may be among the notes.
const LONG_S: f64 = 1.0;

/// "one attack that belongs to no pass at 2.1 s", "5 sounds that are no string's between 2.1 and 9.8 s".
fn told_aside(aside: &SetAside) -> String {
    let (from, to) = (milli_or_zero(aside.from.0), milli_or_zero(aside.to.0));
    if to - from < LONG_S {
        format!("{} at {from:.1} s", aside.why)
    } else {
        format!("{} between {from:.1} and {to:.1} s", aside.why)
    }
}

/// Which of the whole passes was best and which worst, and whether the last differs from the first beyond chance.
fn best_and_worst(whole: &[&PassRow]) -> Option<String> {
    let by = |a: &&&PassRow, b: &&&PassRow| {
        let scatter = |p: &PassRow| p.scatter_ms.unwrap_or(f64::INFINITY);
        a.errors.cmp(&b.errors).then(scatter(a).total_cmp(&scatter(b))).then(a.pass.cmp(&b.pass))
    };
    let (best, worst) = (whole.iter().min_by(by)?, whole.iter().max_by(by)?);
    if best.pass == worst.pass {
        return None;
    }
    let figures = |p: &PassRow| {
        let scatter = p.scatter_ms.map(|s| format!(", scatter {s:.1} ms")).unwrap_or_default();
        format!("{}{scatter}", count(p.errors, "error", "errors"))
    };
    // What reads the same is neither best nor worst.
    let (of_best, of_worst) = (figures(best), figures(worst));
    let ends = (of_best != of_worst).then(|| {
        let (best, worst) = (best.pass + 1, worst.pass + 1);
        format!("The best of them was pass {best} ({of_best}), the worst pass {worst} ({of_worst}).")
    });
    let told: Vec<String> = ends.into_iter().chain(first_to_last(whole)).collect();
    (!told.is_empty()).then(|| told.join(" "))
}

/// Whether the scatter of the last pass differs from that of the first; nothing where either is 0 as it is shown, or
/// where both read the same though they differ.
fn first_to_last(whole: &[&PassRow]) -> Option<String> {
    let shown = |p: &PassRow| Some((p.scatter_ms?, format!("{:.1} ms", p.scatter_ms?))).filter(|(ms, _)| *ms >= 0.05);
    let (first, last) = (*whole.first()?, *whole.last()?);
    let ((a, at_first), (b, at_last)) = (shown(first)?, shown(last)?);
    // First-order: the log of an SD of n values is known to 1 / sqrt(2 n).
    let error = (0.5 / first.played.max(1) as f64 + 0.5 / last.played.max(1) as f64).sqrt();
    let z = (b / a).ln() / error;
    if z.abs() <= 1.96 {
        return Some("From the first to the last no change of scatter is shown.".to_owned());
    }
    let way = if z < 0.0 { "fell" } else { "grew" };
    (at_first != at_last).then(|| format!("Scatter {way} from {at_first} in the first to {at_last} in the last."))
}

/// Whether a pass is the drill's line going on where the pass before ended, without a stop.
fn goes_on(input: &Input, pass: usize) -> bool {
    let passes = &input.measured.alignment.passes;
    let (Some(before), Some(here)) = (pass.checked_sub(1).and_then(|b| passes.get(b)), passes.get(pass)) else {
        return false;
    };
    let step = input.drill.step_seconds().0 * input.drill.tempo.0 / here.tempo.0.max(1.0);
    here.from.0 - before.to.0 < 2.5 * step
}

/// A take at more than one tempo: which way it goes, and what its figures are then worth.
fn rising(input: &Input, picked: &[(usize, &Judged)], low: f64, high: f64) -> String {
    let passes = &input.measured.alignment.passes;
    let all = |of: fn(f64, f64) -> bool| passes.len() > 1 && passes.windows(2).all(|w| of(w[0].tempo.0, w[1].tempo.0));
    let change = if all(|a, b| b > a * 1.01) {
        format!("rises in steps, from {low:.0} to {high:.0} bpm")
    } else if all(|a, b| b < a * 0.99) {
        format!("falls in steps, from {high:.0} to {low:.0} bpm")
    } else if passes.len() > 1 {
        format!("changes between {low:.0} and {high:.0} bpm")
    } else if bend(picked, 0).is_some_and(|b| b < 0.0) {
        format!("falls along the recording, from {high:.0} to {low:.0} bpm")
    } else {
        format!("rises along the recording, from {low:.0} to {high:.0} bpm")
    };
    format!(
        "The tempo {change}: figures over the whole take mix slow and fast. With the click's table, --ladder-file tells \
         them step by step."
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pass(pass: usize, errors: usize, scatter_ms: Option<f64>) -> PassRow {
        let row = serde_json::json!({"pass": pass, "offset_s": 0.0, "tempo_bpm": 120.0, "from_s": 0.0, "to_s": 1.0,
            "notes_reached": 96, "played": 96, "errors": errors, "scatter_ms": scatter_ms});
        serde_json::from_value(row).unwrap()
    }

    #[test]
    fn passes_are_compared_where_they_differ_as_shown() {
        let told = |all: [PassRow; 2]| best_and_worst(&all.iter().collect::<Vec<_>>());
        assert_eq!(told([pass(0, 0, Some(0.0)), pass(1, 0, Some(0.04))]), None);
        assert_eq!(told([pass(0, 1, None), pass(1, 1, None)]), None);
        let same = told([pass(0, 0, Some(3.01)), pass(1, 0, Some(3.04))]);
        assert_eq!(same.as_deref(), Some("From the first to the last no change of scatter is shown."));
        let wider = told([pass(0, 0, Some(2.0)), pass(1, 1, Some(6.0))]).unwrap();
        assert_eq!(
            wider,
            "The best of them was pass 1 (0 errors, scatter 2.0 ms), the worst pass 2 (1 error, scatter 6.0 ms). \
             Scatter grew from 2.0 ms in the first to 6.0 ms in the last."
        );
    }
}
