//! The door out: every number of a report is rounded here, and none leaves that is not finite.

/// Seconds to 1 us; what is not finite becomes 0 (it cannot be told from a time that no clock gave).
pub(crate) fn seconds(x: f64) -> f64 {
    finite(x, 1e6).unwrap_or(0.0)
}

/// Milliseconds, decibels, per cent and pure numbers to 0.001; `None` where not finite.
pub(crate) fn milli(x: f64) -> Option<f64> {
    finite(x, 1e3)
}

/// As [`milli`], for a figure that is finite by construction; 0 where it is not.
pub(crate) fn milli_or_zero(x: f64) -> f64 {
    milli(x).unwrap_or(0.0)
}

/// Both ends by [`milli`]; `None` where either is not finite.
pub(crate) fn interval(low: f64, high: f64) -> Option<[f64; 2]> {
    Some([milli(low)?, milli(high)?])
}

fn finite(x: f64, scale: f64) -> Option<f64> {
    let r = (x * scale).round() / scale;
    // Adding 0 turns -0 into 0, so that no output reads "-0.0".
    r.is_finite().then_some(r + 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_number_leaves_that_is_not_finite() {
        assert_eq!((milli(f64::NAN), milli(f64::INFINITY), milli(1e308)), (None, None, None));
        assert_eq!(seconds(f64::NAN), 0.0);
        assert_eq!((seconds(1.234_567_89), milli(-0.000_4)), (1.234_568, Some(0.0)));
        assert!(milli(-0.000_4).unwrap().is_sign_positive());
        assert_eq!(interval(1.0, f64::NAN), None);
    }
}
