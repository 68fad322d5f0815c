//! From clicks as they were heard to the beats of the drill: subdivisions, accents and bars without a click sorted out.

use crate::ClickError;
use takegauge_drill::Drill;
use takegauge_drill::timing::{TICKS, Timing};
use takegauge_stats::robust::upper_median;
use takegauge_units::{Bpm, Decibels, Seconds};

/// A click may come so much off its place, as a part of the distance between clicks, and still be the next one: tempo
/// steps of up to a fifth are followed.
const OFF_PLACE: f64 = 0.22;
/// Clicks are accented where they are louder by this on average.
const ACCENT: Decibels = Decibels(1.0);
/// No take has more beats than this: a day at 400 a minute.
const MOST_BEATS: usize = 576_000;

/// The beats of `drill` in the take's time, up to `until`: beat 0 is a beat on which the drill's first step may fall,
/// that is the first beat of a bar, or so much before it as the drill's pickup is long.
///
/// `clicks` are the attacks of a click and their levels, rising. How many of them make a beat follows from `tempo`
/// (quarter notes a minute, rightly within a third), which of them are beats and which begin a bar from their levels
/// or, where all are alike, from the first one. Over bars left silent the beats go on evenly from the click before to
/// the click after.
///
/// # Errors
/// [`ClickError::NotHeard`] where fewer than four clicks stand in a row.
pub fn beats_heard(
    clicks: &[(Seconds, Decibels)],
    drill: &Drill,
    tempo: Bpm,
    until: Seconds,
) -> Result<Vec<Seconds>, ClickError> {
    let beat = drill.beat_seconds() * drill.tempo.0 / tempo.0;
    let row = Row::of(clicks, beat).ok_or_else(|| ClickError::NotHeard {
        reason: format!("{} clicks were heard and no four of them in a row: no beat can be told", clicks.len()),
    })?;
    let a_bar = row.a_beat * i64::from(drill.beats_per_bar.max(1));
    let on_beat = row.loudest(row.a_beat, 1, 0);
    let bar = row.loudest(a_bar, row.a_beat, on_beat);
    let timing = Timing::of(drill);
    let pickup = timing.pickup_ticks() as f64 / TICKS as f64;
    let first = bar as f64 - pickup * row.a_beat as f64;
    let beats = (0..MOST_BEATS).map(|k| row.time(first + (k as i64 * row.a_beat) as f64));
    let mut given: Vec<Seconds> = Vec::new();
    for at in beats {
        given.push(at);
        if at > until && given.len() > 1 {
            break;
        }
    }
    Ok(given)
}

/// Clicks numbered along an even row, gaps counted.
struct Row {
    /// Number (the first is 0), time and level.
    clicks: Vec<(i64, f64, f64)>,
    /// Numbers a beat.
    a_beat: i64,
}

impl Row {
    /// `beat` is about how many seconds a beat lasts.
    fn of(clicks: &[(Seconds, Decibels)], beat: f64) -> Option<Self> {
        let usual = upper_median(clicks.windows(2).map(|w| w[1].0.0 - w[0].0.0).filter(|d| *d > 0.0))?;
        // Something else may sound before the click: it starts with two even distances of about the usual size.
        let even = |a: f64, b: f64| (a / b - 1.0).abs() < 0.03 && (0.66..1.5).contains(&(a / usual));
        let start = clicks.windows(3).position(|w| even(w[1].0.0 - w[0].0.0, w[2].0.0 - w[1].0.0))?;
        // With bars left silent throughout the usual distance may be several beats.
        let (a_beat, a_click) = match beat / usual {
            r if r >= 0.7 => (r.round().max(1.0), 1.0),
            r => (1.0, (1.0 / r).round()),
        };
        let (mut number, mut last) = (0i64, clicks[start].0.0);
        let mut local = (clicks[start + 1].0.0 - last) / a_click;
        let mut row = vec![(0i64, last, clicks[start].1.0)];
        for (at, level) in &clicks[start + 1..] {
            let steps = (at.0 - last) / local;
            let whole = steps.round();
            if !(1.0..=1e6).contains(&whole) || (steps - whole).abs() > OFF_PLACE {
                continue;
            }
            number += whole as i64;
            // A single distance is the tempo from here on; a long one tells it to a part.
            local = (at.0 - last) / whole;
            last = at.0;
            row.push((number, last, level.0));
        }
        (row.len() >= 4).then_some(Self { clicks: row, a_beat: a_beat as i64 })
    }

    /// Of the numbers `from`, `from + step`, ... below `from + cycle`: the one whose clicks, `cycle` apart, are the
    /// loudest on average; the first where none stands out.
    fn loudest(&self, cycle: i64, step: i64, from: i64) -> i64 {
        let mean = |place: i64| {
            let levels: Vec<f64> =
                self.clicks.iter().filter(|c| (c.0 - place).rem_euclid(cycle) == 0).map(|c| c.2).collect();
            (!levels.is_empty()).then(|| levels.iter().sum::<f64>() / levels.len() as f64)
        };
        let places: Vec<(i64, Option<f64>)> =
            (0..cycle / step.max(1)).map(|i| from + i * step).map(|p| (p, mean(p))).collect();
        let loudest = places.iter().filter(|p| p.1.is_some()).max_by(|a, b| {
            let levels = a.1.unwrap_or(f64::MIN).total_cmp(&b.1.unwrap_or(f64::MIN));
            levels.then(b.0.cmp(&a.0))
        });
        let Some((place, Some(level))) = loudest else { return from };
        let rest: Vec<f64> = places.iter().filter(|p| p.0 != *place).filter_map(|p| p.1).collect();
        let others = rest.iter().sum::<f64>() / rest.len().max(1) as f64;
        if !rest.is_empty() && level - others >= ACCENT.0 { *place } else { from }
    }

