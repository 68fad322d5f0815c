//! Ringing over: how long the string just left still sounds after the new attack.

use crate::decay::{Family, Fitted};
use crate::decimate::{decimate, factor};
use crate::partials::{Comb, Sounding, Stretch};
use crate::tuning::partials::RATE_HZ;
use crate::tuning::ringing::{
    DOUBT, FLOOR_COST, MISTUNED_CENTS, NEAR_THE_END, NOT_DOWN, RANGE_COST, SHORTEST_SMEAR, SILENT, THIN_COST,
    THIN_SHARE, TUNED_OVER_S, WINDOW_COST, WINDOWS_S, WORST_MISFIT,
};
use crate::tuning::sound::TRANSIENT_S;
use takegauge_units::Millis;

/// What is known about a change of string.
#[derive(Debug, Clone)]
pub(crate) struct Change<'a> {
    /// Sound around the attack.
    pub(crate) stretch: &'a [f32],
    pub(crate) rate: f64,
    /// Seconds from the stretch's first sample to the attack.
    pub(crate) attack: f64,
    /// Nominal frequency of the note left.
    pub(crate) old_hz: f64,
    /// How long before the attack it was struck, seconds.
    pub(crate) struck_before: f64,
    /// Nominal frequency of the note that arrives; `None` of a dead note.
    pub(crate) new_hz: Option<f64>,
    /// How long the arriving note is alone the newest, and when it ends, seconds after the attack.
    pub(crate) new_alone: f64,
    pub(crate) new_ends: f64,
    /// Every other note that may sound meanwhile.
    pub(crate) others: Vec<Sounding>,
    /// When the left string is struck again, seconds after the attack; infinite if not soon.
    pub(crate) struck_again: f64,
}

/// The families of decays to hold traces against, made once a take.
pub(crate) struct Smear {
    families: Vec<Family>,
}

impl Smear {
    pub(crate) fn new() -> Self {
        Self { families: WINDOWS_S.map(Family::new).into() }
    }

    /// Time until the left string is 20 dB down, or why it cannot be told.
    pub(crate) fn measure(&self, change: &Change<'_>) -> Result<Millis, String> {
        let decimated = decimate(change.stretch, change.rate, factor(change.rate, RATE_HZ));
        let sound = Stretch { samples: &decimated.samples, rate: decimated.rate, attack: change.attack };
        let length = change.struck_before.clamp(TUNED_OVER_S.0, TUNED_OVER_S.1);
        let old = sound.tune(change.old_hz, MISTUNED_CENTS, -length, length);
        let off = old.hz / change.old_hz;
        let other = |o: &Sounding| Sounding { comb: Comb { hz: o.comb.hz * off, ..o.comb }, ..*o };
        let mut others: Vec<Sounding> = change.others.iter().map(other).collect();
        if let Some(hz) = change.new_hz {
            let length = change.new_alone.clamp(TUNED_OVER_S.0, TUNED_OVER_S.1);
            let comb = sound.tune(hz, MISTUNED_CENTS, TRANSIENT_S, length);
            others.push(Sounding { comb, from: 0.0, to: change.new_ends });
        }
        let mut best: Option<(f64, Fitted, f64)> = None;
        let mut silent = false;
        for family in self.families.iter().filter(|f| f.length < change.struck_before.max(WINDOWS_S[0] + 1e-6)) {
            let Some(trace) = sound.follow(old, &others, family.length, change.struck_again) else { continue };
            if trace.amplitude < SILENT {
                silent = true;
                continue;
            }
            let Some(fitted) = family.fit(&trace, change.struck_again) else { continue };
            let thin_share = if trace.share < THIN_SHARE { THIN_COST } else { 0.0 };
            let cost = fitted.misfit
                + FLOOR_COST * fitted.floor
                + RANGE_COST * fitted.range
                + WINDOW_COST * family.length
                + thin_share;
            if best.is_none_or(|b| cost < b.0) {
                best = Some((cost, fitted, family.length));
            }
        }
        let Some((_, fitted, length)) = best else {
            return Err(if silent {
                "the left string was silent already".to_owned()
            } else {
                "the two notes share their partials".to_owned()
            });
        };
        let not_down = fitted.last_level > NOT_DOWN;
        if not_down && change.struck_again.is_finite() || fitted.down_at > change.struck_again - NEAR_THE_END * length {
            let after = 1e3 * change.struck_again;
            return Err(format!("still sounding when its string was struck again after {after:.0} ms"));
        }
        if not_down {
            return Err("still sounding, and then hidden by other notes".to_owned());
        }
        if fitted.misfit > WORST_MISFIT || fitted.range > DOUBT.0 + DOUBT.1 * fitted.down_at {
            return Err("the left string cannot be told from the others sounding".to_owned());
        }
        Ok(Millis((1e3 * fitted.down_at).max(SHORTEST_SMEAR.0)))
    }
}
