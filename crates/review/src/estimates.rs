//! What every estimate of a report is held to.

/// Of every interval in the report.
pub(crate) const CONFIDENCE: f64 = 0.95;

/// With fewer notes a group shows counts and no estimates.
pub const LEAST_FOR_ESTIMATES: usize = 8;

/// Share trimmed at either end of a mean (20 %).
pub(crate) const TRIM: f64 = 0.2;
