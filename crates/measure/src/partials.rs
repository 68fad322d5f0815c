//! How strong a note's own partials are over time, heard through the notes around it.

use std::f64::consts::TAU;

/// Highest partial followed, Hz.
const HIGHEST_HZ: f64 = 3_500.0;
/// Partials of other notes are minded up to here, Hz.
const HIGHEST_OTHER_HZ: f64 = 4_000.0;
/// Stiffness of a plain or wound string of usual gauge: f_h = h f sqrt(1 + B h^2) (Fletcher & Rossing 1998, The Physics
/// of Musical Instruments, section 2.18). A middling value: B differs from string to string.
const STIFFNESS: f64 = 6e-5;
/// A partial is free of another's if they lie this far apart, over the window's length: a Hann window's first zero is
/// at 2, and at 1.8 its main lobe is 30 dB down.
const APART: f64 = 1.8;
/// Distance of two values of a trace, seconds.
pub(crate) const HOP: f64 = 3e-3;
/// A trace begins so long before the attack, seconds: the longest window and more.
pub(crate) const BEFORE: f64 = 0.075;
/// And ends so long after it, seconds.
pub(crate) const AFTER: f64 = 0.45;

/// A note that may sound within a trace; times in seconds after the attack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Sounding {
    pub(crate) hz: f64,
    pub(crate) from: f64,
    pub(crate) to: f64,
}

/// A stretch of sound and where the attack is in it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Stretch<'a> {
    pub(crate) samples: &'a [f64],
    pub(crate) rate: f64,
    /// Seconds from the first sample.
    pub(crate) attack: f64,
}

/// Level of a note over time, over its level just before the attack.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Trace {
    /// Amplitude ratios at `HOP` steps from `-BEFORE` on.
    pub(crate) ratio: Vec<f64>,
    /// How much each value counts, 0 (nothing free to hear) to 1.
    pub(crate) weight: Vec<f64>,
    /// Amplitude of the followed partials before the attack over that of the note's strongest one.
    pub(crate) share: f64,
    /// Amplitude of the followed partials before the attack, full scale 1.
    pub(crate) amplitude: f64,
}

/// Number of values in a trace.
pub(crate) fn steps() -> usize {
    ((BEFORE + AFTER) / HOP).round() as usize + 1
}

/// Time of a trace's value, seconds after the attack.
pub(crate) fn time(step: usize) -> f64 {
    step as f64 * HOP - BEFORE
}

/// Frequencies of a note's partials below `until`.
pub(crate) fn partials(hz: f64, until: f64) -> Vec<f64> {
    // A note has a frequency worth the name, so the loop ends.
    let hz = hz.max(10.0);
    (1..60).map(f64::from).take_while(|h| h * hz < until).map(|h| h * hz * (1.0 + STIFFNESS * h * h).sqrt()).collect()
}

