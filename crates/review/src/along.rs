//! What changes along a take: scatter, lateness of changes, tempo, level. What changed is said, not why.

use takegauge_stats::{Estimate, Interval, Sample, changepoint, growth, linear, moments, permutation, robust};

use crate::advice::advice;
use crate::basis::Basis;
use crate::estimates::CONFIDENCE;
use crate::group_key::GroupKey;
use crate::groups::Group;
use crate::residuals::SLIP_MADS;
use crate::round::{interval, milli_or_zero, seconds};
use crate::score::{Along, Figure, FindingRow, Measure, Mode, Reason, Unit};
use crate::search::ALPHA_OF_OTHERS;
use crate::take::{Input, Judged};
use crate::told::Told;
use crate::words::count;

/// A tempo is told as another one from this difference on, per cent.
pub(crate) const GATE_TEMPO_PCT: f64 = 1.0;

/// Scatter along the take is told from this ratio on.
const GATE_GROWTH: f64 = 1.3;

/// Fewer notes say nothing about a change along the take.
const LEAST_NOTES: usize = 24;

/// Shuffles behind the p-values of this section.
const PERMUTATIONS: usize = 1999;

/// What changes along the take, and what of it is a finding.
pub(crate) fn along(input: &Input, basis: &Basis, groups: &[Group]) -> (Along, Vec<Told>) {
    let mut told = Vec::new();
    let mut text = Vec::new();
    let scatter = AboutPlaces::new(basis);
    let (spread_ratio, finding) = spread_growth(input, basis, &scatter);
    text.push(growth_text(&spread_ratio));
    told.extend(finding);
    let change_point_s = scatter.change_point(input.seed).map(|(at, ratio)| {
        text.push(format!("From {at:.1} s on the scatter is {ratio:.1} times what it was before."));
        seconds(at)
    });
    let (tempo, finding) = tempo_change(input, basis);
    told.extend(finding);
    told.extend(tempo_finding(input, basis));
    let along = Along {
        spread_ratio,
        bias_slope_ms_a_minute: bias_slope(basis, groups),
        tempo_slope_pct_a_minute: tempo,
        level_slope_db_a_minute: level_slope(basis),
        change_point_s,
        text,
    };
    (along, told)
}

/// Residuals about the means of their places, in order of time, winsorised.
struct AboutPlaces {
    notes: Vec<usize>,
    times: Vec<f64>,
    values: Vec<f64>,
    places: usize,
}

impl AboutPlaces {
    fn new(basis: &Basis) -> Self {
        let notes: Vec<usize> = (0..basis.local.len()).filter(|&i| basis.local[i].is_some()).collect();
        let mut by_place = std::collections::BTreeMap::<usize, Vec<f64>>::new();
        for &i in &notes {
            by_place.entry(basis.notes[i].grid.position).or_default().extend(basis.local[i]);
        }
        // With places played once there is no mean to take off that would leave anything.
        let repeats = notes.len() >= 2 * by_place.len();
        let means: std::collections::BTreeMap<usize, f64> =
            by_place.iter().map(|(p, v)| (*p, v.iter().sum::<f64>() / v.len() as f64)).collect();
        let mean =
            |i: usize| if repeats { means.get(&basis.notes[i].grid.position).copied().unwrap_or(0.0) } else { 0.0 };
        let values: Vec<f64> = notes.iter().map(|&i| basis.local[i].unwrap_or(0.0) - mean(i)).collect();
        let times: Vec<f64> = notes.iter().map(|&i| basis.notes[i].placed.expected.0).collect();
        let places = if repeats { means.len() } else { 1 };
        Self { notes, times, values, places }
    }

    /// SD linear in time, fitted twice: slips are pulled in by the SD of their own time, not that of the take.
    fn growth(&self) -> Option<growth::Growth> {
        let times = Sample::at_least(&self.times, LEAST_NOTES).ok()?;
        let fit = |v: &[f64]| growth::spread_growth(times, Sample::new(v).ok()?, self.places, CONFIDENCE).ok();
        let first = fit(&self.values)?;
        let (from, to) = (*self.times.first()?, *self.times.last()?);
        let sd = |t: f64| first.start + (first.end - first.start) * (t - from) / (to - from).max(1e-9);
        let mut z: Vec<f64> = self.values.iter().zip(&self.times).map(|(v, t)| v / sd(*t).max(1e-9)).collect();
        robust::winsorise(&mut z, SLIP_MADS).ok()?;
        let pulled: Vec<f64> = z.iter().zip(&self.times).map(|(z, t)| z * sd(*t)).collect();
        fit(&pulled)
    }