    /// When a place of the row comes; between clicks evenly, beyond them on at the nearest distance.
    fn time(&self, place: f64) -> Seconds {
        let after = self.clicks.partition_point(|c| (c.0 as f64) <= place).clamp(1, self.clicks.len() - 1);
        let (a, b) = (self.clicks[after - 1], self.clicks[after]);
        Seconds(a.1 + (place - a.0 as f64) / (b.0 - a.0) as f64 * (b.1 - a.1))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{ClickKind, ClickOptions, ClickTrack, SilentBars};

    fn drill(more: &str) -> Drill {
        let line = "6:1 6:2 6:3 6:4 ".repeat(4);
        Drill::parse(
            &format!("name='t'\ntempo_bpm=120\nsteps_per_beat=4\nrepeats=6\ntuning='standard'\n{more}line='{line}'"),
            "t",
        )
        .unwrap()
    }

    fn heard(track: &ClickTrack, accents: bool) -> Vec<(Seconds, Decibels)> {
        let level = |kind| match kind {
            _ if !accents => -6.0,
            ClickKind::FirstBeat => -2.0,
            ClickKind::Beat => -5.0,
            ClickKind::Between => -10.0,
        };
        track.clicks.iter().map(|c| (c.at + Seconds(0.25), Decibels(level(c.kind)))).collect()
    }

    /// Each beat's distance from the drill's first step, in beats, is whole, and that of beat 0 whole bars.
    fn holds(d: &Drill, options: &ClickOptions, accents: bool, tempo: f64) {
        let track = ClickTrack::of(d, options).unwrap();
        let beats = beats_heard(&heard(&track, accents), d, Bpm(tempo), track.length).unwrap();
        let beat = d.beat_seconds() * d.tempo.0 / options.tempos.first().map_or(d.tempo.0, |t| t.0);
        let first = track.steps[0].notes_from.0 + 0.25;
        for (k, at) in beats.iter().enumerate() {
            let off = (at.0 - first) / beat - k as f64;
            let bars = off / f64::from(d.beats_per_bar);
            assert!((bars - bars.round()).abs() < 1e-6, "{options:?} {accents} beat {k}: {off} beats off");
        }
        assert!(beats.last().unwrap().0 >= track.length.0);
    }

    #[test]
    fn count_in_accents_subdivisions_and_silent_bars_lead_to_the_same_beats() {
        for more in ["", "beats_per_bar=7\nbeat_unit=8\n", "beats_per_bar=3\n", "pickup_steps=2\n", "pickup_steps=4\n"]
        {
            let d = drill(more);
            for (count_in_bars, clicks_per_beat, silent) in [
                (1, 1, None),
                (2, 1, None),
                (1, 2, None),
                (1, 3, None),
                (1, 1, Some(SilentBars { sounding: 1, silent: 1 })),
                (1, 4, Some(SilentBars { sounding: 2, silent: 2 })),
            ] {
                let options = ClickOptions { count_in_bars, clicks_per_beat, silent, ..ClickOptions::default() };
                holds(&d, &options, true, 120.0);
                holds(&d, &options, false, 120.0);
            }
        }
    }

    #[test]
    fn a_click_at_another_tempo_than_thought_is_its_own_measure() {
        let options = ClickOptions { tempos: vec![Bpm(140.0)], ..ClickOptions::default() };
        holds(&drill(""), &options, true, 120.0);
        let options = ClickOptions { clicks_per_beat: 2, ..options };
        holds(&drill(""), &options, true, 120.0);
    }

    #[test]
    fn tempo_changes_and_stray_sounds_are_followed() {
        let mut clicks = vec![(Seconds(0.11), Decibels(-30.0))];
        let (mut at, mut beats) = (1.0, Vec::new());
        for k in 0..40 {
            clicks.push((Seconds(at), Decibels(if k % 4 == 0 { -3.0 } else { -6.0 })));
            beats.push(at);
            if k == 13 {
                clicks.push((Seconds(at + 0.08), Decibels(-40.0)));
            }
            at += if k < 20 { 0.5 } else { 0.42 };
        }
        let found = beats_heard(&clicks, &drill(""), Bpm(120.0), Seconds(at)).unwrap();
        assert!(found.iter().zip(&beats).all(|(a, b)| (a.0 - b).abs() < 1e-9), "{found:?}");
    }

    #[test]
    fn too_few_clicks_are_refused() {
        for clicks in [&[][..], &[(Seconds(0.0), Decibels(-6.0)), (Seconds(0.5), Decibels(-6.0))]] {
            let e = beats_heard(clicks, &drill(""), Bpm(120.0), Seconds(9.0)).unwrap_err();
            assert!(e.to_string().contains("no four of them in a row"), "{e}");
        }
    }
}
