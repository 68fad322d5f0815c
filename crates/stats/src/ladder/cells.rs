//! Notes summed up by take and by which kinds they belong to, and from these the figures of a kind, take by take.

use std::collections::BTreeMap;

use super::curve::{Curve, Grid};
use super::{LEAST_NOTES, LEAST_TEMPOS, LadderNote, Unusable};
use crate::dist::{log_chi_square_mean, log_chi_square_variance};

/// The reference's variance in a take is shrunk to that of all takes as if it had been seen on so many more notes, and
/// a kind's to its usual ratio to the reference.
const PRIOR: f64 = 8.0;

/// Sums over notes of one take.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sums {
    pub(super) n: f64,
    sum: f64,
    squares: f64,
    /// Of squares about the means of the places, and its degrees of freedom.
    within: f64,
    within_df: f64,
}

/// Deviations at each place of each take.
type Places = BTreeMap<(usize, usize), Vec<f64>>;

impl Sums {
    fn add(&mut self, other: &Self) {
        self.n += other.n;
        self.sum += other.sum;
        self.squares += other.squares;
        self.within += other.within;
        self.within_df += other.within_df;
    }

    fn mean(&self) -> f64 {
        self.sum / self.n
    }
}

/// All notes that belong to the same kinds.
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
    /// Whether places were played often enough that scatter can be taken about their means.
    within: bool,
}

impl Cells {
    pub(super) fn new(notes: &[LadderNote], takes: usize) -> Self {
        let mut atoms: BTreeMap<(u128, bool), Places> = BTreeMap::new();
        for n in notes {
            let atom = atoms.entry((n.kinds, n.reference)).or_default();
            atom.entry((n.take, n.place)).or_default().push(n.value);
        }
        let atoms: Vec<Atom> = atoms
            .into_iter()
            .map(|((kinds, reference), places)| {
                let mut of_takes = vec![Sums::default(); takes];
                for ((take, _), values) in places {
                    of_takes[take].add(&of_place(&values));
                }
                Atom { kinds, reference, takes: of_takes }
            })
            .collect();
        let total = |f: fn(&Sums) -> f64| atoms.iter().flat_map(|a| &a.takes).map(f).sum::<f64>();
        let within = total(|s| s.within_df) >= 0.5 * total(|s| s.n);
        Self { atoms, takes, within }
    }

    pub(super) fn of_kind(atom: &Atom, kind: usize, named: u128) -> bool {
        atom.kinds & (1 << kind) != 0 && atom.kinds & named == 0
    }

    fn sums(&self, wanted: impl Fn(&Atom) -> bool) -> Vec<Sums> {
        let mut out = vec![Sums::default(); self.takes];
        for atom in self.atoms.iter().filter(|a| wanted(a)) {
            for (o, s) in out.iter_mut().zip(&atom.takes) {
                o.add(s);
            }
        }
        out
    }

    /// Sum of squares and degrees of freedom of the scatter.
    fn scatter(&self, s: &Sums) -> (f64, f64) {
        if self.within {
            (s.within.max(0.0), s.within_df)
        } else {
            ((s.squares - s.sum * s.sum / s.n.max(1.0)).max(0.0), (s.n - 1.0).max(0.0))
        }
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
        let group = self.sums(|a| Self::of_kind(a, kind, named));
        let notes: f64 = group.iter().map(|s| s.n).sum();
        let tempos = grid.levels_with(|take| group[take].n > 0.0);
        if notes < LEAST_NOTES as f64 {
            return Err(Unusable::Notes(notes as usize));
        }
        if tempos < LEAST_TEMPOS {
            return Err(Unusable::Tempos(tempos));
        }
        let other = |a: &Atom| a.kinds & (1 << kind) == 0 && a.kinds & named == 0;
        let mut reference = self.sums(|a| a.reference && other(a));
        let thin = |r: &[Sums]| group.iter().zip(r).any(|(g, r)| g.n > 0.0 && self.scatter(r).1 < 2.0);
        if thin(&reference) {
            reference = self.sums(other);
        }
        if thin(&reference) {
            return Err(Unusable::Reference);
        }
        self.against(&group, &reference, notes as usize).ok_or(Unusable::Reference)
    }

    /// `None` where nothing scatters.
    fn against(&self, group: &[Sums], reference: &[Sums], notes: usize) -> Option<Curve> {
        let pool = |v: &[Sums]| v.iter().map(|s| self.scatter(s)).fold((0.0, 0.0), |(a, b), (ss, df)| (a + ss, b + df));
        let (ss, df) = pool(reference);
        let pooled = ss / df.max(1.0);
        if pooled <= 0.0 {
            return None;
        }
        let shrunk = |s: &Sums, to: f64| {
            let (ss, df) = self.scatter(s);
            (ss + PRIOR * to) / (df + PRIOR)
        };
        // The kind's scatter over the reference's, over all takes.
        let (mut scaled, mut scaled_df) = (0.0, 0.0);
        for (g, r) in group.iter().zip(reference) {
            let (ss, df) = self.scatter(g);
            scaled += ss / shrunk(r, pooled);
            scaled_df += df;
        }
        let ratio = if scaled_df > 0.0 { (scaled / scaled_df).clamp(1e-4, 1e4) } else { 1.0 };
        let mut curve = Curve::empty(self.takes, notes, 0.5 * ratio.ln());
        for (take, (g, r)) in group.iter().zip(reference).enumerate().filter(|(_, (g, _))| g.n > 0.0) {
            let of_reference = shrunk(r, pooled);
            let of_group = shrunk(g, ratio * of_reference);
            curve.shift[take] = g.mean() - r.mean();
            curve.shift_variance[take] = of_group / g.n + of_reference / r.n;
            curve.note_variance[take] = ratio * of_reference;
            curve.n[take] = [g.n, r.n];
            let ((ss, df), (rss, rdf)) = (self.scatter(g), self.scatter(r));
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

/// The sums of one place in one take.
fn of_place(values: &[f64]) -> Sums {
    let n = values.len() as f64;
    let sum: f64 = values.iter().sum();
    let mean = sum / n.max(1.0);
    Sums {
        n,
        sum,
        squares: values.iter().map(|v| v * v).sum(),
        within: values.iter().map(|v| (v - mean).powi(2)).sum(),
        within_df: (n - 1.0).max(0.0),
    }
}
