//! Something like speech for the pauses: voiced and unvoiced syllables through two formants. No words.

use crate::filter::Section;
use biquad::Type;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use takegauge_units::Seconds;

/// Speech-like noise during given stretches, silence else.
pub(crate) struct Talk {
    rng: ChaCha8Rng,
    rate: f64,
    level: f64,
    n: u64,
    /// Stretches to come, latest first, in samples.
    pauses: Vec<(u64, u64)>,
    syllable: Option<Syllable>,
    wait: u64,
}

struct Syllable {
    n: u64,
    length: u64,
    pitch: f64,
    phase: f64,
    voiced: bool,
    formants: [Section; 2],
}

impl Talk {
    pub(crate) fn new(pauses: &[(Seconds, Seconds)], level: f64, rate: f64) -> Self {
        let sample = |t: f64| (t * rate).round().max(0.0) as u64;
        // A breath of 0.4 s before the next attempt, so that the last word does not hide its first note.
        let mut list: Vec<(u64, u64)> =
            pauses.iter().map(|(a, b)| (sample(a.0 + 0.5), sample((b.0 - 0.4).max(a.0 + 0.5)))).collect();
        list.sort_by_key(|p| std::cmp::Reverse(p.0));
        let rng = ChaCha8Rng::seed_from_u64(0x7461_6c6b);
        Self { rng, rate, level, n: 0, pauses: list, syllable: None, wait: 0 }
    }

    pub(crate) fn next(&mut self) -> f64 {
        let n = self.n;
        self.n += 1;
        if self.syllable.is_none() {
            while self.pauses.last().is_some_and(|p| p.1 <= n) {
                self.pauses.pop();
            }
            let Some((from, to)) = self.pauses.last().copied() else { return 0.0 };
            if n < from.max(self.wait) {
                return 0.0;
            }
            self.syllable = Some(self.begin(to - n));
        }
        let white = 2.0 * self.rng.random::<f64>() - 1.0;
        let Some(s) = &mut self.syllable else { return 0.0 };
        let along = s.n as f64 / s.length.max(1) as f64;
        s.phase = (s.phase + s.pitch * (1.05 - 0.1 * along) / self.rate).fract();
        let source = if s.voiced { 1.0 - 2.0 * s.phase + 0.05 * white } else { 0.6 * white };
        let x: f64 = s.formants.iter_mut().map(|f| f.run(source)).sum();
        let y = self.level * 4.0 * x * (std::f64::consts::PI * along).sin();
        s.n += 1;
        if s.n >= s.length {
            self.syllable = None;
            let gap: f64 = self.rng.random();
            self.wait = self.n + ((0.03 + 0.2 * gap * gap) * self.rate) as u64;
        }
        y
    }

    fn begin(&mut self, room: u64) -> Syllable {
        let u: [f64; 5] = self.rng.random();
        let length = (((0.09 + 0.16 * u[0]) * self.rate) as u64).min(room);
        let formant = |f: f64| Section::new(Type::BandPass, self.rate, f, 6.0);
        Syllable {
            n: 0,
            length,
            pitch: 100.0 + 60.0 * u[1],
            phase: 0.0,
            voiced: u[2] < 0.8,
            formants: [formant(300.0 + 500.0 * u[3]), formant(900.0 + 1_500.0 * u[4])],
        }
    }
}
