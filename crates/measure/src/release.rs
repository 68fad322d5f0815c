//! When exactly the string was let go.
//!
//! The sound before the attack foretells how it would have gone on; the release is where that first fails. It is
//! sought in the take at several sample rates: the higher ones time it to a few hundredths of a millisecond, the lower
//! ones do not hear the pick's touch, which comes some milliseconds earlier and has hardly anything below 3 kHz.
//! Where the touch stills the string that sounds, the silence after it is taken for the past instead.
//! Each rate and threshold gives a vote with a width and a chance of being wrong, both larger the less the attack
//! stands out; the votes and the time already known are fused into the likeliest instant.

use crate::predict::{errors, fit};
use crate::thin::{factor, thin};
use crate::touch::{Silence, silence};

/// How far around the known time the release is sought, ms; less where the attack before is near.
const REACH_MS: f64 = 7.0;
/// How much of the past is learnt from, ms.
const PAST_MS: f64 = 35.0;
/// The errors of prediction so long before the search are what the attack must exceed, ms: the longest period.
const QUIET_MS: f64 = 18.0;
/// Votes this near to each other, ms, speak of the same instant.
const TOGETHER_MS: f64 = 0.6;
/// The past counts as no quieter than this share of the highest error to come: rounding, and the low-pass's ripple.
const FLOOR: f64 = 3e-3;

/// One rate to listen at, and the order of the prediction there.
struct Band {
    rate_hz: f64,
    order: usize,
}

const BANDS: [Band; 4] = [
    Band { rate_hz: 22_000.0, order: 32 },
    Band { rate_hz: 11_000.0, order: 24 },
    Band { rate_hz: 5_500.0, order: 20 },
    Band { rate_hz: 2_800.0, order: 14 },
];

/// The touch is told in this band: it hears the pulses of a string apart, and little of the pick.
const TOUCH_BAND: usize = 1;
/// The end of the silence may be the release itself already, ms.
const SURELY_SILENT_MS: f64 = 0.4;

/// A threshold in one band: past^(1 - power) * coming^power, with the vote's properties. Latency `early - slope *
/// log10(contrast)`, width and chance of error were measured on plucked notes with known instants.
struct Voter {
    band: usize,
    power: f64,
    late_ms: f64,
    slope_ms: f64,
    width_ms: f64,
    wrong: f64,
    weight: f64,
}

const VOTERS: [Voter; 6] = [
    Voter { band: 0, power: 0.6, late_ms: 0.20, slope_ms: 0.08, width_ms: 0.10, wrong: 0.10, weight: 0.7 },
    Voter { band: 1, power: 0.45, late_ms: 0.25, slope_ms: 0.17, width_ms: 0.12, wrong: 0.012, weight: 0.6 },
    Voter { band: 1, power: 0.6, late_ms: 0.27, slope_ms: 0.14, width_ms: 0.12, wrong: 0.015, weight: 0.6 },
    Voter { band: 2, power: 0.45, late_ms: 0.33, slope_ms: 0.28, width_ms: 0.17, wrong: 0.01, weight: 0.6 },
    Voter { band: 2, power: 0.6, late_ms: 0.36, slope_ms: 0.25, width_ms: 0.15, wrong: 0.012, weight: 0.6 },
    Voter { band: 3, power: 0.6, late_ms: 0.38, slope_ms: 0.38, width_ms: 0.22, wrong: 0.03, weight: 0.7 },
];
/// The latency's logarithm goes no further.
const SLOPE_UNTIL: f64 = 1.6;
/// A threshold is at least this much above the past, and at least this share of the highest error to come: by definition
/// the attack is where its leading edge reaches -20 dB.
const LEAST_RISE: f64 = 1.15;
const FOOT: f64 = 0.1;

/// A refined instant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Release {
    /// Seconds after the known time, signed.
    pub(crate) after: f64,
    /// One standard deviation, seconds.
    pub(crate) sd: f64,
    /// How far the attack stands out of what sounded before: highest prediction error over that of the past, in the
    /// band where it stands out most.
    pub(crate) contrast: f64,
}

/// What is known before looking.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Known {
    /// Seconds from the stretch's first sample.
    pub(crate) at: f64,
    /// One standard deviation of it, seconds.
    pub(crate) sd: f64,
    /// Seconds since the attack before; infinite where there is none.
    pub(crate) since_last: f64,
}

struct Vote {
    at_ms: f64,
    width_ms: f64,
    wrong: f64,
    weight: f64,
}

