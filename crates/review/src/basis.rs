//! What all groups of a take share.

use crate::estimates::{CONFIDENCE, TRIM};
use crate::scatter::{Scatter, Scattered};
use crate::take::Judged;
use takegauge_stats::{Estimate, Sample, robust};

/// What all groups of a take share.
#[derive(Clone)]
pub(crate) struct Basis<'a> {
    pub(crate) notes: &'a [Judged<'a>],
    /// Residuals, ms, parallel to `notes`.
    pub(crate) local: &'a [Option<f64>],
    /// The notes that groups are held against.
    pub(crate) reference: Vec<usize>,
    /// Inter-onset deviation of each note: its interval minus the expected one, ms.
    pub(crate) intervals: Vec<Option<f64>>,
    /// The detector's own SD, ms.
    pub(crate) detector_sd: f64,
    /// Why levels are withheld.
    pub(crate) level_withheld: Option<&'a str>,
}

/// Inter-onset interval minus the expected one for notes whose neighbour before was heard and picked, ms.
pub(crate) fn interval_deviations(notes: &[Judged]) -> Vec<Option<f64>> {
    let one = |i: usize| {
        let (n, b) = (notes.get(i)?, notes.get(i.checked_sub(1)?)?);
        let neighbours = n.pass == b.pass && b.grid.index + 1 == n.grid.index && !n.starts && !n.grid.after_gap;
        neighbours.then_some(n.deviation? - b.deviation?)
    };
    (0..notes.len()).map(one).collect()
}

/// Scatter of the residuals of `members` within places of the line. `None` where no place was played twice.
pub(crate) fn scatter(basis: &Basis, members: &[usize]) -> Option<Scatter> {
    let mut notes = Scattered::default();
    for &i in members {
        if let Some(v) = basis.local[i] {
            let detector_sd = basis.notes[i].placed.uncertainty.map_or(basis.detector_sd, |u| u.0);
            notes.push(v, basis.notes[i].grid.position, detector_sd);
        }
    }
    notes.scatter()
}

/// Trimmed mean of `members` minus that of `others`, ms.
pub(crate) fn difference(values: &[Option<f64>], members: &[usize], others: &[usize]) -> Option<Estimate> {
    let take = |of: &[usize]| of.iter().filter_map(|&i| values[i]).collect::<Vec<f64>>();
    let (a, b) = (take(members), take(others));
    let d = robust::yuen(Sample::new(&a).ok()?, Sample::new(&b).ok()?, TRIM, CONFIDENCE).ok()?;
    Some(d.estimate)
}
