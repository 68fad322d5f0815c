//! Ladders in which no kind comes apart, as these takes would have been: from their notes' scatter, their numbers and
//! the variance between takes.
//!
//! A note that belongs to several kinds is drawn once for all of them: the errors of two kinds go together as far as
//! they share notes.

use super::Settings;
use super::cells::Cells;
use super::curve::{Curve, Grid, Spare, fit_all};
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
    let enough = (settings.draws / 10).max(1);
    let (mut largest, mut beyond) = (Vec::with_capacity(settings.draws), 0);
    // A chance of well above any alpha need not be known better (Besag and Clifford 1991, Biometrika 78:301).
    while largest.len() < settings.draws && beyond < enough {
        for take in 0..takes {
            for draw in &mut draws {
                *draw = [rng.normal(), rng.normal(), rng.normal()];
            }
            let reference = [rng.normal(), rng.normal()];
            for ((curve, (_, seen)), atoms) in drawn.iter_mut().zip(open).zip(&members) {
                draw_take(curve, seen, take, spare, together(cells, atoms, take, &draws), reference);
            }
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

/// One take of one kind: mean and log SD as the notes' scatter and the variance between takes make them.
fn draw_take(curve: &mut Curve, seen: &Curve, take: usize, spare: Spare, draw: [f64; 3], reference: [f64; 2]) {
    let [n, rn] = seen.n[take];
    if n <= 0.0 {
        return;
    }
    let variance = seen.note_variance[take];
    let of_reference = variance / (2.0 * seen.base_log).exp();
    curve.shift[take] = (variance / n + spare.shift).sqrt() * draw[0] + (of_reference / rn).sqrt() * reference[0];
    if !seen.log_variance[take].is_finite() {
        curve.shift_variance[take] = variance / n + of_reference / rn;
        return;
    }
    let [df, rdf] = seen.df[take];
    let log = log_scatter(df, draw[1]);
    let own = log + spare.log.sqrt() * draw[2];
    curve.log[take] = own - log_scatter(rdf, reference[1]);
    // What the fit takes for the notes' variance is estimated too.
    let estimated = variance * (df * (2.0 * own).exp() + 8.0) / (df + 8.0);
    curve.shift_variance[take] = estimated / n + of_reference / rn;
}

/// Log of an SD estimated with `df` degrees of freedom over the true one, its mean taken off: from the cube-root
/// approximation of chi-square (Wilson and Hilferty 1931, Proc. Natl. Acad. Sci. 17:684).
fn log_scatter(df: f64, z: f64) -> f64 {
    let ninth = 2.0 / (9.0 * df);
    let scaled = (1.0 - ninth + z * ninth.sqrt()).max(0.02).powi(3);
    debug_assert!(log_chi_square_variance(df) > 0.0);
    0.5 * (scaled.ln() - log_chi_square_mean(df))
}
