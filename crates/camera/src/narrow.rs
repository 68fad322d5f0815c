//! Sound as the matching sees it: 8 kHz, one channel, 16 bits, so that hours of it fit in memory (58 MB an hour).

use takegauge_locate::windowed_sinc;
use takegauge_units::{SampleRate, Seconds};

/// Samples a second of [`Narrow`]. What a telephone's microphone passes lies below its half.
pub const RATE_HZ: u32 = 8_000;
/// The longest sound that is held.
pub const LONGEST_HOURS: u64 = 4;

/// The low-pass passes up to 3.4 kHz and blocks what would fold back onto that: its middle, Hz.
const CUTOFF_HZ: f64 = 3_950.0;
/// Width of its slope, Hz.
const SLOPE_HZ: f64 = 1_100.0;
/// Shape and length of a Kaiser window of 60 dB (Kaiser 1974; Oppenheim & Schafer, section 7.5).
const BETA: f64 = 5.65;
const TAPS_TIMES_SLOPE: f64 = 3.62;

/// Sound at [`RATE_HZ`]; sample 0 is the first sample of what it was made from.
#[derive(Debug, Clone, Default)]
pub struct Narrow {
    samples: Vec<i16>,
}

impl Narrow {
    /// All of a sound at another rate, full scale +-1; samples that are no number count as 0.
    pub fn of(sound: &[f32], rate: SampleRate) -> Self {
        let mut narrower = Narrower::new(rate);
        sound.chunks(1 << 16).for_each(|block| narrower.push(block));
        narrower.finish()
    }

    /// How many samples.
    pub fn len(&self) -> usize {
        self.samples.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.samples.is_empty()
    }

    /// How long.
    pub fn duration(&self) -> Seconds {
        Seconds(self.samples.len() as f64 / f64::from(RATE_HZ))
    }

    /// The samples from a place on, which may lie outside: there it is silent. Full scale +-1.
    pub(crate) fn read(&self, from: i64, out: &mut [f32]) {
        out.fill(0.0);
        let skip = usize::try_from(-from).unwrap_or(0).min(out.len());
        let start = usize::try_from(from).unwrap_or(0);
        let there = self.samples.get(start..).unwrap_or(&[]);
        out[skip..].iter_mut().zip(there).for_each(|(o, s)| *o = f32::from(*s) / 32_768.0);
    }
}

/// Makes [`Narrow`] sound out of blocks: a polyphase low-pass, exact for every whole rate.
pub struct Narrower {
    /// Phases of the filter, and input samples a full turn of them.
    up: u64,
    down: u64,
    taps: usize,
    /// `up` lines of `taps` coefficients.
    table: Vec<f32>,
    /// The last input samples; the first of them is number `first`, counted from `taps` zeros before the sound.
    held: Vec<f32>,
    first: u64,
    /// Input samples pushed.
    pushed: u64,
    out: Vec<i16>,
    too_long: bool,
}

impl Narrower {
    /// For sound at `rate`.
    pub fn new(rate: SampleRate) -> Self {
        let (target, hz) = (u64::from(RATE_HZ), u64::from(rate.hz()));
        let common = gcd(target, hz);
        let (up, down) = (target / common, hz / common);
        let half = (TAPS_TIMES_SLOPE * rate.as_f64() / SLOPE_HZ / 2.0).ceil().max(1.0) as usize;
        let taps = 2 * half;
        let cutoff = 2.0 * CUTOFF_HZ / rate.as_f64();
        let table = windowed_sinc((0..up).map(|p| p as f64 / up as f64), half, cutoff.min(1.0), BETA);
        // Silence before the sound, so that output 0 lies on input 0.
        Self { up, down, taps, table, held: vec![0.0; half - 1], first: 0, pushed: 0, out: Vec::new(), too_long: false }
    }

    /// The next samples.
    pub fn push(&mut self, block: &[f32]) {
        self.held.extend(block.iter().map(|x| if x.is_finite() { *x } else { 0.0 }));
        self.pushed += block.len() as u64;
        self.run();
    }

