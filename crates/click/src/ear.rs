//! Hearing a click: short sounds out of silence, each at the instant where its edge reaches -20 dB of its peak. Not for
//! playing: an ear for strings takes a sound that comes again and again alike for the one still ringing.

use takegauge_units::{Decibels, SampleRate, Seconds};

/// Samples of which only the peak is kept: 0.2 ms at 44.1 kHz, and 80 MB an hour.
const HOP: usize = 8;
/// What stays this far below the loudest click is none.
const LOWEST: f32 = 0.05;
/// A click's own peak comes within this of its edge.
const PEAK_WITHIN_S: f64 = 0.015;
/// The next click's edge comes no sooner.
const APART_S: f64 = 0.05;

/// Listens block by block.
#[derive(Debug, Clone)]
pub struct ClickEar {
    rate: SampleRate,
    peaks: Vec<f32>,
    filled: usize,
}

impl ClickEar {
    /// For a recording at `rate`.
    pub fn new(rate: SampleRate) -> Self {
        Self { rate, peaks: Vec::new(), filled: 0 }
    }

    /// The next samples, full scale +-1.
    pub fn push(&mut self, block: &[f32]) {
        for x in block {
            if self.filled.is_multiple_of(HOP) {
                self.peaks.push(0.0);
            }
            self.filled += 1;
            if let Some(last) = self.peaks.last_mut() {
                *last = last.max(x.abs());
            }
        }
    }

    /// The clicks heard, rising, each with its peak level in dBFS; times are good to 0.1 ms at 44.1 kHz.
    pub fn finish(&self) -> Vec<(Seconds, Decibels)> {
        let loudest = self.peaks.iter().copied().fold(0.0, f32::max);
        let hops = |s: f64| ((s * self.rate.as_f64() / HOP as f64) as usize).max(1);
        let (within, apart) = (hops(PEAK_WITHIN_S), hops(APART_S));
        let mut clicks = Vec::new();
        let mut i = 0;
        while let Some(peak) = self.peaks.get(i).filter(|_| loudest > 0.0) {
            if *peak < LOWEST * loudest {
                i += 1;
                continue;
            }
            let near = &self.peaks[i..(i + within).min(self.peaks.len())];
            let top = near.iter().copied().fold(0.0, f32::max);
            let edge = i + near.iter().position(|p| *p >= 0.1 * top).unwrap_or(0);
            // The tail of the click before is no edge.
            let before = self.peaks[edge.saturating_sub(within)..edge].iter().copied().fold(0.0, f32::max);
            if before < 0.5 * top {
                let at = (edge * HOP) as f64 / self.rate.as_f64();
                clicks.push((Seconds(at), Decibels::from_amplitude(f64::from(top))));
                i = edge + apart;
            } else {
                i += 1;
            }
        }
        clicks
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{ClickOptions, ClickTrack};
    use takegauge_drill::named;

    #[test]
    fn every_click_is_heard_at_its_time_and_silence_has_none() {
        let drill = named("outside-pair").unwrap();
        let options = ClickOptions { clicks_per_beat: 3, ..ClickOptions::default() };
        let track = ClickTrack::of(&drill, &options).unwrap();
        for hz in [8_000, 44_100, 96_000] {
            let rate = SampleRate::new(hz).unwrap();
            let mut samples = vec![0f32; track.samples(rate) as usize];
            track.fill(rate, 0, &mut samples);
            let mut ear = ClickEar::new(rate);
            samples
                .iter_mut()
                .enumerate()
                .for_each(|(n, s)| *s = 0.2 * *s + 1e-4 * ((n * 7919 % 1000) as f32 / 500.0 - 1.0));
            samples.chunks(997).for_each(|block| ear.push(block));
            let heard = ear.finish();
            assert_eq!(heard.len(), track.clicks.len(), "{hz}");
            for (h, c) in heard.iter().zip(&track.clicks) {
                assert!((h.0.0 - c.at.0).abs() <= 9.0 / f64::from(hz), "{hz} {h:?} {c:?}");
            }
        }
        let mut ear = ClickEar::new(SampleRate::new(44_100).unwrap());
        ear.push(&[0.0; 10_000]);
        assert!(ear.finish().is_empty());
    }
}