    /// Chance of so close a tie between distance and time where the order means nothing.
    fn p(&self, seed: u64) -> Option<f64> {
        let mut away: Vec<f64> = self.values.iter().map(|v| v.abs()).collect();
        robust::winsorise(&mut away, SLIP_MADS).ok()?;
        let sample = Sample::at_least(&away, LEAST_NOTES).ok()?;
        let mean = self.times.iter().sum::<f64>() / self.times.len() as f64;
        let centred: Vec<f64> = self.times.iter().map(|t| t - mean).collect();
        let tie = |v: &[f64]| v.iter().zip(&centred).map(|(v, t)| v * t).sum::<f64>().abs();
        let blocks = vec![0; away.len()];
        permutation::test_within_blocks(sample, &blocks, PERMUTATIONS, seed.wrapping_add(400), tie).ok().map(|t| t.p)
    }

    /// Where the scatter changes, s, and by how much.
    fn change_point(&self, seed: u64) -> Option<(f64, f64)> {
        let sample = Sample::at_least(&self.values, 2 * LEAST_NOTES).ok()?;
        let change = changepoint::Change::Spread;
        let c = changepoint::change_point(sample, change, LEAST_NOTES, 499, seed.wrapping_add(401)).ok()?;
        let told = c.p <= 0.005 && (c.size >= GATE_GROWTH || c.size <= 1.0 / GATE_GROWTH);
        told.then(|| self.times.get(c.index).map(|t| (*t, c.size)))?
    }
}

fn spread_growth(input: &Input, basis: &Basis, scatter: &AboutPlaces) -> (Figure, Option<Told>) {
    let n = scatter.values.len();
    let Some(g) = scatter.growth() else {
        return (
            Figure::withheld(Reason::TooFew, format!("{n} notes are too few to follow the scatter along the take"), n),
            None,
        );
    };
    // As it is shown, ms.
    let (start, end) = (format!("{:.1}", g.start), format!("{:.1}", g.end));
    if start == "0.0" && end == "0.0" {
        let why = "it is below 0.1 ms from its start to its end";
        return (Figure::withheld(Reason::NoneShown, why, n), None);
    }
    let ratio = g.ratio;
    let figure = Figure::estimated(ratio);
    let Some(p) = scatter.p(input.seed) else { return (figure, None) };
    let gate = ratio.value >= GATE_GROWTH || ratio.value <= 1.0 / GATE_GROWTH;
    let beyond = ratio.interval.low > 1.0 || ratio.interval.high < 1.0;
    if p > ALPHA_OF_OTHERS || !gate || !beyond || start == end {
        return (figure, None);
    }
    let more = if ratio.value >= 1.0 { "grows" } else { "shrinks" };
    let text = format!(
        "Scatter {more} along the take: {start} ms at the start, {end} ms at the end, {:.1} times as much \
         ({:.1} to {:.1}, {}).",
        ratio.value,
        ratio.interval.low,
        ratio.interval.high,
        count(n, "note", "notes")
    );
    let last: Vec<usize> = scatter.notes.iter().rev().take(16).rev().copied().collect();
    let told = finding(basis, Measure::ChangeInTake, ratio, Unit::Ratio, Some(p), text, &last);
    (figure, Some(told))
}

fn growth_text(figure: &Figure) -> String {
    match (figure.value, figure.ci95, &figure.withheld) {
        (Some(v), Some([low, high]), _) if low > 1.0 || high < 1.0 => {
            format!("Scatter at the end is {v:.1} times that at the start ({low:.1} to {high:.1}).")
        }
        (Some(v), Some([low, high]), _) => {
            format!(
                "Scatter shows no change along the take: {v:.1} times at the end, where {low:.1} to {high:.1} is possible."
            )
        }
        (_, _, why) => format!("Scatter along the take is not told: {}.", why.as_deref().unwrap_or("too few notes")),
    }
}

/// A slope with its interval, its variance raised where neighbours resemble each other: (1 + r)/(1 - r), the effective
/// sample size of a first-order autoregression.
fn slope(columns: &[Vec<f64>], which: usize, y: &[f64]) -> Option<Estimate> {
    let weights = vec![1.0; y.len()];
    let fit = linear::least_squares(columns, Sample::new(y).ok()?, Sample::new(&weights).ok()?).ok()?;
    let rest: Vec<f64> = (0..y.len())
        .map(|k| y[k] - fit.coefficients.iter().zip(columns).map(|(c, column)| c * column[k]).sum::<f64>())
        .collect();
    let r = Sample::new(&rest).and_then(moments::lag1_autocorrelation).unwrap_or(0.0).clamp(0.0, 0.95);
    let se = fit.standard_errors()?.get(which)? * ((1.0 + r) / (1.0 - r)).sqrt();
    let value = *fit.coefficients.get(which)?;
    Some(Estimate { value, interval: Interval { low: value - 1.96 * se, high: value + 1.96 * se }, n: y.len() })
}

