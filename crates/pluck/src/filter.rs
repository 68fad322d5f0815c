//! The linear filters after the strings.

use crate::sound::Build;
use biquad::{Biquad, Coefficients, DirectForm2Transposed, Hertz, Type};

/// A second-order section, or a plain wire where the design is impossible at this rate.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Section(Option<DirectForm2Transposed<f64>>);

impl Section {
    /// `f` is brought below 0.45 of the rate.
    pub(crate) fn new(kind: Type<f64>, rate: f64, f: f64, q: f64) -> Self {
        let f = f.clamp(1.0, 0.45 * rate);
        let design = || Coefficients::from_params(kind, Hertz::from_hz(rate).ok()?, Hertz::from_hz(f).ok()?, q).ok();
        Self(design().map(DirectForm2Transposed::new))
    }

    pub(crate) fn run(&mut self, x: f64) -> f64 {
        match &mut self.0 {
            Some(f) => f.run(x),
            None => x,
        }
    }
}

/// Pickup or microphone, and the body: what every note passes before it is heard dry.
#[derive(Debug, Clone)]
pub(crate) struct Tone {
    resonance: Section,
    body: Vec<(Section, f64)>,
}

impl Tone {
    pub(crate) fn new(build: &Build, rate: f64) -> Self {
        let (f, q) = build.resonance;
        Self {
            resonance: Section::new(Type::LowPass, rate, f, q),
            body: build.modes().map(|(f, q, g)| (Section::new(Type::BandPass, rate, *f, *q), *g)).collect(),
        }
    }

    pub(crate) fn run(&mut self, x: f64) -> f64 {
        let mut y = self.resonance.run(x);
        for (mode, gain) in &mut self.body {
            y += *gain * mode.run(x) * 4.0;
        }
        y
    }
}