/// Looks for the release near `known.at` in a stretch that reaches from about 0.1 s before it to 0.03 s after.
/// `None` where the stretch is silent.
pub(crate) fn release(stretch: &[f32], rate: f64, known: Known) -> Option<Release> {
    let mut rises: Vec<(usize, Rise)> = Vec::with_capacity(BANDS.len());
    let mut last_factor = 0;
    for (i, band) in BANDS.iter().enumerate() {
        let by = factor(rate, band.rate_hz);
        if by == last_factor {
            // At a low sample rate the upper bands are one and the same.
            continue;
        }
        last_factor = by;
        let thinned = thin(stretch, rate, by);
        rises.extend(Rise::of(&thinned.samples, thinned.rate, band.order, known).map(|r| (i, r)));
    }
    let touched = rises.iter().find(|(i, _)| *i == TOUCH_BAND).or(rises.first()).and_then(|(_, r)| r.touched());
    if let Some(silence_ms) = touched {
        rises.iter_mut().for_each(|(_, r)| r.begin_in(silence_ms));
    }
    let contrast = rises.iter().fold(0.0f64, |m, (_, r)| m.max(r.contrast()));
    let voters = |band: usize| VOTERS.iter().filter(move |v| v.band == band);
    let votes: Vec<Vote> = rises.iter().flat_map(|(i, r)| voters(*i).map(|v| r.vote(v))).collect();
    (!votes.is_empty()).then(|| fuse(&votes, 1e3 * known.sd, contrast, touched.is_some()))
}

/// The prediction errors of one band around the known time.
struct Rise {
    /// What the prediction was made from, and its coefficients.
    past: Vec<f64>,
    coefficients: Vec<f64>,
    /// From the start of the search on.
    sound: Vec<f64>,
    /// From the start of the search on, or from the silence after a touch.
    errors: Vec<f64>,
    /// The last error before the search.
    before: f64,
    quiet: f64,
    top: f64,
    rate: f64,
    /// Time of `errors[0]`, counted from the known time, ms.
    from_ms: f64,
}

impl Rise {
    fn of(samples: &[f32], rate: f64, order: usize, known: Known) -> Option<Self> {
        let reach_ms = (1e3 * known.since_last / 3.0).clamp(2.0, REACH_MS);
        let n = |ms: f64| (1e-3 * ms * rate).round() as usize;
        // Silence before the take's start, so that there is always a past.
        let pad = n(PAST_MS + REACH_MS + QUIET_MS);
        let mut x = vec![0.0; pad];
        x.extend(samples.iter().map(|s| f64::from(*s)));
        let centre = pad + (known.at * rate).round().max(0.0) as usize;
        let from = centre - n(reach_ms);
        let to = (centre + n(reach_ms)).min(x.len());
        if from + 2 >= to {
            return None;
        }
        let begin = from - n(PAST_MS);
        // Silence foretells silence.
        let coefficients = fit(&x[begin..from], order).unwrap_or_default();
        let mut learnt = errors(&x[begin..to], &coefficients);
        let coming = learnt.split_off((from - begin).checked_sub(coefficients.len())?);
        // The attack before is no measure of what sounds now.
        let quiet_n = n(QUIET_MS.min((1e3 * known.since_last - reach_ms - 3.0).max(4.0))).max(1);
        let quiet = learnt.iter().rev().take(quiet_n).fold(0.0f64, |m, e| m.max(*e));
        let top = coming.iter().fold(0.0f64, |m, e| m.max(*e));
        if top.is_nan() || top <= 0.0 {
            return None;
        }
        Some(Self {
            before: learnt.last().copied().unwrap_or(0.0),
            past: x[begin..from].to_vec(),
            sound: x[from..to].to_vec(),
            coefficients,
            errors: coming,
            quiet: quiet.max(FLOOR * top),
            top,
            rate,
            from_ms: 1e3 * ((from as f64 - pad as f64) / rate - known.at),
        })
    }

    /// The silence that a touch leaves: when it begins and ends, counted from the known time, ms.
    fn touched(&self) -> Option<(f64, f64)> {
        let Silence { from, to } = silence(&self.past, &self.sound, &self.coefficients, self.rate)?;
        let ms = |sample: usize| self.from_ms + 1e3 * sample as f64 / self.rate;
        Some((ms(from), ms(to)))
    }

    /// Takes what sounds in a silence for the past: silence foretells silence, so all that sounds then is new.
    fn begin_in(&mut self, (from_ms, to_ms): (f64, f64)) {
        let sample = |ms: f64| (1e-3 * (ms - self.from_ms) * self.rate).round().max(0.0) as usize;
        let (from, to) = (sample(from_ms), sample(to_ms - SURELY_SILENT_MS));
        let Some(sound) = self.sound.get(from..).filter(|s| to > from && to - from < s.len()) else { return };
        let errors: Vec<f64> = sound.iter().map(|x| x.abs()).collect();
        let highest = |e: &[f64]| e.iter().fold(0.0f64, |m, e| m.max(*e));
        let top = highest(&errors);
        if top > 0.0 {
            self.quiet = highest(&errors[..to - from]).max(FLOOR * top);
            self.top = top;
            self.before = errors[0];
            self.errors = errors;
            self.from_ms += 1e3 * from as f64 / self.rate;
        }
    }

    fn contrast(&self) -> f64 {
        (self.top / self.quiet).max(1.0)
    }

