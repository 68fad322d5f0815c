//! Notes summed up by take, place and the kinds they belong to, and from these the figures of a kind, take by take.

use std::collections::BTreeMap;

use super::curve::{Curve, Grid};
use super::model::{LEAST_NOTES, LEAST_TEMPOS, LadderNote, Unusable};
use super::places::{self, OfTake, PRIOR, Sums};
use crate::dist::{log_chi_square_mean, log_chi_square_variance};

/// All notes that belong to the same kinds at one place of the line.
#[derive(Debug, Clone)]
pub(super) struct Atom {
    pub(super) kinds: u128,
    reference: bool,
    /// One a take.
    pub(super) takes: Vec<Sums>,
}

/// The takes of a ladder in sums.
#[derive(Debug, Clone)]
pub(super) struct Cells {
    pub(super) atoms: Vec<Atom>,
    takes: usize,
}

impl Cells {
    pub(super) fn new(notes: &[LadderNote], takes: usize) -> Self {
        let mut atoms: BTreeMap<(u128, bool, usize), Vec<Vec<f64>>> = BTreeMap::new();
        for n in notes {
            let atom = atoms.entry((n.kinds, n.reference, n.place)).or_insert_with(|| vec![Vec::new(); takes]);
            atom[n.take].push(n.value);
        }
        let atom = |((kinds, reference, _), values): ((u128, bool, usize), Vec<Vec<f64>>)| Atom {
            kinds,
            reference,
            takes: values.iter().map(|v| Sums::new(v)).collect(),
        };
        Self { atoms: atoms.into_iter().map(atom).collect(), takes }
    }

    pub(super) fn of_kind(atom: &Atom, kind: usize, named: u128) -> bool {
        atom.kinds & (1 << kind) != 0 && atom.kinds & named == 0
    }

    fn fit(&self, wanted: impl Fn(&Atom) -> bool) -> Vec<OfTake> {
        let places: Vec<&[Sums]> = self.atoms.iter().filter(|a| wanted(a)).map(|a| a.takes.as_slice()).collect();
        places::fit(&places, self.takes)
    }

    /// How often a note of these kinds is counted in them on average.
    pub(super) fn overlap(&self, kinds: &[usize]) -> f64 {
        let (mut counted, mut notes) = (0.0, 0.0);
        for atom in &self.atoms {
            let n: f64 = atom.takes.iter().map(|s| s.n).sum();
            let times = kinds.iter().filter(|&&k| atom.kinds & (1 << k) != 0).count() as f64;
            counted += n * times;
            notes += if times > 0.0 { n } else { 0.0 };
        }
        (counted / notes.max(1.0)).max(1.0)
    }

    /// Whether all notes of `part` are notes of `whole`.
    pub(super) fn holds(&self, whole: usize, part: usize) -> bool {
        self.atoms.iter().all(|a| a.kinds & (1 << part) == 0 || a.kinds & (1 << whole) != 0)
    }

    /// The figures of kind `kind`, notes of the kinds in `named` left out.
    pub(super) fn curve(&self, kind: usize, named: u128, grid: &Grid) -> Result<Curve, Unusable> {
        let group = self.fit(|a| Self::of_kind(a, kind, named));
        let notes: f64 = group.iter().map(|s| s.n).sum();
        let tempos = grid.levels_with(|take| group[take].n > 0.0);
        if notes < LEAST_NOTES as f64 {
            return Err(Unusable::Notes(notes as usize));
        }
        if tempos < LEAST_TEMPOS {
            return Err(Unusable::Tempos(tempos));
        }
        let other = |a: &Atom| a.kinds & (1 << kind) == 0 && a.kinds & named == 0;
        let mut reference = self.fit(|a| a.reference && other(a));
        let thin = |r: &[OfTake]| group.iter().zip(r).any(|(g, r)| g.n > 0.0 && r.df < 2.0);
        if thin(&reference) {
            reference = self.fit(other);
        }
        if thin(&reference) {
            return Err(Unusable::Reference);
        }
        self.against(&group, &reference, notes as usize).ok_or(Unusable::Reference)
    }

    /// `None` where nothing scatters.
    fn against(&self, group: &[OfTake], reference: &[OfTake], notes: usize) -> Option<Curve> {
        let (squares, df) = reference.iter().fold((0.0, 0.0), |(s, d), t| (s + t.squares, d + t.df));
        let pooled = squares / f64::max(df, 1.0);
        if pooled <= 0.0 {
            return None;
        }
        let shrunk = |s: &OfTake, to: f64| (s.squares + PRIOR * to) / (s.df + PRIOR);
        // The kind's scatter over the reference's, over all takes.
        let (mut scaled, mut scaled_df) = (0.0, 0.0);
        for (g, r) in group.iter().zip(reference) {
            scaled += g.squares / shrunk(r, pooled);
            scaled_df += g.df;
        }
        let ratio = if scaled_df > 0.0 { (scaled / scaled_df).clamp(1e-4, 1e4) } else { 1.0 };
        let mut curve = Curve::empty(self.takes, notes, 0.5 * ratio.ln());
        for (take, (g, r)) in group.iter().zip(reference).enumerate().filter(|(_, (g, _))| g.n > 0.0) {
            let of_reference = shrunk(r, pooled);
            let of_group = shrunk(g, ratio * of_reference);
            curve.shift[take] = g.mean - r.mean;
            curve.shift_variance[take] = of_group / g.n + of_reference / r.n;
            curve.note_variance[take] = ratio * of_reference;
            curve.n[take] = [g.n, r.n];
            let ((ss, df), (rss, rdf)) = ((g.squares, g.df), (r.squares, r.df));
            curve.df[take] = [df, rdf];
            if df >= 2.0 && ss > 0.0 && rss > 0.0 {
                let log = |ss: f64, df: f64| 0.5 * ((ss / df).ln() - log_chi_square_mean(df));
                curve.log[take] = log(ss, df) - log(rss, rdf);
                curve.log_variance[take] = 0.25 * (log_chi_square_variance(df) + log_chi_square_variance(rdf));
            }
        }
        Some(curve)
    }
}