fn scaled(e: Estimate, by: f64) -> Estimate {
    let (a, b) = (e.interval.low * by, e.interval.high * by);
    Estimate { value: e.value * by, interval: Interval { low: a.min(b), high: a.max(b) }, n: e.n }
}

fn standard_error(e: &Estimate) -> f64 {
    (e.interval.high - e.interval.low) / (2.0 * 1.96)
}

/// Picked notes of one pass that were heard: (expected s from the pass's first, deviation ms with slips pulled in).
fn timed(notes: &[Judged], pass: usize) -> (Vec<f64>, Vec<f64>) {
    let of_pass: Vec<&Judged> = notes.iter().filter(|n| n.pass == pass && n.deviation.is_some()).collect();
    let from = of_pass.first().map_or(0.0, |n| n.placed.expected.0);
    let times = of_pass.iter().map(|n| n.placed.expected.0 - from).collect();
    let mut y: Vec<f64> = of_pass.iter().filter_map(|n| n.deviation).collect();
    // Finite values and a positive number of MADs: this cannot fail.
    let _ = robust::winsorise(&mut y, SLIP_MADS);
    (times, y)
}

/// Means of several passes, weighted by how well each is known.
fn pooled(parts: &[Estimate]) -> Option<Estimate> {
    let weight = |e: &Estimate| 1.0 / standard_error(e).powi(2).max(1e-12);
    let total: f64 = parts.iter().map(weight).sum();
    let value = parts.iter().map(|e| weight(e) * e.value).sum::<f64>() / total;
    let reach = 1.96 / total.sqrt();
    let n = parts.iter().map(|e| e.n).sum();
    (!parts.is_empty()).then_some(Estimate { value, interval: Interval { low: value - reach, high: value + reach }, n })
}

/// Tempo that changes within the passes: a bend of deviation against time. Playing dev = a + b t + c t^2 late makes
/// the tempo fall by 2 c of itself every second.
fn tempo_change(input: &Input, basis: &Basis) -> (Figure, Option<Told>) {
    let mut parts = Vec::new();
    let mut lengths = Vec::new();
    for pass in 0..input.measured.alignment.passes.len() {
        let (t, y) = timed(basis.notes, pass);
        if t.len() < LEAST_NOTES {
            continue;
        }
        let columns = [vec![1.0; t.len()], t.clone(), t.iter().map(|t| t * t).collect()];
        if let Some(c) = slope(&columns, 2, &y) {
            parts.push(scaled(c, -2.0 * 60.0 * 1e-3 * 100.0));
            lengths.extend(t.last());
        }
    }
    let Some(a_minute) = pooled(&parts) else {
        return (Figure::withheld(Reason::TooFew, "too few notes to follow the tempo", 0), None);
    };
    let whole = scaled(a_minute, lengths.iter().sum::<f64>() / lengths.len().max(1) as f64 / 60.0);
    let sure = whole.value.abs() > 3.03 * standard_error(&whole);
    if !sure || whole.value.abs() < GATE_TEMPO_PCT {
        return (Figure::estimated(a_minute), None);
    }
    let (word, side) = if whole.value > 0.0 { ("Rushing", "faster") } else { ("Dragging", "slower") };
    let shown = if whole.value > 0.0 { whole } else { scaled(whole, -1.0) };
    let text = format!(
        "{word}: the tempo ends {:.1} per cent {side} than it begins ({:.1} to {:.1}, {}).",
        shown.value,
        shown.interval.low,
        shown.interval.high,
        count(whole.n, "note", "notes")
    );
    let told = finding(basis, Measure::TempoChange, whole, Unit::PerCent, None, text, &[]);
    (Figure::estimated(a_minute), Some(told))
}

/// What is told of notes in pairs.
pub(crate) fn swing_finding(basis: &Basis, swing: crate::swing::Swing) -> Told {
    let share = swing.percent();
    finding(basis, Measure::Swing, share, Unit::PerCent, None, swing.text(), &[])
}

