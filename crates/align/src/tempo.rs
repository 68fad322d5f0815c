//! Which tempo a stretch was played at: those named beforehand first, then any from 40 to 320 bpm, and again for
//! whatever stretch is left unexplained.

use crate::cost::{Costs, Rates};
use crate::line::Line;
use crate::model::TempoFrom;
use crate::path::{Chain, Link, Prior, promising, search};
use crate::refine::{refine, smooth};
use crate::tuning::tempo::{
    CLICK_SPREAD, COVERED, DEEPEST, ENOUGH_FOR_TEMPO, FASTEST, LEAST_SCATTER, MOST_LATE, MOST_SCATTER, MOST_SKIPPED,
    SLOWEST, SPREAD, STEP, TEMPI_A_LOOK, WINDOW, WINDOW_LINES, WINDOWS_OVERLAP,
};
use crate::tuning::timing::{HALF_WAY, SCATTER};
use std::cell::{Cell, RefCell};
use std::collections::HashMap;
use std::ops::Range;
use takegauge_stats::robust::upper_median;

/// A run and the tempo it was found with.
#[derive(Debug, Clone)]
pub(crate) struct Run {
    pub(crate) chain: Chain,
    /// Seconds in the take for each drill second.
    pub(crate) rate: f64,
    pub(crate) from: TempoFrom,
    /// Mean cost of its notes' sound; above 0 the drill's pitches in any order would explain it better.
    pub(crate) sound: f64,
}

/// What a search needs to know.
pub(crate) struct Sought<'a, 't> {
    pub(crate) costs: &'a Costs,
    pub(crate) line: &'a Line,
    /// Tempi to try first, in order, as seconds in the take for each drill second.
    pub(crate) named: Vec<(TempoFrom, f64)>,
    /// The drill's tempo where other tempi may be sought too; `None` with a click.
    pub(crate) free: Option<f64>,
    /// Attacks that a stretch must hold to be looked at.
    pub(crate) enough: usize,
    /// The same attacks where much goes wrong: what has no run in them has none.
    pub(crate) poor: &'a Costs,
    /// Stretches that were looked at, and whether a full search of them at a rate is worth its while.
    pub(crate) looked_at: &'a Looks<'t>,
}

/// What was looked at already, so that nothing is twice; and whoever waits for it.
pub(crate) struct Looks<'a> {
    known: RefCell<HashMap<(usize, usize, u64), bool>>,
    /// Hears how many looks were taken; false ends the work.
    told: RefCell<&'a mut dyn FnMut(usize) -> bool>,
    taken: Cell<usize>,
    stopped: Cell<bool>,
}

impl<'a> Looks<'a> {
    pub(crate) fn new(told: &'a mut dyn FnMut(usize) -> bool) -> Self {
        Self { known: RefCell::default(), told: RefCell::new(told), taken: Cell::new(0), stopped: Cell::new(false) }
    }

    /// Somebody asked for an end: nothing more is found.
    pub(crate) fn stopped(&self) -> bool {
        self.stopped.get()
    }

    /// Another transposition is another take.
    pub(crate) fn forget(&self) {
        self.known.borrow_mut().clear();
    }

    fn at(&self, range: &Range<usize>, rate: f64, look: impl FnOnce() -> bool) -> bool {
        let key = (range.start, range.end, rate.to_bits());
        let known = self.known.borrow().get(&key).copied();
        if let Some(known) = known {
            return known;
        }
        if self.stopped() || !(self.told.borrow_mut())(self.taken.get()) {
            self.stopped.set(true);
            return false;
        }
        self.taken.set(self.taken.get() + 1);
        let found = look();
        self.known.borrow_mut().insert(key, found);
        found
    }
}

impl Sought<'_, '_> {
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

    /// Whether a full search of the stretch at this rate is worth its while.
    fn promising(&self, range: Range<usize>, prior: Prior) -> bool {
        self.looked_at.at(&range, prior.rate, || promising(self.poor, range.clone(), self.line, prior))
    }

