//! The click to record to: a count-in, accented first beats, subdivisions, bars left silent, rising tempos.
//!
//! Times are counted from the track's first sample. The track is a list of events; [`ClickTrack::fill`] turns it into
//! samples at any rate.

use crate::ClickError;
use takegauge_drill::Drill;
use takegauge_drill::timing::{TICKS, Timing};
use takegauge_units::{Bpm, Seconds};

/// The longest click track.
pub const MAX_LENGTH: Seconds = Seconds(3600.0);

/// What the click is to do.
#[derive(Debug, Clone, PartialEq)]
pub struct ClickOptions {
    /// Tempos in the order in which they are played; empty for the drill's own.
    pub tempos: Vec<Bpm>,
    /// Repeats of the line at each tempo; `None` for the drill's own.
    pub repeats: Option<u32>,
    /// Bars counted in before the first note of each tempo, 0 to 8.
    pub count_in_bars: u8,
    /// Clicks a beat, 1 to 12.
    pub clicks_per_beat: u8,
    /// The click sounds for so many bars, then drops out for so many, in turn; `None` for a click throughout.
    pub silent: Option<SilentBars>,
    /// Bars of rest between two tempos, 0 to 64.
    pub rest_bars: u8,
}

impl Default for ClickOptions {
    fn default() -> Self {
        Self { tempos: Vec::new(), repeats: None, count_in_bars: 1, clicks_per_beat: 1, silent: None, rest_bars: 1 }
    }
}

/// Bars with and without the click, in turn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SilentBars {
    /// Bars that sound, 1 or more.
    pub sounding: u8,
    /// Bars that are silent, 1 or more.
    pub silent: u8,
}

/// Which click it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ClickKind {
    /// The first beat of a bar.
    FirstBeat,
    /// Another beat.
    Beat,
    /// Between beats.
    Between,
}

/// One click.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Click {
    /// When it starts.
    pub at: Seconds,
    /// Which it is.
    pub kind: ClickKind,
    /// It belongs to a count-in.
    pub count_in: bool,
}

/// Where one tempo is played.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ClickStep {
    /// The tempo.
    pub tempo: Bpm,
    /// Repeats of the line.
    pub repeats: u32,
    /// The first click of its count-in.
    pub click_from: Seconds,
    /// The drill's first step.
    pub notes_from: Seconds,
    /// The end of its last repeat.
    pub notes_to: Seconds,
}

/// A whole click track.
#[derive(Debug, Clone, PartialEq)]
pub struct ClickTrack {
    /// In order of time.
    pub clicks: Vec<Click>,
    /// One for each tempo, in order.
    pub steps: Vec<ClickStep>,
    /// Where the track ends.
    pub length: Seconds,
    /// Beats a bar.
    pub beats_per_bar: u8,
    /// The beat's note value: 4 a quarter note.
    pub beat_unit: u8,
}

impl ClickTrack {
    /// The click for a drill.
    ///
    /// # Errors
    /// [`ClickError::Option`] for an option out of its range or a track longer than [`MAX_LENGTH`].
    pub fn of(drill: &Drill, options: &ClickOptions) -> Result<Self, ClickError> {
        check(options)?;
        let tempos = if options.tempos.is_empty() { vec![drill.tempo] } else { options.tempos.clone() };
        let mut track = Self {
            clicks: Vec::new(),
            steps: Vec::new(),
            length: Seconds(0.0),
            beats_per_bar: drill.beats_per_bar.max(1),
            beat_unit: drill.beat_unit,
        };
        let last = tempos.len() - 1;
        for (i, tempo) in tempos.into_iter().enumerate() {
            let repeats = options.repeats.unwrap_or(drill.repeats);
            let played = Drill { tempo, repeats, ..drill.clone() };
            let rest = if i < last { options.rest_bars } else { 0 };
            track.add_step(&played, options, rest)?;
        }
        Ok(track)
    }

