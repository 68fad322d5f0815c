//! How each pluck is made: level, edge, place on the string, brightness. Drawn apart from the timing, so that a
//! change in one leaves the other alone.

use crate::performance::Touch;
use crate::player::{Player, finite, of_matching};
use rand::{Rng, RngExt};
use rand_chacha::ChaCha8Rng;
use rand_distr::StandardNormal;
use takegauge_drill::{GridNote, Sounding, Stroke};
use takegauge_units::{Decibels, Millis};

/// What kind of note it is for the string.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Manner {
    pub sounding: Sounding,
    pub dead: bool,
    pub palm_muted: bool,
    pub level: f64,
}

impl Manner {
    /// A full note that nobody asked for.
    pub(crate) const EXTRA: Self = Self { sounding: Sounding::Picked, dead: false, palm_muted: false, level: -1.0 };
    /// A string touched in passing.
    pub(crate) const BRUSHED: Self = Self { level: -7.0, ..Self::EXTRA };

    pub(crate) fn of(note: &GridNote) -> Self {
        Self { sounding: note.sounding, dead: note.dead, palm_muted: note.palm_muted, level: 0.0 }
    }
}

/// A player's touch.
pub(crate) struct Hands {
    rng: ChaCha8Rng,
    level_sd: f64,
    levels: Player,
}

impl Hands {
    pub(crate) fn new(rng: ChaCha8Rng, player: &Player) -> Self {
        Self { rng, level_sd: finite(player.level_spread.0).clamp(0.0, 12.0), levels: player.clone() }
    }

    /// The touch of one string of a note of the drill.
    pub(crate) fn touch(&mut self, note: &GridNote, soft: bool) -> Touch {
        let mut touch = draw(&mut self.rng, self.level_sd);
        // Downstrokes a little louder and fuller, upstrokes thinner (plain choice: common practice, no source).
        let (stroke_db, stroke_bright) = match note.stroke {
            Some(Stroke::Down) => (0.5, -0.1),
            Some(Stroke::Up) => (-0.5, 0.2),
            None => (0.0, 0.0),
        };
        touch.brightness = (touch.brightness + stroke_bright).clamp(-1.0, 1.0);
        let mut level = touch.level.0 + stroke_db + of_matching(&self.levels.levels, note, |d: Decibels| d.0);
        if note.accent {
            level += 4.0;
        }
        if soft {
            level -= 8.0;
            touch.release = Millis(1.5 + 1.5 * self.rng.random::<f64>());
        }
        if note.sounding != Sounding::Picked {
            level -= 5.0;
            touch.release = Millis(touch.release.0.max(1.2));
        }
        if note.dead {
            level -= 4.0;
        }
        touch.level = Decibels(level.clamp(-40.0, 10.0));
        touch
    }

    /// The touch of a note nobody asked for, from its own random numbers.
    pub(crate) fn stray(&self, rng: &mut ChaCha8Rng, manner: Manner) -> Touch {
        let mut touch = draw(rng, self.level_sd);
        touch.level = Decibels((touch.level.0 + manner.level).clamp(-40.0, 10.0));
        touch
    }
}

fn draw(rng: &mut ChaCha8Rng, level_sd: f64) -> Touch {
    let z: f64 = rng.sample(StandardNormal);
    let b: f64 = rng.sample(StandardNormal);
    let u: [f64; 3] = rng.random();
    Touch {
        level: Decibels(level_sd * z.clamp(-3.0, 3.0)),
        // The string slides off the edge of a plectrum in a fraction of a millisecond; the milliseconds before are
        // the contact, not the attack.
        release: Millis(0.12 + 0.35 * u[0]),
        place: (0.13 + 0.05 * (u[1] - 0.5)).clamp(0.05, 0.3),
        brightness: (0.35 * b).clamp(-1.0, 1.0),
        // 2 to 8 ms of contact follow from pick speeds of 0.25 to 1 m/s over 2 mm (Zollner, Physics of the Electric
        // Guitar, section 1.5).
        contact: Millis(3.0 + 4.0 * u[2]),
        grain: rng.next_u32(),
    }
}
