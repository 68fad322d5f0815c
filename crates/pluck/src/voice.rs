//! A pluck in the take: placed so that its leading edge is where the performance says, and damped in the end.

use crate::filter::Tone;
use crate::performance::{Damping, Event};
use crate::sound::{Build, NOTE_PEAK, Sound};
use crate::string::Pulled;

/// Below this part of a note's start a voice is over: -100 dB.
const SILENT: f64 = 1e-5;

/// An edge this near to its place, in samples, is there; and how often to try.
const NEAR_SAMPLES: f64 = 0.02;
const ROUNDS: usize = 6;

/// Where the edge of a note stands, in samples from the first, and its peak.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Edge {
    pub at: f64,
    pub peak: f64,
}

/// The instant at which |x| first reaches a tenth (-20 dB) of its peak, between samples along a straight line.
pub(crate) fn edge(x: &[f64]) -> Option<Edge> {
    let peak = x.iter().fold(0.0f64, |m, v| m.max(v.abs()));
    if peak <= 0.0 || !peak.is_finite() {
        return None;
    }
    let level = 0.1 * peak;
    let n = x.iter().position(|v| v.abs() >= level)?;
    let now = x.get(n)?.abs();
    let before = n.checked_sub(1).and_then(|k| x.get(k)).map_or(0.0, |v| v.abs());
    let at = n as f64 - (now - level) / (now - before).max(1e-300);
    Some(Edge { at, peak })
}

/// The note alone, undamped, dry, long enough to hold its peak.
fn isolated(event: &Event, build: &Build, sound: &Sound, delay: f64) -> Option<Edge> {
    let rate = sound.rate_rendered().as_f64();
    let mut string = Pulled::new(event, build, sound, delay);
    let mut tone = Tone::new(build, rate);
    // A body answers later than its string.
    let settled = if build.modes().next().is_none() { 0.015 } else { 0.030 };
    let n = (settled * rate + 2.5 * string.period()) as usize;
    let x: Vec<f64> = (0..n).map(|_| tone.run(string.next())).collect();
    edge(&x)
}

/// A voice.
pub(crate) struct Voice {
    string: Pulled,
    gain: f64,
    damped: f64,
    damping: Vec<Fade>,
    /// The take's sample that comes next.
    now: i64,
}

struct Fade {
    from: i64,
    a_sample: f64,
}

impl Fade {
    fn new(d: Damping, rate: f64) -> Self {
        let fall = (d.fall.0 * rate).max(1.0);
        Self { from: (d.down_20_db.0 * rate - fall).round() as i64, a_sample: 10f64.powf(-1.0 / fall) }
    }
}

impl Voice {
    /// `None` where the note makes no sound.
    pub(crate) fn new(event: &Event, build: &Build, sound: &Sound) -> Option<Self> {
        let rate = sound.rate_rendered().as_f64();
        let wanted = event.at.0 * rate;
        let mut first = wanted - isolated(event, build, sound, 0.0)?.at;
        let mut best = (f64::INFINITY, first, 1.0);
        // The edge between samples moves a little with the delay: two or three rounds find it.
        for _ in 0..ROUNDS {
            let found = isolated(event, build, sound, first - first.floor())?;
            let off = wanted - (first.floor() + found.at);
            if off.abs() < best.0 {
                best = (off.abs(), first, found.peak);
            }
            if off.abs() < NEAR_SAMPLES {
                break;
            }
            first += 0.9 * off;
        }
        let (_, first, peak) = best;
        let start = first.floor();
        let mut damping = vec![Fade::new(event.hand_damps, rate)];
        damping.extend(event.pick_damps.map(|d| Fade::new(d, rate)));
        Some(Self {
            string: Pulled::new(event, build, sound, first - start),
            gain: NOTE_PEAK.amplitude() * event.touch.level.amplitude() / peak,
            damped: 1.0,
            damping,
            now: start as i64,
        })
    }

    /// Adds its part to `out`, whose first sample is the take's `from`. Blocks must follow each other.
    pub(crate) fn add_to(&mut self, out: &mut [f64], from: i64) {
        let end = from + out.len() as i64;
        while self.now < end && !self.over() {
            for d in &self.damping {
                if self.now >= d.from {
                    self.damped *= d.a_sample;
                }
            }
            let x = self.gain * self.damped * self.string.next();
            if let Some(slot) = usize::try_from(self.now - from).ok().and_then(|i| out.get_mut(i)) {
                *slot += x;
            }
            self.now += 1;
        }
    }