/// Steadily faster or slower than the tempo that was asked for by name. Where none was, the tempo is just told.
fn tempo_finding(input: &Input, basis: &Basis) -> Option<Told> {
    if input.mode == Mode::Click {
        return None;
    }
    let asked = input.asked()?;
    let mut parts = Vec::new();
    for (pass, p) in input.measured.alignment.passes.iter().enumerate() {
        let (t, y) = timed(basis.notes, pass);
        let off = 100.0 * (p.tempo.0 / asked.0 - 1.0);
        if let Some(e) = slope(&[vec![1.0; t.len()], t.clone()], 1, &y) {
            // Playing 1 ms a second later than the fitted line is playing 0.1 % slower.
            let e = scaled(e, -0.1);
            let interval = Interval { low: off + e.interval.low, high: off + e.interval.high };
            parts.push(Estimate { value: off + e.value, interval, n: e.n });
        }
    }
    let e = pooled(&parts)?;
    let sure = e.interval.low > 0.0 || e.interval.high < 0.0;
    if !sure || e.value.abs() < GATE_TEMPO_PCT {
        return None;
    }
    let side = if e.value > 0.0 { "faster" } else { "slower" };
    let shown = if e.value > 0.0 { e } else { scaled(e, -1.0) };
    let text = format!(
        "The take is {:.1} per cent {side} than asked for ({:.1} to {:.1}): {:.1} bpm instead of {:.1}.",
        shown.value,
        shown.interval.low,
        shown.interval.high,
        asked.0 * (1.0 + e.value / 100.0),
        asked.0
    );
    Some(finding(basis, Measure::Tempo, e, Unit::PerCent, None, text, &[]))
}

fn finding(
    basis: &Basis,
    measure: Measure,
    e: Estimate,
    unit: Unit,
    p: Option<f64>,
    text: String,
    listed: &[usize],
) -> Told {
    let row = FindingRow {
        group: GroupKey::WholeTake,
        measure,
        label: "the whole take".into(),
        value: milli_or_zero(e.value),
        unit,
        ci95: interval(e.interval.low, e.interval.high),
        n: e.n,
        p_adjusted: p.map(|p| (p * 1e6).round() / 1e6),
        above_hearing_limit: None,
        text,
        advice: advice(None, measure, e.value).into(),
        note_indices: listed.iter().map(|&i| basis.notes[i].grid.index).collect(),
        note_times_s: listed.iter().map(|&i| seconds(basis.notes[i].time())).collect(),
        or_also: Vec::new(),
    };
    Told { row, found: None, position: None, may_be_instrument: None }
}

/// How the lateness of string changes against the same string moves along the take.
fn bias_slope(basis: &Basis, groups: &[Group]) -> Figure {
    let members = |key: GroupKey| groups.iter().find(|g| g.key == key).map_or(&[][..], |g| &g.members);
    let part = |members: &[usize]| {
        let heard: Vec<usize> = members.iter().copied().filter(|&i| basis.local[i].is_some()).collect();
        let t: Vec<f64> = heard.iter().map(|&i| basis.notes[i].placed.expected.0 / 60.0).collect();
        let mut y: Vec<f64> = heard.iter().filter_map(|&i| basis.local[i]).collect();
        let _ = robust::winsorise(&mut y, SLIP_MADS);
        (t.len() >= LEAST_NOTES).then(|| slope(&[vec![1.0; t.len()], t], 1, &y)).flatten()
    };
    let (Some(changes), Some(same)) = (part(members(GroupKey::Change)), part(members(GroupKey::SameString))) else {
        return Figure::withheld(Reason::TooFew, "fewer than 24 string changes or notes on the same string", 0);
    };
    let value = changes.value - same.value;
    let reach = 1.96 * standard_error(&changes).hypot(standard_error(&same));
    Figure::estimated(Estimate {
        value,
        interval: Interval { low: value - reach, high: value + reach },
        n: changes.n + same.n,
    })
}

fn level_slope(basis: &Basis) -> Figure {
    if let Some(why) = basis.level_withheld {
        return Figure::withheld(Reason::Driven, why, 0);
    }
    let mut strings = std::collections::BTreeMap::<u8, Vec<f64>>::new();
    let level = |n: &Judged| n.measure.and_then(|m| m.level).map(|l| l.0).filter(|l| l.is_finite() && n.grid.picked());
    for n in basis.notes {
        strings.entry(n.grid.string()).or_default().extend(level(n));
    }
    let (mut t, mut y) = (Vec::new(), Vec::new());
    for n in basis.notes {
        let middle = strings.get(&n.grid.string()).and_then(|v| Sample::new(v).ok()).map(robust::median);
        if let (Some(l), Some(m)) = (level(n), middle) {
            t.push(n.placed.expected.0 / 60.0);
            y.push(l - m);
        }
    }
    let _ = robust::winsorise(&mut y, SLIP_MADS);
    match (t.len() >= LEAST_NOTES).then(|| slope(&[vec![1.0; t.len()], t.clone()], 1, &y)).flatten() {
        Some(e) => Figure::estimated(e),
        None => Figure::withheld(Reason::TooFew, "fewer than 24 levels", t.len()),
    }
}
