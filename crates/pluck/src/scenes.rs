//! Scenes by name: a drill, a player and a recording, so that tests anywhere in the workspace speak of the same takes.

use crate::player::{Happens, Pass, Player, Selector};
use crate::sound::{Guitar, Sound, rate};
use crate::{Performance, Rendered, perform, render};
use takegauge_drill::{ChangeKind, Drill, DrillError, Stroke};
use takegauge_units::{Bpm, Decibels, Millis, Seconds};

/// Everything a take is made from.
#[derive(Debug, Clone)]
pub struct Scene {
    /// As asked for.
    pub name: String,
    /// What is special about it, in plain words.
    pub what: String,
    /// What is played.
    pub drill: Drill,
    /// How.
    pub player: Player,
    /// And how it is recorded.
    pub sound: Sound,
}

impl Scene {
    /// The timing alone.
    pub fn perform(&self) -> Performance {
        perform(&self.drill, &self.player)
    }

    /// The timing and the recording of it.
    pub fn render(&self) -> (Performance, Rendered) {
        let performance = self.perform();
        let rendered = render(&performance, &self.sound);
        (performance, rendered)
    }
}
