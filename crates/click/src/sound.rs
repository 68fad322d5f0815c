//! What a click sounds like, exact to the sample: its first sample stands where the click starts.

use crate::{ClickKind, ClickTrack};
use takegauge_units::{SampleIndex, SampleRate};

/// How long a click sounds.
const SECONDS: f64 = 0.02;
/// In which time it falls to 1/e.
const DECAY: f64 = 0.004;

/// Pitch and peak (full scale 1) of each click; our own choice: three pitches that are told apart through headphones
/// and lie above a guitar's strongest partials.
fn voice(kind: ClickKind) -> (f64, f64) {
    match kind {
        ClickKind::FirstBeat => (2600.0, 0.8),
        ClickKind::Beat => (1900.0, 0.55),
        ClickKind::Between => (1400.0, 0.3),
    }
}

impl ClickTrack {
    /// Length in samples.
    pub fn samples(&self, rate: SampleRate) -> SampleIndex {
        rate.samples_in(self.length) as SampleIndex
    }

    /// Fills a block whose first sample is the track's sample `from`, peaks below full scale. Blocks of any size
    /// put end to end give the same track.
    pub fn fill(&self, rate: SampleRate, from: SampleIndex, out: &mut [f32]) {
        out.fill(0.0);
        let long = (SECONDS * rate.as_f64()) as u64;
        let first = self.clicks.partition_point(|c| rate.samples_in(c.at) as u64 + long <= from);
        for click in self.clicks.iter().skip(first) {
            let starts = rate.samples_in(click.at) as u64;
            if starts >= from + out.len() as u64 {
                break;
            }
            let (pitch, peak) = voice(click.kind);
            for n in from.max(starts)..(starts + long).min(from + out.len() as u64) {
                let t = (n - starts) as f64 / rate.as_f64();
                // A cosine: the very first sample already sounds.
                let value = peak * (-t / DECAY).exp() * (std::f64::consts::TAU * pitch * t).cos();
                if let Some(sample) = out.get_mut((n - from) as usize) {
                    *sample += value as f32;
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::ClickOptions;
    use super::*;
    use takegauge_drill::named;

    #[test]
    fn clicks_start_on_their_sample_at_every_rate() {
        let drill = named("seven-eighths").unwrap();
        let track = ClickTrack::of(&drill, &ClickOptions::default()).unwrap();
        for hz in [44_100, 48_000, 96_000] {
            let rate = SampleRate::new(hz).unwrap();
            let mut all = vec![0f32; track.samples(rate) as usize];
            track.fill(rate, 0, &mut all);
            for click in &track.clicks {
                let at = rate.samples_in(click.at);
                assert_eq!(at, (click.at.0 * f64::from(hz)).round() as usize);
                assert!(all[at] > 0.25 && (at == 0 || all[at - 1] == 0.0), "{hz} {at}");
            }
            assert!(all.iter().all(|s| s.abs() <= 0.8));
        }
    }

    #[test]
    fn blocks_of_any_size_are_the_same_track() {
        let track = ClickTrack::of(&named("outside-pair").unwrap(), &ClickOptions::default()).unwrap();
        let rate = SampleRate::new(44_100).unwrap();
        let mut whole = vec![0f32; track.samples(rate) as usize];
        track.fill(rate, 0, &mut whole);
        let mut parts = vec![1f32; whole.len()];
        for (i, part) in parts.chunks_mut(997).enumerate() {
            track.fill(rate, i as u64 * 997, part);
        }
        assert_eq!(whole, parts);
    }
}
