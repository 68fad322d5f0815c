//! The natural logarithm of positive floats, without a call, so that loops over it vectorise.

/// ln x for normal x > 0, to 2e-6 and to 1e-6 of its size; what is smaller counts as the smallest normal number.
#[inline(always)]
pub(crate) fn ln(x: f32) -> f32 {
    let bits = x.max(f32::MIN_POSITIVE).to_bits();
    // x = 2^e m with m from sqrt(1/2) to sqrt(2).
    let shifted = bits.wrapping_sub(0x3f35_04f3);
    let exponent = (shifted as i32) >> 23;
    let m = f32::from_bits((shifted & 0x007f_ffff).wrapping_add(0x3f35_04f3));
    // ln m = 2 artanh((m - 1) / (m + 1)), its series to the ninth power.
    let s = (m - 1.0) / (m + 1.0);
    let z = s * s;
    let series = 2.0 * s * (1.0 + z * (1.0 / 3.0 + z * (0.2 + z * (1.0 / 7.0 + z * (1.0 / 9.0)))));
    exponent as f32 * std::f32::consts::LN_2 + series
}

#[cfg(test)]
mod tests {
    #[test]
    fn as_the_library_has_it() {
        for i in 0..400_000u32 {
            let x = f32::from_bits(0x0080_0000 + i * 5_300);
            if x.is_finite() {
                let (here, there) = (super::ln(x), x.ln());
                assert!((here - there).abs() <= 2e-6 + 1e-6 * there.abs(), "ln {x}: {here}, {there}");
            }
        }
        assert!(super::ln(0.0).is_finite() && super::ln(-1.0).is_finite() && super::ln(f32::NAN).is_finite());
    }
}
