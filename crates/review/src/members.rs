//! A group's notes and what is got from them: bias, spread, rates, margin (definitions of the report; see `score`).

use std::collections::BTreeSet;
use takegauge_stats::spread::Spread;
use takegauge_stats::{Estimate, Interval, Sample, intervals, moments, robust};

use crate::basis::{Basis, difference, scatter};
use crate::estimates::{CONFIDENCE, LEAST_FOR_ESTIMATES};
use crate::groups::Group;
use crate::ringing_time::ringing_time;
use crate::scatter::{Scatter, spread_ends, spread_figure};
use crate::take::Judged;
use crate::value::Value;
use crate::words::count;

/// A group's notes, and what several of its figures need of them.
pub struct Members<'a> {
    basis: &'a Basis<'a>,
    group: &'a Group,
    /// The notes themselves.
    pub(crate) all: Vec<&'a Judged<'a>>,
    /// Those with a residual, as places in the notes reached.
    pub(crate) timed: Vec<usize>,
    pub(crate) bias: Option<Estimate>,
    pub(crate) scatter: Option<Scatter>,
    pub(crate) limit: Option<f64>,
    pub(crate) margin: Option<Margin>,
    /// Whether there are notes enough for estimates.
    enough: bool,
}

impl<'a> Members<'a> {
    /// `bias` is the group's effect as the joint fit gave it, where it was found; else it is held against the reference
    /// notes outside it.
    pub(crate) fn new(basis: &'a Basis<'a>, group: &'a Group, bias: Option<Estimate>) -> Self {
        let all: Vec<&Judged> = group.members.iter().map(|&i| &basis.notes[i]).collect();
        let timed: Vec<usize> = group.members.iter().copied().filter(|&i| basis.local[i].is_some()).collect();
        let enough = timed.len() >= LEAST_FOR_ESTIMATES;
        let outside = |i: &usize| group.members.binary_search(i).is_err();
        let others: Vec<usize> = basis.reference.iter().copied().filter(outside).collect();
        let against_others = || {
            let heard = others.iter().filter(|&&i| basis.local[i].is_some()).count();
            (heard >= LEAST_FOR_ESTIMATES).then(|| difference(basis.local, &timed, &others)).flatten()
        };
        let bias = if enough { bias.or_else(against_others) } else { None };
        let scatter = scatter(basis, &timed);
        let limit = limit(&all);
        let margin = margin(limit, bias, scatter.as_ref().filter(|_| enough), basis, &timed);
        Self { basis, group, all, timed, bias, scatter, limit, margin, enough }
    }

    /// Deviations of its notes with the take's drift taken off, ms.
    pub fn residuals(&self) -> Vec<f64> {
        self.timed.iter().filter_map(|&i| self.basis.local[i]).collect()
    }

    pub(crate) fn places(&self) -> Value {
        let places = self.timed.iter().map(|&i| self.basis.notes[i].grid.position);
        Value::count(places.collect::<BTreeSet<_>>().len())
    }

    fn scatter_told(&self) -> Option<&Scatter> {
        self.scatter.as_ref().filter(|_| self.enough)
    }

    pub(crate) fn spread(&self) -> Value {
        let Some(scatter) = self.scatter_told() else { return Value::default() };
        let ends = spread_ends(Some(scatter)).unwrap_or_default();
        Value::number(spread_figure(Some(scatter)).value).within(ends)
    }

    /// How many notes it happened at, with Wilson's interval in per cent.
    pub(crate) fn rate(&self, happened: impl Fn(&Judged) -> bool) -> Value {
        let hits = self.all.iter().filter(|n| happened(n)).count();
        let ends = intervals::wilson(hits, self.all.len(), CONFIDENCE).ok().map(|e| e.interval);
        let percent = |end: fn(&Interval) -> f64| ends.as_ref().map(|i| 100.0 * end(i));
        Value::count(hits).within([percent(|i| i.low), percent(|i| i.high)])
    }

    /// Times of ringing over, ms.
    pub(crate) fn smears(&self) -> Vec<f64> {
        self.all.iter().filter_map(|n| n.measure?.smear.as_ref()?.as_ref().ok()).map(|s| s.0).collect()
    }

    pub(crate) fn smear(&self) -> Value {
        Value::number(Sample::at_least(&self.smears(), 3).ok().map(|s| ringing_time(s.values())))
    }

    pub(crate) fn level(&self) -> Option<f64> {
        if self.enough { level(self.basis, self.group) } else { None }
    }

    pub(crate) fn evenness(&self) -> Value {
        let all: Vec<f64> = self.group.members.iter().filter_map(|&i| self.basis.intervals[i]).collect();
        let sd = Sample::at_least(&all, LEAST_FOR_ESTIMATES).and_then(moments::standard_deviation);
        Value::number(sd.ok())
    }