    fn add_step(&mut self, drill: &Drill, options: &ClickOptions, rest_bars: u8) -> Result<(), ClickError> {
        let timing = Timing::of(drill);
        let bar = TICKS * u64::from(self.beats_per_bar);
        let pickup = timing.pickup_ticks() % bar;
        // A pickup fills the end of a bar of its own.
        let lead = u64::from(options.count_in_bars) * bar + if pickup == 0 { 0 } else { bar - pickup };
        let ends = lead + timing.line_ticks() * u64::from(drill.repeats);
        let bars = ends.div_ceil(bar);
        let from = self.length;
        let at = |tick: u64| from + Seconds(tick as f64 / TICKS as f64 * drill.beat_seconds());
        self.length = at((bars + u64::from(rest_bars)) * bar);
        if self.length > MAX_LENGTH {
            return Err(ClickError::Option {
                option: "click".to_owned(),
                read: format!("a track longer than {} minutes", MAX_LENGTH.0 / 60.0),
                allowed: "fewer repeats, tempos or rests".to_owned(),
            });
        }
        let per_beat = u64::from(options.clicks_per_beat);
        for click in 0..ends.div_ceil(TICKS / per_beat) {
            let tick = click * (TICKS / per_beat);
            let bar_number = tick / bar;
            let count_in = tick < lead;
            if !count_in && silent(options.silent, bar_number - lead.div_ceil(bar).min(bar_number)) {
                continue;
            }
            let kind = match tick {
                t if t.is_multiple_of(bar) => ClickKind::FirstBeat,
                t if t.is_multiple_of(TICKS) => ClickKind::Beat,
                _ => ClickKind::Between,
            };
            self.clicks.push(Click { at: at(tick), kind, count_in });
        }
        self.steps.push(ClickStep {
            tempo: drill.tempo,
            repeats: drill.repeats,
            click_from: from,
            notes_from: at(lead),
            notes_to: at(ends),
        });
        Ok(())
    }
}

fn silent(pattern: Option<SilentBars>, bar: u64) -> bool {
    pattern.is_some_and(|p| bar % u64::from(p.sounding.max(1) + p.silent) >= u64::from(p.sounding.max(1)))
}