    /// Whether nothing more will come.
    pub(crate) fn over(&self) -> bool {
        self.damped < SILENT
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::performance::Touch;
    use crate::sound::{Guitar, rate};
    use takegauge_drill::Sounding;
    use takegauge_units::{Decibels, Hertz, Millis, Seconds};

    fn pluck(at: f64, frequency: f64, release: f64) -> Event {
        let far = Damping { down_20_db: Seconds(1e6), fall: Seconds(1.0) };
        Event {
            at: Seconds(at),
            string: 1,
            frequency: Hertz(frequency),
            sounding: Sounding::Picked,
            dead: false,
            palm_muted: false,
            touch: Touch {
                level: Decibels(0.0),
                release: Millis(release),
                place: 0.13,
                brightness: 0.0,
                contact: Millis(4.0),
                grain: 7,
            },
            hand_damps: far,
            pick_damps: None,
        }
    }

    fn sounded(event: &Event, sound: &Sound, seconds: f64) -> Vec<f64> {
        let build = sound.guitar.build();
        let rate = sound.rate_rendered().as_f64();
        let mut out = vec![0.0; (seconds * rate) as usize];
        Voice::new(event, &build, sound).unwrap().add_to(&mut out, 0);
        let mut tone = Tone::new(&build, rate);
        out.iter_mut().for_each(|x| *x = tone.run(*x));
        out
    }

    const GUITARS: [Guitar; 5] = [Guitar::Bridge, Guitar::Neck, Guitar::Archtop, Guitar::Acoustic, Guitar::Bass];

    /// An attack is where the leading edge, in isolation, first reaches -20 dB of its peak.
    #[test]
    fn an_attack_is_where_it_was_asked_for() {
        for guitar in GUITARS {
            for hz in [8_000, 22_050, 44_100, 96_000, 192_000] {
                let sound = Sound { rate: rate(hz), guitar, ..Sound::default() };
                for (k, f) in [41.2, 82.41, 195.998, 659.26, 1318.51].into_iter().enumerate() {
                    for release in [0.12, 0.4, 2.5] {
                        let at = 0.1 + 0.000_013_7 * k as f64;
                        let x = sounded(&pluck(at, f, release), &sound, 0.6);
                        let found = edge(&x).unwrap();
                        let off = (found.at / f64::from(hz) - at) * 1e3;
                        assert!(off.abs() < 0.05, "{guitar:?} {hz} Hz, {f} Hz, {release} ms: {off} ms");
                        let peak = Decibels::from_amplitude(found.peak).0;
                        // Few samples a period: the highest of them is not the peak between them.
                        let near = if hz < 40_000 { 1.5 } else { 0.5 };
                        assert!((peak - NOTE_PEAK.0).abs() < near, "{guitar:?} {hz} {f} {release}: peak {peak}");
                    }
                }
            }
        }
    }

    /// Frequency of the strongest spectral line near `f`, by the phase of two windows `gap` samples apart.
    fn frequency_near(x: &[f64], rate: f64, f: f64) -> f64 {
        let (n, gap) = (x.len() / 2, x.len() / 2);
        let phase = |from: usize| {
            let (mut re, mut im) = (0.0, 0.0);
            for k in 0..n {
                let w = 0.5 - 0.5 * (std::f64::consts::TAU * k as f64 / n as f64).cos();
                let a = std::f64::consts::TAU * f * k as f64 / rate;
                re += w * x[from + k] * a.cos();
                im -= w * x[from + k] * a.sin();
            }
            im.atan2(re)
        };
        let expected = std::f64::consts::TAU * f * gap as f64 / rate;
        let turned = phase(gap) - phase(0) - expected;
        let wrapped = turned - std::f64::consts::TAU * (turned / std::f64::consts::TAU).round();
        f + wrapped * rate / (std::f64::consts::TAU * gap as f64)
    }

    #[test]
    fn strings_are_in_tune_within_a_cent() {
        for hz in [22_050, 44_100, 192_000] {
            for guitar in [Guitar::Bridge, Guitar::Archtop] {
                let sound = Sound { rate: rate(hz), guitar, ..Sound::default() };
                // E1 to G6 in steps of a fifth or so.
                for f in [41.203, 61.735, 82.407, 123.471, 184.997, 277.183, 415.305, 622.254, 932.328, 1567.982] {
                    let x = sounded(&pluck(0.01, f, 0.2), &sound, 0.7);
                    let from = (0.05 * f64::from(hz)) as usize;
                    let heard = frequency_near(&x[from..], f64::from(hz), f);
                    let cents = 1200.0 * (heard / f).log2();
                    assert!(cents.abs() < 1.0, "{f} Hz at {hz}, {guitar:?}: {cents} cents");
                }
            }
        }
    }

    #[test]
    fn a_quarter_tone_flat_guitar_is_a_quarter_tone_flat() {
        let sound = Sound { cents: -50.0, ..Sound::default() };
        let x = sounded(&pluck(0.01, 220.0, 0.2), &sound, 0.7);
        let heard = frequency_near(&x[2_205..], 44_100.0, 213.74);
        assert!((1200.0 * (heard / 220.0).log2() + 50.0).abs() < 1.0, "{heard}");
    }

    #[test]
    fn damping_takes_twenty_decibels_by_the_instant_asked() {
        let sound = Sound::default();
        let free = pluck(0.1, 110.0, 0.2);
        let hand_damps = Damping { down_20_db: Seconds(0.4), fall: Seconds(0.02) };
        let held = sounded(&free, &sound, 0.6);
        let damped = sounded(&Event { hand_damps, ..free }, &sound, 0.6);
        let at = |t: f64| (t * 44_100.0) as usize;
        assert_eq!(held[..at(0.379)], damped[..at(0.379)]);
        let rms = |x: &[f64]| (x.iter().map(|v| v * v).sum::<f64>() / x.len() as f64).sqrt();
        let window = at(0.395)..at(0.405);
        let down = 20.0 * (rms(&held[window.clone()]) / rms(&damped[window])).log10();
        assert!((down - 20.0).abs() < 2.0, "{down}");
    }

    #[test]
    fn edges_of_nothing_are_none() {
        assert_eq!(edge(&[]), None);
        assert_eq!(edge(&[0.0; 8]), None);
        assert_eq!(edge(&[0.0, 0.2, 2.0]).unwrap().at, 1.0);
    }
}