    pub(crate) fn withheld(&self) -> Option<String> {
        let n = self.timed.len();
        if !self.enough {
            let n = count(n, "note", "notes");
            return Some(format!("{n}: counts only, estimates need {LEAST_FOR_ESTIMATES}"));
        }
        let bias = self.bias.is_none().then(|| "early or late: too few other notes to hold it against".to_owned());
        let spread = spread_figure(self.scatter.as_ref()).withheld.map(|why| format!("scatter: {why}"));
        let why: Vec<String> = bias.into_iter().chain(spread).collect();
        (!why.is_empty()).then(|| why.join("; "))
    }
}

/// A quarter of the shorter neighbouring note distance, the middle one of the group, ms.
fn limit(notes: &[&Judged]) -> Option<f64> {
    let all: Vec<f64> = notes.iter().filter_map(|n| n.shorter_neighbour).collect();
    Sample::new(&all).ok().map(|s| robust::median(s) / 4.0)
}

/// How far a group stays inside its limit.
pub(crate) struct Margin {
    pub(crate) value: f64,
    pub(crate) se: f64,
    /// The chance that the next note lands outside.
    pub(crate) outside: f64,
    pub(crate) text: String,
}

fn margin(
    limit: Option<f64>,
    bias: Option<Estimate>,
    scatter: Option<&Scatter>,
    basis: &Basis,
    timed: &[usize],
) -> Option<Margin> {
    let (limit, bias, scatter) = (limit?, bias?, scatter?);
    let Spread::Sd(sd) = scatter.within.spread() else { return None };
    let n = timed.len();
    let value = (limit - bias.value.abs()) / sd.value;
    // First-order propagation: the error of the bias over the spread, and the relative error of an SD, 1/sqrt(2 df).
    let bias_se = (bias.interval.high - bias.interval.low) / (2.0 * 1.96);
    let df = scatter.within.degrees_of_freedom.max(1) as f64;
    let se = ((bias_se / sd.value).powi(2) + value * value / (2.0 * df)).sqrt();
    let predicted = intervals::chance_outside(bias.value, sd.value, n, limit).ok()?;
    let seen = timed.iter().filter_map(|&i| basis.local[i]).filter(|v| v.abs() > limit).count();
    let at_most = intervals::rate_upper_limit(seen, n, CONFIDENCE).ok()?;
    let far = far_off(bias.value, sd.value, n)?;
    Some(Margin { value, se, outside: predicted.max(at_most), text: far_text(far, limit) })
}

/// How far from its place the next note lands, or further, with a chance of 1 in 20, ms: by the predictive t about the
/// bias.
fn far_off(bias: f64, sd: f64, n: usize) -> Option<f64> {
    let (mut low, mut high) = (0.0, bias.abs() + 100.0 * sd);
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if intervals::chance_outside(bias, sd, n, middle).ok()? > 0.05 { low = middle } else { high = middle }
    }
    Some(high)
}

/// "1 note in 20 lands 31 ms or further from its place (limit 23 ms)"
fn far_text(far: f64, limit: f64) -> String {
    format!("1 note in 20 lands {far:.0} ms or further from its place (limit {limit:.0} ms)")
}

/// Mean level against the other notes of the same strings, dB; strings on which all notes are members say nothing.
fn level(basis: &Basis, group: &Group) -> Option<f64> {
    if basis.level_withheld.is_some() {
        return None;
    }
    let mut strings = std::collections::BTreeMap::<u8, (Vec<f64>, Vec<f64>)>::new();
    for (i, n) in basis.notes.iter().enumerate() {
        let Some(level) = n.measure.and_then(|m| m.level).map(|l| l.0).filter(|l| l.is_finite()) else { continue };
        if !n.grid.picked() || n.grid.accent || n.grid.dead || n.grid.palm_muted {
            continue;
        }
        let (inside, outside) = strings.entry(n.grid.string()).or_default();
        if group.members.binary_search(&i).is_ok() { inside.push(level) } else { outside.push(level) }
    }
    let mut sum = (0.0, 0.0);
    for (inside, outside) in strings.values() {
        let (Ok(a), Ok(b)) = (Sample::at_least(inside, 3), Sample::at_least(outside, 3)) else { continue };
        let weight = inside.len() as f64;
        sum = (sum.0 + weight * (robust::median(a) - robust::median(b)), sum.1 + weight);
    }
    (sum.1 > 0.0).then(|| sum.0 / sum.1)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The root of `t.sf((x - bias) / s) + t.cdf((-x - bias) / s) = 0.05`, `s = sd sqrt(1 + 1 / n)`, `t` with n - 1 degrees
    /// of freedom, by scipy.stats 1.17.
    #[test]
    fn one_note_in_twenty_lands_as_far_off_as_the_predictive_t_has_it() {
        for (bias, sd, n, far) in [(15.8, 3.5, 12, 22.3423), (14.3, 5.3, 12, 24.2076), (1.7, 3.9, 251, 8.3634)] {
            assert!((far_off(bias, sd, n).unwrap() - far).abs() < 1e-3, "{bias} {sd} {n}");
        }
    }
}
