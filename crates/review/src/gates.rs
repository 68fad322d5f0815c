//! From which size on something is told.

/// A bias is told from this size on, ms.
pub(crate) const GATE_BIAS_MS: f64 = 3.0;
/// A spread is told from this ratio on.
pub(crate) const GATE_SPREAD: f64 = 1.3;
/// A level is told from this difference on, dB.
pub(crate) const GATE_LEVEL_DB: f64 = 3.0;
/// Ringing over is told from this difference on, ms, and from twice the rest on.
pub(crate) const GATE_SMEAR_MS: f64 = 20.0;
/// Mistakes are told from so many on.
pub(crate) const GATE_EVENTS: usize = 3;

/// The gates, as the report states them.
pub(crate) fn gates() -> Vec<String> {
    vec![
        format!("early or late: {GATE_BIAS_MS:.0} ms"),
        format!("scatter: {GATE_SPREAD} times the rest"),
        format!("ringing over: {GATE_SMEAR_MS:.0} ms longer than the rest, and twice as long"),
        format!("level: {GATE_LEVEL_DB:.0} dB within the same strings"),
        format!("notes not heard, wrong or extra: {GATE_EVENTS} of them"),
        format!("tempo: {} per cent", crate::along::GATE_TEMPO_PCT),
    ]
}
