//! Which tempo a stretch was played at: those named beforehand first, then any from 40 to 320 bpm, and again for
//! whatever stretch is left unexplained.

use crate::cost::{Costs, Rates};
use crate::line::Line;
use crate::model::TempoFrom;
use crate::path::{Chain, Link, Prior, search};
use crate::refine::{refine, smooth};
use std::ops::Range;

/// The range sought freely, beats a minute.
const SLOWEST: f64 = 40.0;
const FASTEST: f64 = 320.0;
/// One SD of the tempo about each one tried, as a share; those tried freely lie two of it apart.
const SPREAD: f64 = 0.05;
/// A note's scatter before any is known, in usual distances of notes.
const SCATTER: f64 = 0.1;
/// Attacks tried at once in the free search.
const WINDOW: usize = 400;
/// How often a stretch left over is looked at again.
const DEEPEST: usize = 12;

/// A run and the tempo it was found with.
#[derive(Debug, Clone)]
pub(crate) struct Run {
    pub(crate) chain: Chain,
    /// Seconds in the take for each drill second.
    pub(crate) rate: f64,
    pub(crate) from: TempoFrom,
}

/// What a search needs to know.
pub(crate) struct Sought<'a> {
    pub(crate) costs: &'a Costs,
    pub(crate) line: &'a Line,
    /// Tempi to try first, in order, as seconds in the take for each drill second.
    pub(crate) named: Vec<(TempoFrom, f64)>,
    /// The drill's tempo where other tempi may be sought too; `None` with a click.
    pub(crate) free: Option<f64>,
    /// Attacks that a stretch must hold to be looked at.
    pub(crate) enough: usize,
}

