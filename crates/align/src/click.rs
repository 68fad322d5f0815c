//! A click as the grid: the take's time and the drill's time are turned into each other along its beats.

use crate::model::AlignError;
use takegauge_drill::Drill;
use takegauge_units::Seconds;

/// The beats of a click, and how long a beat of the drill lasts at the drill's own tempo.
#[derive(Debug, Clone)]
pub(crate) struct Click {
    beats: Vec<f64>,
    beat: f64,
    pub(crate) beats_per_bar: i64,
}

impl Click {
    pub(crate) fn new(beats: &[Seconds], drill: &Drill) -> Result<Self, AlignError> {
        let beats: Vec<f64> = beats.iter().map(|b| b.0).collect();
        let rising = beats.windows(2).take_while(|w| w[1] > w[0] && w[1].is_finite()).count();
        let usable = if beats.first().is_some_and(|b| b.is_finite()) { rising + 1 } else { 0 };
        if usable < 2 || usable < beats.len() {
            return Err(AlignError::BadClick { beats: usable });
        }
        let beat = drill.step_seconds().0 * f64::from(drill.steps_per_beat.max(1));
        Ok(Self { beats, beat, beats_per_bar: i64::from(drill.beats_per_bar.max(1)) })
    }

    /// Beats from the click's first one, fractions along the straight line between neighbours; before the first and
    /// after the last the nearest distance goes on.
    fn beats_at(&self, time: f64) -> f64 {
        let i = self.beats.partition_point(|b| *b <= time).clamp(1, self.beats.len() - 1);
        let (a, b) = (self.beats[i - 1], self.beats[i]);
        (i - 1) as f64 + (time - a) / (b - a)
    }

    /// Seconds of the drill's own tempo from the click's first beat.
    pub(crate) fn drill_time(&self, time: f64) -> f64 {
        self.beats_at(time) * self.beat
    }

    /// When in the take a drill time falls if the drill's first step falls on `beat`.
    pub(crate) fn take_time(&self, beat: i64, drill: Seconds) -> Seconds {
        let at = beat as f64 + drill.0 / self.beat;
        let i = (at.floor().max(0.0) as usize).min(self.beats.len() - 2);
        let (a, b) = (self.beats[i], self.beats[i + 1]);
        Seconds(a + (at - i as f64) * (b - a))
    }

    /// The beat nearest to a drill time counted from the click's first beat.
    pub(crate) fn nearest_beat(&self, drill_time: f64) -> i64 {
        (drill_time / self.beat).round() as i64
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_click_that_changes_tempo_maps_there_and_back() {
        let text = "name = \"t\"\ntempo_bpm = 120\nsteps_per_beat = 4\nbeats_per_bar = 4\nrepeats = 1\n\
                    tuning = \"E2 A2 D3 G3 B3 E4\"\npicking = \"alternate\"\nfirst_stroke = \"down\"\nline = \"6:3\"\n";
        let drill = Drill::parse(text, "t").unwrap();
        let beats = [1.0, 1.5, 2.0, 2.4, 2.8].map(Seconds);
        let click = Click::new(&beats, &drill).unwrap();
        // A beat of the drill is half a second; beyond either end the nearest distance goes on.
        for (take, drill) in [(1.0, 0.0), (2.2, 1.25), (3.2, 2.5), (0.0, -1.0)] {
            assert!((click.drill_time(take) - drill).abs() < 1e-12, "{take}");
            assert!((click.take_time(0, Seconds(drill)).0 - take).abs() < 1e-12, "{take}");
        }
        assert_eq!(click.nearest_beat(click.drill_time(2.45)), 3);
    }
}