    /// Whether more came in than is held; what is beyond was dropped.
    pub fn too_long(&self) -> bool {
        self.too_long
    }

    /// The whole sound.
    pub fn finish(mut self) -> Narrow {
        let whole = (self.pushed * self.up).div_ceil(self.down.max(1));
        self.held.extend(std::iter::repeat_n(0.0, self.taps));
        self.run();
        self.out.truncate(usize::try_from(whole).unwrap_or(usize::MAX));
        Narrow { samples: self.out }
    }

    fn run(&mut self) {
        let most = (LONGEST_HOURS * 3600 * u64::from(RATE_HZ)) as usize;
        loop {
            if self.out.len() >= most {
                self.too_long = true;
                self.held.clear();
                return;
            }
            let ticks = self.out.len() as u64 * self.down;
            let (place, phase) = (ticks / self.up, (ticks % self.up) as usize);
            let at = (place - self.first) as usize;
            let Some(sound) = self.held.get(at..at + self.taps) else { break };
            let line = &self.table[phase * self.taps..][..self.taps];
            let sum: f32 = line.iter().zip(sound).map(|(a, b)| a * b).sum();
            self.out.push((sum * 32_768.0).round().clamp(-32_768.0, 32_767.0) as i16);
        }
        let ticks = self.out.len() as u64 * self.down;
        let used = ((ticks / self.up).saturating_sub(self.first) as usize).min(self.held.len());
        self.held.drain(..used);
        self.first += used as u64;
    }
}

fn gcd(a: u64, b: u64) -> u64 {
    if b == 0 { a.max(1) } else { gcd(b, a % b) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tone_is_the_same_tone_from_any_rate_and_in_any_blocks() {
        for hz in [8_000, 11_025, 16_000, 22_050, 44_100, 44_101, 48_000, 96_000, 192_000] {
            let rate = SampleRate::new(hz).unwrap();
            let tone = |t: f64| 0.5 * (std::f64::consts::TAU * 1_700.0 * t).sin();
            let sound: Vec<f32> = (0..hz / 2).map(|i| tone(f64::from(i) / rate.as_f64()) as f32).collect();
            let narrow = Narrow::of(&sound, rate);
            assert_eq!(narrow.len(), 4_000, "{hz}");
            let mut read = [0.0; 3_800];
            narrow.read(100, &mut read);
            for (i, x) in read.iter().enumerate() {
                let t = (i as f64 + 100.0) / 8_000.0;
                assert!((f64::from(*x) - tone(t)).abs() < 2e-3, "{hz}: {i}: {x} for {}", tone(t));
            }
            let mut pieces = Narrower::new(rate);
            sound.chunks(997).for_each(|b| pieces.push(b));
            assert_eq!(pieces.finish().samples, narrow.samples);
        }
    }

    #[test]
    fn what_would_fold_back_is_gone() {
        let rate = SampleRate::new(48_000).unwrap();
        let sound: Vec<f32> =
            (0..48_000).map(|i| (std::f64::consts::TAU * 5_000.0 / 48_000.0 * f64::from(i)).sin() as f32).collect();
        let narrow = Narrow::of(&sound, rate);
        assert!(narrow.samples[200..7_800].iter().all(|s| s.abs() < 80));
    }

    #[test]
    fn outside_is_silence_and_no_number_is_zero() {
        let narrow = Narrow::of(&[f32::NAN, 1.0, f32::INFINITY, 0.5], SampleRate::new(8_000).unwrap());
        assert_eq!(narrow.len(), 4);
        let mut read = [1.0; 8];
        for from in [-100, i64::MIN / 2, 4, i64::MAX / 2] {
            narrow.read(from, &mut read);
            assert_eq!(read, [0.0; 8]);
        }
        assert!(Narrow::of(&[], SampleRate::new(8_000).unwrap()).is_empty());
    }
}