impl Sought<'_> {
    /// Every run in the attacks, in order of time, and the total cost.
    pub(crate) fn explain(&self) -> (f64, Vec<Run>) {
        let mut runs = Vec::new();
        let mut total = 0.0;
        let mut todo = vec![(0..self.costs.times.len(), 0)];
        while let Some((range, depth)) = todo.pop() {
            if self.strong(range.clone()) < self.enough {
                continue;
            }
            let Some((cost, found)) = self.stretch(range.clone(), depth == 0) else { continue };
            total += cost;
            if depth < DEEPEST && self.free.is_some() {
                todo.extend(gaps(&found, range).into_iter().map(|g| (g, depth + 1)));
            }
            runs.extend(found);
        }
        runs.sort_by_key(|r| r.chain.links.first().map(|l| l.attack));
        (total, runs)
    }

    fn strong(&self, range: Range<usize>) -> usize {
        self.costs.strong[range].iter().filter(|s| **s).count()
    }

    fn prior(&self, rate: f64) -> Prior {
        let rate_spread = if self.free.is_some() { SPREAD } else { 0.005 };
        Prior { rate, rate_spread, scatter: SCATTER * self.line.usual_gap * rate }
    }

    /// The best reading of one stretch; `None` if no run was found.
    fn stretch(&self, range: Range<usize>, named: bool) -> Option<(f64, Vec<Run>)> {
        let mut best: Option<(f64, Vec<Chain>, f64, TempoFrom)> = None;
        let keep = |best: &mut Option<(f64, Vec<Chain>, f64, TempoFrom)>, rate: f64, from: TempoFrom| {
            let (cost, chains) = search(self.costs, range.clone(), self.line, self.prior(rate));
            if !chains.is_empty() && best.as_ref().is_none_or(|b| cost < b.0) {
                *best = Some((cost, chains, rate, from));
            }
        };
        if named {
            for (from, rate) in &self.named {
                keep(&mut best, *rate, *from);
                if best.as_ref().is_some_and(|b| self.covers(&b.1, range.clone())) {
                    break;
                }
            }
        }
        let covered = best.as_ref().is_some_and(|b| self.covers(&b.1, range.clone()));
        if let Some(drill) = self.free.filter(|_| !covered)
            && let Some(rate) = self.freely(range.clone(), drill)
        {
            keep(&mut best, rate, TempoFrom::Sought);
        }
        let (cost, chains, rate, from) = best?;
        Some(self.settle(range, cost, chains, rate, from))
    }

    /// Most attacks are notes and most notes are heard.
    fn covers(&self, chains: &[Chain], range: Range<usize>) -> bool {
        let heard: usize = chains.iter().map(|c| c.links.iter().filter(|l| self.costs.strong[l.attack]).count()).sum();
        let links: usize = chains.iter().map(|c| c.links.len()).sum();
        let reached: usize = chains.iter().map(|c| c.last + 1 - c.first).sum();
        5 * heard >= 4 * self.strong(range) && 5 * links >= 4 * reached
    }

    /// The tempo that explains some window of the stretch best.
    fn freely(&self, range: Range<usize>, drill: f64) -> Option<f64> {
        let window = WINDOW.max(3 * self.line.per_line);
        let mut from = range.start;
        loop {
            let part = from..(from + window).min(range.end);
            let mut best: Option<(f64, f64)> = None;
            let mut bpm = SLOWEST;
            while bpm <= FASTEST {
                let prior = self.prior(drill / bpm);
                let (cost, chains) = search(self.costs, part.clone(), self.line, prior);
                let long = chains.iter().max_by_key(|c| c.links.len()).filter(|c| c.links.len() >= self.enough.min(4));
                if let Some(chain) = long
                    && best.is_none_or(|b| cost < b.0)
                {
                    best = Some((cost, played_rate(self.costs, self.line, chain).unwrap_or(prior.rate)));
                }
                bpm *= 1.0 + 2.0 * SPREAD;
            }
            if best.is_some() || part.end >= range.end {
                return best.map(|b| b.1);
            }
            from += window / 2;
        }
    }

    /// Once more with the scatter, the tempo and the rates of slips that the runs themselves show.
    fn settle(
        &self,
        range: Range<usize>,
        cost: f64,
        chains: Vec<Chain>,
        rate: f64,
        from: TempoFrom,
    ) -> (f64, Vec<Run>) {
        let longest = chains.iter().max_by_key(|c| c.links.len());
        let mut prior = self.prior(rate);
        if let Some(chain) = longest.filter(|c| c.links.len() >= 8) {
            let step = self.line.usual_gap * rate;
            if self.free.is_some() {
                prior.rate = played_rate(self.costs, self.line, chain).unwrap_or(rate);
            }
            prior.scatter = smooth(self.costs, self.line, chain, prior.rate).scatter.clamp(0.03 * step, 0.25 * step);
        }
        let costs = self.costs.clone().at_rates(self.rates(&chains));
        let (again, better) = search(&costs, range, self.line, prior);
        let (cost, chains) = if better.is_empty() { (cost, chains) } else { (again, better) };
        let runs = chains.into_iter().map(|mut chain| {
            let mut rate = prior.rate;
            if self.free.is_some() {
                rate = played_rate(&costs, self.line, &chain).unwrap_or(rate);
            }
            refine(&costs, self.line, &mut chain, rate);
            Run { chain, rate, from }
        });
        (cost, runs.collect())
    }

    /// How often notes of the runs are missing or wrong, and attacks are none.
    fn rates(&self, chains: &[Chain]) -> Rates {
        let (mut notes, mut missed, mut extra, mut wrong) = (0, 0, 0, 0);
        for chain in chains {
            let picked = |l: &&Link| self.line.slot(l.note).picked;
            let reached = (chain.first..=chain.last).filter(|n| self.line.slot(*n).picked).count();
            let heard = chain.links.iter().filter(picked).count();
            notes += reached;
            missed += reached.saturating_sub(heard);
            wrong += chain.links.iter().filter(|l| self.costs.off_pitch(l.attack, self.line.slot(l.note))).count();
            if let (Some(a), Some(b)) = (chain.links.first(), chain.links.last()) {
                let taken = chain.links.iter().filter(|l| self.costs.strong[l.attack]).count();
                extra += self.strong(a.attack..b.attack + 1).saturating_sub(taken);
            }
        }
        Rates::counted(notes, missed, extra, wrong)
    }
}

/// The stretches of `range` before, between and after the runs.
fn gaps(runs: &[Run], range: Range<usize>) -> Vec<Range<usize>> {
    let mut gaps = Vec::new();
    let mut from = range.start;
    for run in runs {
        if let (Some(a), Some(b)) = (run.chain.links.first(), run.chain.links.last()) {
            gaps.push(from..a.attack);
            from = b.attack + 1;
        }
    }
    gaps.push(from..range.end);
    gaps.retain(|g| g.len() < range.len());
    gaps
}

/// Take seconds for each drill second over a run: the median over pairs of notes half the run apart, which slips
/// cannot pull.
pub(crate) fn played_rate(costs: &Costs, line: &Line, chain: &Chain) -> Option<f64> {
    let half = chain.links.len() / 2;
    let breaks: Vec<usize> = chain.links.iter().filter(|l| l.anew).map(|l| l.note).collect();
    let mut rates: Vec<f64> = chain
        .links
        .iter()
        .zip(chain.links.get(half.max(1)..)?)
        .filter(|(a, b)| breaks.partition_point(|n| *n <= a.note) == breaks.partition_point(|n| *n <= b.note))
        .map(|(a, b)| (costs.times[b.attack] - costs.times[a.attack]) / (line.at(b.note) - line.at(a.note)))
        .filter(|r| r.is_finite() && *r > 0.0)
        .collect();
    rates.sort_by(f64::total_cmp);
    rates.get(rates.len() / 2).copied()
}