impl Stretch<'_> {
    /// Amplitude of a tone around a time after the attack, through a Hann window; `None` beyond the stretch.
    fn amplitude(&self, tone: &Tone, at: f64) -> Option<f64> {
        let centre = ((self.attack + at) * self.rate).round();
        let from = centre - (tone.cos.len() / 2) as f64;
        if from < 0.0 {
            return None;
        }
        let window = self.samples.get(from as usize..from as usize + tone.cos.len())?;
        let re: f64 = window.iter().zip(&tone.cos).map(|(x, c)| x * c).sum();
        let im: f64 = window.iter().zip(&tone.sin).map(|(x, s)| x * s).sum();
        Some(2.0 * re.hypot(im))
    }

    /// Follows the partials of a note at `hz` through windows of `length` seconds, leaving out at each time those that
    /// lie too near to a partial of another note sounding then. `None` where no partial is free before the attack.
    pub(crate) fn follow(&self, hz: f64, others: &[Sounding], length: f64) -> Option<Trace> {
        let own = partials(hz, HIGHEST_HZ.min(0.45 * self.rate));
        let tones: Vec<Tone> = own.iter().map(|f| Tone::new(*f, length, self.rate)).collect();
        let near: Vec<Vec<bool>> = others.iter().map(|o| crowded(&own, o.hz, APART / length)).collect();
        let free = |h: usize, t: f64| {
            let heard = |o: &Sounding| t + 0.5 * length > o.from && t - 0.5 * length < o.to;
            !others.iter().zip(&near).any(|(o, near)| near[h] && heard(o))
        };
        // The last window that ends before the attack.
        let before = ((BEFORE - 0.5 * length) / HOP).floor().max(0.0) as usize;
        let reference: Vec<f64> = tones.iter().map(|t| self.amplitude(t, time(before)).unwrap_or(0.0)).collect();
        let strongest = reference.iter().fold(0.0f64, |m, a| m.max(*a));
        let usable: Vec<usize> = (0..own.len()).filter(|h| free(*h, time(before)) && reference[*h] > 0.0).collect();
        let best = usable.iter().fold(0.0f64, |m, h| m.max(reference[*h]));
        let usable: Vec<usize> = usable.into_iter().filter(|h| reference[*h] > WEAKEST * best).collect();
        let total: f64 = usable.iter().map(|h| reference[*h].powi(2)).sum();
        if total <= 0.0 {
            return None;
        }
        let (ratio, weight) = (0..steps())
            .map(|s| {
                if s < before {
                    return (0.0, 0.0);
                }
                let (mut now, mut then) = (0.0, 0.0);
                for h in usable.iter().filter(|h| free(**h, time(s))) {
                    if let Some(a) = self.amplitude(&tones[*h], time(s)) {
                        now += a * a;
                        then += reference[*h].powi(2);
                    }
                }
                // A small part of the partials speaks for the note, but not a tiny one.
                if then > 0.05 * total { ((now / then).sqrt().min(1.5), (then / total).sqrt()) } else { (0.0, 0.0) }
            })
            .unzip();
        Some(Trace { ratio, weight, share: total.sqrt() / strongest, amplitude: total.sqrt() })
    }

    /// Fine tuning: the frequency within `cents` of `hz` whose partials hold most energy in the window of `length`
    /// that ends at the attack.
    pub(crate) fn tune(&self, hz: f64, cents: f64, length: f64) -> f64 {
        let energy = |c: f64| -> f64 {
            let f = hz * 2f64.powf(c / 1200.0);
            let tones =
                partials(f, 1_500.0f64.min(0.45 * self.rate)).into_iter().map(|p| Tone::new(p, length, self.rate));
            tones.filter_map(|t| self.amplitude(&t, -0.5 * length)).map(|a| a * a).sum()
        };
        let steps = (cents / TUNE_STEP).round() as i32;
        let tried = (-steps..=steps).map(|k| f64::from(k) * TUNE_STEP).map(|c| (energy(c), c));
        // Of equals, the first tried nearest the middle would do as well; ties happen in silence only.
        let best = tried.fold((0.0, 0.0), |b, t| if t.0 > b.0 { t } else { b });
        hz * 2f64.powf(best.1 / 1200.0)
    }
}

/// Partials weaker than this share of the strongest free one are left out.
const WEAKEST: f64 = 0.05;
const TUNE_STEP: f64 = 6.0;

/// Which of `own` lie within `apart` Hz of a partial of a note at `hz`.
fn crowded(own: &[f64], hz: f64, apart: f64) -> Vec<bool> {
    let theirs = partials(hz, HIGHEST_OTHER_HZ);
    own.iter().map(|f| theirs.iter().any(|g| (f - g).abs() < apart)).collect()
}

/// A windowed tone to compare sound with.
struct Tone {
    cos: Vec<f64>,
    sin: Vec<f64>,
}

impl Tone {
    fn new(hz: f64, length: f64, rate: f64) -> Self {
        let n = (length * rate) as usize | 1;
        let half = (n / 2) as f64;
        let window = |u: f64| (1.0 + (TAU * u / (length * rate)).cos()).max(0.0) / (length * rate);
        let of = |f: fn(f64) -> f64| {
            (0..n).map(|i| i as f64 - half).map(|u| window(u) * f(TAU * hz * u / rate)).collect::<Vec<f64>>()
        };
        Self { cos: of(f64::cos), sin: of(f64::sin) }
    }
}