fn check(options: &ClickOptions) -> Result<(), ClickError> {
    let refuse = |option: &str, read: String, allowed: &str| {
        Err(ClickError::Option { option: option.to_owned(), read, allowed: allowed.to_owned() })
    };
    if let Some(tempo) = options.tempos.iter().find(|t| !(20.0..=400.0).contains(&t.0)) {
        return refuse("tempo", tempo.0.to_string(), "20 to 400 quarter notes a minute");
    }
    if options.tempos.len() > 200 {
        return refuse("tempos", options.tempos.len().to_string(), "at most 200");
    }
    if let Some(repeats) = options.repeats.filter(|r| !(1..=1000).contains(r)) {
        return refuse("repeats", repeats.to_string(), "1 to 1000");
    }
    if options.count_in_bars > 8 {
        return refuse("count-in bars", options.count_in_bars.to_string(), "0 to 8");
    }
    if !(1..=12).contains(&options.clicks_per_beat) {
        return refuse("clicks a beat", options.clicks_per_beat.to_string(), "1 to 12");
    }
    if options.rest_bars > 64 {
        return refuse("rest bars", options.rest_bars.to_string(), "0 to 64");
    }
    match options.silent {
        Some(s) if !(1..=64).contains(&s.sounding) || !(1..=64).contains(&s.silent) => {
            refuse("silent bars", format!("{} sounding, {} silent", s.sounding, s.silent), "1 to 64 of each")
        }
        _ => Ok(()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn drill(more: &str) -> Drill {
        let text = format!("name='t'\ntempo_bpm=120\nsteps_per_beat=4\ntuning='standard'\n{more}");
        Drill::parse(&text, "t").unwrap()
    }

    fn times(track: &ClickTrack) -> Vec<f64> {
        track.clicks.iter().map(|c| c.at.0).collect()
    }

    const BAR: &str = "line='6:1 6:2 6:3 6:4 6:1 6:2 6:3 6:4 6:1 6:2 6:3 6:4 6:1 6:2 6:3 6:4'";

    #[test]
    fn a_bar_is_counted_in() {
        let track = ClickTrack::of(&drill(BAR), &ClickOptions::default()).unwrap();
        assert_eq!(times(&track), [0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5]);
        let firsts: Vec<_> = track.clicks.iter().map(|c| c.kind == ClickKind::FirstBeat).collect();
        assert_eq!(firsts, [true, false, false, false, true, false, false, false]);
        assert_eq!(track.clicks.iter().filter(|c| c.count_in).count(), 4);
        assert_eq!((track.steps[0].notes_from, track.steps[0].notes_to), (Seconds(2.0), Seconds(4.0)));
        assert_eq!(track.length, Seconds(4.0));
    }

    #[test]
    fn odd_bars_and_eighth_beats() {
        let seven = drill("beats_per_bar=7\nbeat_unit=8\nline='6:1 6:2 6:3 6:4'");
        let track = ClickTrack::of(&seven, &ClickOptions::default()).unwrap();
        // Seven eighths at 120 quarter notes a minute last 1.75 s.
        assert_eq!(track.steps[0].notes_from, Seconds(1.75));
        assert_eq!(track.clicks.len(), 8);
        assert_eq!(track.length, Seconds(3.5));
    }

    #[test]
    fn a_pickup_comes_before_the_accent() {
        let track = ClickTrack::of(&drill(&format!("pickup_steps=4\n{BAR}")), &ClickOptions::default()).unwrap();
        assert_eq!(track.steps[0].notes_from, Seconds(3.5));
        let accents: Vec<_> = track.clicks.iter().filter(|c| c.kind == ClickKind::FirstBeat).map(|c| c.at.0).collect();
        assert_eq!(accents, [0.0, 2.0, 4.0]);
    }

    #[test]
    fn subdivisions_and_silent_bars() {
        let options = ClickOptions {
            clicks_per_beat: 2,
            silent: Some(SilentBars { sounding: 1, silent: 2 }),
            ..ClickOptions::default()
        };
        let track = ClickTrack::of(&drill(&format!("repeats=4\n{BAR}")), &options).unwrap();
        let bars: Vec<usize> =
            (0..5).map(|b| track.clicks.iter().filter(|c| (c.at.0 / 2.0) as usize == b).count()).collect();
        assert_eq!(bars, [8, 8, 0, 0, 8]);
        assert_eq!(track.clicks[1].kind, ClickKind::Between);
    }

    #[test]
    fn tempos_rise_in_one_track() {
        let options = ClickOptions {
            tempos: vec![Bpm(60.0), Bpm(120.0)],
            repeats: Some(2),
            rest_bars: 1,
            ..ClickOptions::default()
        };
        let track = ClickTrack::of(&drill(BAR), &options).unwrap();
        let starts: Vec<_> = track.steps.iter().map(|s| (s.click_from.0, s.notes_from.0, s.notes_to.0)).collect();
        // One bar in, two bars played, one bar of rest: 4 s each at 60.
        assert_eq!(starts, [(0.0, 4.0, 12.0), (16.0, 18.0, 22.0)]);
        assert!(!track.clicks.iter().any(|c| (12.0..16.0).contains(&c.at.0)));
    }

    #[test]
    fn options_out_of_range_are_refused() {
        let d = drill(&format!("repeats=1000\n{BAR}"));
        let o = ClickOptions::default;
        for options in [
            ClickOptions { tempos: vec![Bpm(f64::NAN)], ..o() },
            ClickOptions { repeats: Some(0), ..o() },
            ClickOptions { count_in_bars: 9, ..o() },
            ClickOptions { clicks_per_beat: 0, ..o() },
            ClickOptions { rest_bars: 65, ..o() },
            ClickOptions { silent: Some(SilentBars { sounding: 0, silent: 1 }), ..o() },
            ClickOptions { tempos: vec![Bpm(90.0); 201], ..o() },
            ClickOptions { tempos: vec![Bpm(20.0)], ..o() },
        ] {
            assert!(matches!(ClickTrack::of(&d, &options), Err(ClickError::Option { .. })), "{options:?}");
        }
    }
}