    fn vote(&self, v: &Voter) -> Vote {
        let contrast = self.contrast();
        let bar = (self.quiet * contrast.powf(v.power).max(LEAST_RISE)).max(FOOT * self.top);
        let highest = || self.errors.iter().position(|e| *e >= self.top).unwrap_or(0);
        let place = match self.errors.iter().position(|e| *e > bar) {
            Some(k) => {
                let last = if k == 0 { self.before } else { self.errors[k - 1] };
                let share = if last < bar { (bar - last) / (self.errors[k] - last) } else { 1.0 };
                k as f64 - 1.0 + share
            }
            None => highest() as f64,
        };
        let late = v.late_ms - v.slope_ms * contrast.log10().min(SLOPE_UNTIL);
        let doubt = (1.6 / contrast).powi(3).min(1.0);
        Vote {
            at_ms: self.from_ms + 1e3 * place / self.rate - late,
            width_ms: v.width_ms * (1.0 + 2.0 * doubt),
            wrong: (v.wrong + 0.5 * doubt).min(0.7),
            weight: v.weight,
        }
    }
}

/// Likeliest instant of a mixture: each vote is right (normal) or wrong (anywhere within reach); so is the time known.
fn fuse(votes: &[Vote], known_sd_ms: f64, contrast: f64, touched: bool) -> Release {
    let normal = |z: f64, sd: f64| (-0.5 * (z * z).min(300.0)).exp() / (sd * (2.0 * std::f64::consts::PI).sqrt());
    let anywhere = 1.0 / (2.0 * REACH_MS);
    let known_sd = known_sd_ms.clamp(0.8, 3.0);
    let likelihood = |t: f64| {
        let of_votes: f64 = votes
            .iter()
            .map(|v| {
                v.weight * ((1.0 - v.wrong) * normal((t - v.at_ms) / v.width_ms, v.width_ms) + v.wrong * anywhere).ln()
            })
            .sum();
        of_votes + (0.85 * normal(t / known_sd, known_sd) + 0.15 * anywhere).ln()
    };
    let scores: Vec<f64> = votes.iter().map(|v| likelihood(v.at_ms)).collect();
    let best = scores.iter().enumerate().fold(0, |b, (i, s)| if *s > scores[b] { i } else { b });
    let near = |v: &&Vote| (v.at_ms - votes[best].at_ms).abs() < TOGETHER_MS;
    let trust = |v: &Vote| v.weight * (1.0 - v.wrong) / (v.width_ms * v.width_ms);
    let total: f64 = votes.iter().filter(near).map(trust).sum();
    let at: f64 = votes.iter().filter(near).map(|v| trust(v) * v.at_ms).sum::<f64>() / total;
    let rival =
        votes.iter().zip(&scores).filter(|(v, _)| !near(v)).map(|(_, s)| (s - scores[best]).exp()).fold(0.0, f64::max);
    let agree = votes.iter().filter(near).map(|v| v.weight).sum::<f64>() / votes.iter().map(|v| v.weight).sum::<f64>();
    let core = CORE_MS * CORE_MS + 0.3 / total + 0.1 * (1.0 - agree);
    let elsewhere = chance_elsewhere(at, known_sd_ms, contrast, rival, touched);
    Release { after: 1e-3 * at, sd: 1e-3 * (core + elsewhere * ELSEWHERE_MS * ELSEWHERE_MS).sqrt(), contrast }
}

/// Chance that the attack is in another place than found: a logistic model of what speaks against it, each from 0 to 1.
/// Its coefficients are round figures near those of highest likelihood on plucked notes with known instants, of two
/// guitars, each of which the other one's figures fit.
fn chance_elsewhere(at_ms: f64, known_sd_ms: f64, contrast: f64, rival: f64, touched: bool) -> f64 {
    // The first look found another place as likely,
    let torn = (known_sd_ms / TORN_MS).min(1.0).powi(2);
    // little stands out of what sounded before,
    let faint = (1.6 / contrast).min(1.0);
    // votes fell in another place as well (over the likelihood of the one told),
    let split = (rival / (1.0 + rival)).powf(0.3);
    // a first look that was sure found another place,
    let contradicted = (at_ms / (2.0 * known_sd_ms).max(1.0)).powi(2).min(1.0);
    // or it was taken to follow a touch, which explains a first look that was torn or elsewhere, but may have been a gap
    // in what sounds.
    let place = if touched { 4.5 } else { 8.0 * torn + 5.5 * contradicted };
    let log_odds = -8.8 + place + 1.5 * faint + 4.0 * split;
    1.0 / (1.0 + (-log_odds).exp())
}

/// The first look's standard deviation where two places are as likely, ms.
const TORN_MS: f64 = 2.2;
/// Scatter where every vote agrees, ms; and how far off an attack is that was in another place.
const CORE_MS: f64 = 0.09;
const ELSEWHERE_MS: f64 = 5.0;