    /// Those of the rates, in order, whose full search is worth its while: one look covers two of them.
    fn promising_rates(&self, range: Range<usize>, rates: &[f64]) -> Vec<f64> {
        let worth = |pair: &&[f64]| {
            let between = pair.iter().product::<f64>().powf(1.0 / pair.len() as f64);
            self.promising(range.clone(), Prior { rate_spread: TEMPI_A_LOOK as f64 * SPREAD, ..self.prior(between) })
        };
        rates.chunks(TEMPI_A_LOOK).filter(worth).flatten().copied().collect()
    }

    fn prior(&self, rate: f64) -> Prior {
        let rate_spread = if self.free.is_some() { SPREAD } else { CLICK_SPREAD };
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
                if self.promising(range.clone(), self.prior(*rate)) {
                    keep(&mut best, *rate, *from);
                }
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
        let (most, of) = COVERED;
        of * heard >= most * self.strong(range) && of * links >= most * reached
    }

    /// The tempo that explains some window of the stretch best.
    fn freely(&self, range: Range<usize>, drill: f64) -> Option<f64> {
        let window = WINDOW.max(WINDOW_LINES * self.line.per_line);
        let tempi = std::iter::successors(Some(SLOWEST), |bpm| Some(bpm * STEP)).take_while(|bpm| *bpm <= FASTEST);
        let rates: Vec<f64> = tempi.map(|bpm| drill / bpm).collect();
        let rates = self.promising_rates(range.clone(), &rates);
        let mut from = range.start;
        loop {
            let part = from..(from + window).min(range.end);
            let mut best: Option<(f64, f64)> = None;
            for rate in &rates {
                let prior = self.prior(*rate);
                let (cost, chains) = search(self.costs, part.clone(), self.line, prior);
                let long = chains.iter().max_by_key(|c| c.links.len()).filter(|c| c.links.len() >= self.enough);
                if let Some(chain) = long
                    && best.is_none_or(|b| cost < b.0)
                {
                    best = Some((cost, played_rate(self.costs, self.line, chain).unwrap_or(prior.rate)));
                }
            }
            if best.is_some() || rates.is_empty() || part.end >= range.end {
                return best.map(|b| b.1);
            }
            from += window / WINDOWS_OVERLAP;
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
        if let Some(chain) = longest.filter(|c| c.links.len() >= ENOUGH_FOR_TEMPO) {
            let step = self.line.usual_gap * rate;
            if self.free.is_some() {
                prior.rate = played_rate(self.costs, self.line, chain).unwrap_or(rate);
            }
            prior.scatter = smooth(self.costs, self.line, chain, prior.rate)
                .scatter
                .clamp(LEAST_SCATTER * step, MOST_SCATTER * step);
        }
        let costs = self.costs.clone().at_rates(self.rates(&chains));
        let (again, better) = search(&costs, range.clone(), self.line, prior);
        let (cost, chains) = if better.is_empty() { (cost, chains) } else { (again, better) };
        let (chains, total) = self.own_tempi(&costs, range.clone(), chains, prior, cost);
        let chains = self.joined(&costs, chains);
        let mut runs: Vec<Run> = Vec::with_capacity(chains.len());
        for k in 0..chains.len() {
            let mut chain = chains[k].clone();
            let start = runs.last().map_or(range.start, |r| end_of(&r.chain));
            let until = chains.get(k + 1).and_then(|c| c.links.first()).map_or(range.end, |l| l.attack);
            let rate = self.rate_of(&chain, prior.rate);
            refine(&costs, start..until, self.line, &mut chain, rate);
            let sounds = chain.links.iter().map(|l| self.costs.sound(l.attack, self.line.slot(l.note)));
            let sound = sounds.sum::<f64>() / chain.links.len().max(1) as f64;
            runs.push(Run { chain, rate, from, sound });
        }
        (total, runs)
    }

    /// Runs played at quite another tempo than the prior's may have been misread for that, at their starts above all:
    /// each stretch of such runs is searched again at its own tempo.
    fn own_tempi(
        &self,
        costs: &Costs,
        range: Range<usize>,
        chains: Vec<Chain>,
        prior: Prior,
        cost: f64,
    ) -> (Vec<Chain>, f64) {
        let rates: Vec<f64> = chains.iter().map(|c| self.rate_of(c, prior.rate)).collect();
        let alike = |a: f64, b: f64| (a / b - 1.0).abs() <= SPREAD;
        let (mut out, mut total): (Vec<Chain>, f64) = (Vec::new(), cost);
        let mut k = 0;
        while k < chains.len() {
            let until = (k + 1..chains.len()).find(|j| !alike(rates[*j], rates[k])).unwrap_or(chains.len());
            let stretch = out.last().map_or(range.start, end_of)
                ..chains.get(until).and_then(|c| c.links.first()).map_or(range.end, |l| l.attack);
            let mut found = chains[k..until].to_vec();
            if !alike(rates[k], prior.rate) {
                let longest = (k..until).max_by_key(|j| chains[*j].links.len()).unwrap_or(k);
                let (as_found, same) = search(costs, stretch.clone(), self.line, prior);
                let (again, own) = search(costs, stretch, self.line, Prior { rate: rates[longest], ..prior });
                found = if again < as_found { own } else { same };
                total += again.min(as_found) - as_found;
            }
            out.extend(found);
            k = until;
        }
        (out, total)
    }

    /// Runs that go on where the one before ended, after no more than a hesitation, are one.
    fn joined(&self, costs: &Costs, chains: Vec<Chain>) -> Vec<Chain> {
        let turn = self.line.slots.len();
        let mut out: Vec<Chain> = Vec::with_capacity(chains.len());
        for mut chain in chains {
            let Some(before) = out.last_mut() else {
                out.push(chain);
                continue;
            };
            let skipped = (chain.first + turn - (before.last + 1) % turn) % turn;
            let rate = self.rate_of(before, 0.0);
            let late = before.links.last().zip(chain.links.first()).map_or(f64::INFINITY, |(a, b)| {
                let note = before.last + 1 + skipped + b.note - chain.first;
                costs.times[b.attack] - costs.times[a.attack] - rate * (self.line.at(note) - self.line.at(a.note))
            });
            let usual = self.line.usual_gap * rate;
            if skipped <= MOST_SKIPPED && late > -HALF_WAY * usual && late < MOST_LATE * usual {
                // A run begins within the first turn, so the one before has come at least as far.
                let shift = (before.last + 1 + skipped).saturating_sub(chain.first);
                chain.links[0].anew = late > HALF_WAY * usual;
                before.links.extend(chain.links.iter().map(|l| Link { note: l.note + shift, ..*l }));
                before.last = chain.last + shift;
            } else {
                out.push(chain);
            }
        }
        out
    }

    fn rate_of(&self, chain: &Chain, otherwise: f64) -> f64 {
        self.free.and_then(|_| played_rate(self.costs, self.line, chain)).unwrap_or(otherwise)
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

/// The first attack after a run.
fn end_of(chain: &Chain) -> usize {
    chain.links.last().map_or(0, |l| l.attack + 1)
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
    let rates = chain
        .links
        .iter()
        .zip(chain.links.get(half.max(1)..)?)
        .filter(|(a, b)| breaks.partition_point(|n| *n <= a.note) == breaks.partition_point(|n| *n <= b.note))
        .map(|(a, b)| (costs.times[b.attack] - costs.times[a.attack]) / (line.at(b.note) - line.at(a.note)))
        .filter(|r| r.is_finite() && *r > 0.0);
    upper_median(rates)
}
