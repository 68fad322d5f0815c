//! What every estimate of a report is held to.

use takegauge_stats::{Sample, robust};

/// Of every interval in the report.
pub(crate) const CONFIDENCE: f64 = 0.95;

/// With fewer notes a group shows counts and no estimates.
pub const LEAST_FOR_ESTIMATES: usize = 8;

/// Share trimmed at either end of a mean (20 %).
pub(crate) const TRIM: f64 = 0.2;

/// The median; 0 of nothing.
pub(crate) fn middle(v: &[f64]) -> f64 {
    Sample::new(v).map_or(0.0, robust::median)
}
