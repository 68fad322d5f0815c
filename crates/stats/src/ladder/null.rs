//! Ladders in which no kind comes apart, as these takes would have been: from their notes' scatter, their numbers and
//! the variance between takes.
//!
//! A note that belongs to several kinds is drawn once for all of them: the errors of two kinds go together as far as
//! they share notes.

use super::cells::Cells;
use super::curve::{Curve, Grid, Spare, fit_all};
use super::model::Settings;
use super::places::PRIOR;
use crate::dist::{log_chi_square_mean, log_chi_square_variance};
use crate::random::Seeded;

/// The largest likelihood ratio over all kinds, ladder by ladder: as many ladders as are asked for, or as many as show
/// that the ratio `observed` is nothing unusual.
#[expect(clippy::too_many_arguments, reason = "what a round knows, for one caller")]
pub(super) fn largest_ratios(
    grid: &Grid,
    cells: &Cells,
    open: &[(usize, Curve)],
    spare: Spare,
    overlap: f64,
    observed: f64,
    settings: Settings,
    round: u64,
) -> Vec<f64> {
    let mut rng = Seeded::stream(settings.seed, 40 + round);
    // Atoms of each kind with the share of each take's notes that they hold.
    let members: Vec<Vec<usize>> = open
        .iter()
        .map(|(k, _)| (0..cells.atoms.len()).filter(|&a| cells.atoms[a].kinds & (1 << k) != 0).collect())
        .collect();
    let mut drawn: Vec<Curve> = open.iter().map(|(_, c)| c.clone()).collect();
    let takes = grid.of_take.len();
    let mut draws = vec![[0.0; 3]; cells.atoms.len()];
    let mut used: Vec<usize> = members.iter().flatten().copied().collect();
    used.sort_unstable();
    used.dedup();
    let mut scatters: Vec<Vec<Option<Drawn>>> = vec![Vec::with_capacity(takes); open.len()];
    let enough = (settings.draws / 10).max(1);
    let (mut largest, mut beyond) = (Vec::with_capacity(settings.draws), 0);
    // A chance of well above any alpha need not be known better (Besag and Clifford 1991, Biometrika 78:301).
    while largest.len() < settings.draws && beyond < enough {
        for curve in &mut scatters {
            curve.clear();
        }
        for take in 0..takes {
            for &a in &used {
                draws[a] = [rng.normal(), rng.normal(), rng.normal()];
            }
            let reference = [rng.normal(), rng.normal()];
            for ((scatter, (_, seen)), atoms) in scatters.iter_mut().zip(open).zip(&members) {
                scatter.push(draw(seen, take, spare, together(cells, atoms, take, &draws), reference));
            }
        }
        for ((curve, (_, seen)), scatter) in drawn.iter_mut().zip(open).zip(&scatters) {
            estimate(curve, seen, scatter);
        }
        let curves: Vec<&Curve> = drawn.iter().collect();
        let (fits, _) = fit_all(grid, &curves, overlap);
        let ratio = fits.iter().map(|f| f.ratio).fold(f64::MIN, f64::max);
        beyond += usize::from(ratio >= observed);
        largest.push(ratio);
    }
    largest
}

/// Standard normal draws of a kind from those of its atoms, each weighted with the root of its notes.
fn together(cells: &Cells, atoms: &[usize], take: usize, draws: &[[f64; 3]]) -> [f64; 3] {
    let mut sum = [0.0; 3];
    let mut n = 0.0;
    for &a in atoms {
        let of_take = cells.atoms[a].takes[take].n;
        n += of_take;
        for (s, d) in sum.iter_mut().zip(draws[a]) {
            *s += of_take.sqrt() * d;
        }
    }
    let root = f64::sqrt(n).max(f64::MIN_POSITIVE);
    sum.map(|s| s / root)
}

/// One take of one kind as the notes' scatter and the variance between takes make it.
#[derive(Debug, Clone, Copy)]
struct Drawn {
    shift: f64,
    /// Log of its SD over the true one, and of the reference's.
    own: f64,
    reference: f64,
}

fn draw(seen: &Curve, take: usize, spare: Spare, draw: [f64; 3], reference: [f64; 2]) -> Option<Drawn> {
    let [n, rn] = seen.n[take];
    if n <= 0.0 {
        return None;
    }
    let variance = seen.note_variance[take];
    let of_reference = variance / (2.0 * seen.base_log).exp();
    let shift = (variance / n + spare.shift).sqrt() * draw[0] + (of_reference / rn).sqrt() * reference[0];
    let [df, rdf] = seen.df[take];
    let (own, of_rest) = if df > 0.0 { (log_scatter(df, draw[1]), log_scatter(rdf, reference[1])) } else { (0.0, 0.0) };
    Some(Drawn { shift, own: own + spare.log.sqrt() * draw[2], reference: of_rest })
}

/// What the fit would take such a ladder for: the notes' variances are estimated too, take by take and all together.
fn estimate(curve: &mut Curve, seen: &Curve, drawn: &[Option<Drawn>]) {
    let (mut squares, mut all) = (0.0, 0.0);
    for (d, [df, _]) in drawn.iter().zip(&seen.df) {
        squares += d.map_or(0.0, |d| df * (2.0 * d.own).exp());
        all += if d.is_some() { *df } else { 0.0 };
    }
    let ratio = if all > 0.0 { squares / all } else { 1.0 };
    for (take, d) in drawn.iter().enumerate() {
        let Some(d) = d else { continue };
        let ([n, rn], [df, _], variance) = (seen.n[take], seen.df[take], seen.note_variance[take]);
        let of_reference = variance / (2.0 * seen.base_log).exp();
        curve.shift[take] = d.shift;
        if seen.log_variance[take].is_finite() {
            curve.log[take] = d.own - d.reference;
        }
        let estimated = variance * (df * (2.0 * d.own).exp() + PRIOR * ratio) / (df + PRIOR);
        curve.shift_variance[take] = estimated / n + of_reference / rn;
    }
}

/// Log of an SD estimated with `df` degrees of freedom over the true one, its mean taken off: from the cube-root
/// approximation of chi-square (Wilson and Hilferty 1931, Proc. Natl. Acad. Sci. 17:684).
fn log_scatter(df: f64, z: f64) -> f64 {
    let ninth = 2.0 / (9.0 * df);
    let scaled = (1.0 - ninth + z * ninth.sqrt()).max(0.02).powi(3);
    debug_assert!(log_chi_square_variance(df) > 0.0);
    0.5 * (scaled.ln() - log_chi_square_mean(df))
}
