//! The nets' weights: built in, or read from bytes as tests/measure/fit_ear.py writes them.

use crate::features::{Features, Filters, channels};
use crate::located::Size;
use crate::net::{DECIDING, KERNEL, Layer, Net, Scratch};
use crate::tuning::{BINS, ERROR_FILTERS, PREDICTED, TAPS};
use fearless_simd::{Level, dispatch};

const MAGIC: &[u8; 8] = b"locate 1";

/// The weights of one net.
#[derive(Debug, Clone)]
pub struct Weights(Kind);

#[derive(Debug, Clone)]
enum Kind {
    Quick(Box<Net<8, 16, 1, 2>>),
    Thorough(Box<Net<24, 32, 3, 4>>),
}

/// Bytes that are no weights.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum WeightsError {
    /// They begin otherwise.
    #[error("these are no weights: write them with tests/measure/fit_ear.py pack")]
    NotWeights,
    /// A net of other sizes.
    #[error(
        "weights for {channels} channels and {filters} filters; this program has nets of 8 with 16 and of 24 with 32"
    )]
    OtherNet {
        /// Channels of the net.
        channels: usize,
        /// Filters on the sound.
        filters: usize,
    },
    /// They end early, or go on.
    #[error("the weights are {found} numbers, {expected} expected: the file is cut or of another version")]
    Length {
        /// Numbers in the file.
        found: usize,
        /// Numbers of such a net.
        expected: usize,
    },
}

impl Weights {
    /// Those that the program comes with.
    pub fn built_in(size: Size) -> Self {
        let bytes: &[u8] = match size {
            Size::Quick => include_bytes!("../weights/quick.bin"),
            Size::Thorough => include_bytes!("../weights/thorough.bin"),
        };
        // A test reads both.
        #[expect(clippy::panic, reason = "bytes of this crate, read by a test")]
        Self::parse(bytes).unwrap_or_else(|e| panic!("{e}"))
    }

    /// Reads what `fit_ear.py pack` wrote: eight letters, four whole numbers (32 bits: filters, channels, frames to each
    /// side, bins to each side), then the weights as 32-bit floats, all with the lowest byte first.
    pub fn parse(bytes: &[u8]) -> Result<Self, WeightsError> {
        let rest = bytes.strip_prefix(MAGIC).ok_or(WeightsError::NotWeights)?;
        let (head, rest) = rest.split_first_chunk::<16>().ok_or(WeightsError::NotWeights)?;
        let mut sizes = head.as_chunks::<4>().0.iter().map(|b| u32::from_le_bytes(*b) as usize);
        let mut size = || sizes.next().unwrap_or(0);
        let (filters, channels, reach, bins) = (size(), size(), size(), size());
        let floats: Vec<f32> = rest.as_chunks::<4>().0.iter().map(|b| f32::from_le_bytes(*b)).collect();
        if bins != BINS || !(88..=400).contains(&reach) || reach % 2 != 0 {
            return Err(WeightsError::NotWeights);
        }
        match (channels, filters) {
            (8, 16) => Ok(Self(Kind::Quick(Box::new(read(&floats, reach)?)))),
            (24, 32) => Ok(Self(Kind::Thorough(Box::new(read(&floats, reach)?)))),
            _ => Err(WeightsError::OtherNet { channels, filters }),
        }
    }

    /// Which of the two nets they are of.
    pub(crate) fn size(&self) -> Size {
        match &self.0 {
            Kind::Quick(_) => Size::Quick,
            Kind::Thorough(_) => Size::Thorough,
        }
    }

    /// Frames to each side of the middle.
    pub(crate) fn reach(&self) -> usize {
        match &self.0 {
            Kind::Quick(n) => n.reach,
            Kind::Thorough(n) => n.reach,
        }
    }

    /// On the widest vectors that the processor has.
    pub(crate) fn run(&self, window: &[f32], features: &mut Features, scratch: &mut Scratch, logits: &mut Vec<f32>) {
        match &self.0 {
            Kind::Quick(n) => {
                dispatch!(Level::new(), simd => n.run(simd, window, features, scratch, logits));
            }
            Kind::Thorough(n) => {
                dispatch!(Level::new(), simd => n.run(simd, window, features, scratch, logits));
            }
        }
    }
}

/// The floats in the order of the file.
fn read<const WIDE: usize, const FILTERS: usize, const V: usize, const FV: usize>(
    floats: &[f32],
    reach: usize,
) -> Result<Net<WIDE, FILTERS, V, FV>, WeightsError> {
    let width = channels(FILTERS);
    let mut place = 0;
    let mut take = |n: usize| {
        let part = floats.get(place..place + n).unwrap_or_default().to_vec();
        place += n;
        part
    };
    let filters = Filters {
        sound: take(TAPS * FILTERS),
        errors: PREDICTED.iter().map(|p| [take(p.taps * ERROR_FILTERS), take(p.taps * ERROR_FILTERS)]).collect(),
    };
    let mut layer = |inputs: usize, outputs: usize| Layer { weights: take(inputs * outputs), bias: take(outputs) };
    let slow = [layer(KERNEL * width, WIDE), layer(KERNEL * WIDE, WIDE), layer(KERNEL * WIDE, WIDE)];
    let first = layer(KERNEL * width, WIDE);
    let fast = [layer(KERNEL * WIDE, WIDE), layer(KERNEL * WIDE, WIDE), layer(KERNEL * WIDE, WIDE)];
    let (none, none_out) = (layer(WIDE, DECIDING), layer(DECIDING, 1));
    let (up, out) = (take(WIDE * WIDE), take(WIDE));
    if place != floats.len() {
        return Err(WeightsError::Length { found: floats.len(), expected: place });
    }
    Ok(Net { reach, filters, slow, first, up, fast, out, none, none_out })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Locator;
    use crate::features::window_samples;
    use takegauge_units::Millis;

    /// Two partials, and a third note with a bright beginning over them, 37 samples after the middle.
    fn window(samples: usize) -> Vec<f32> {
        (0..samples)
            .map(|i| {
                let (i, t) = (i as f64, i as f64 - (samples / 2 + 37) as f64);
                let new = if t > 0.0 {
                    0.5 * (-0.002 * t).exp() * (0.047 * t).sin() + 0.3 * (-0.02 * t).exp() * (0.9 * t).sin()
                } else {
                    0.0
                };
                // Without a little noise all would be predicted, and the rest be rounding.
                let noise = 0.004 * ((i * 7_919.0) % 1_013.0 / 1_013.0 - 0.5);
                (0.4 * (0.031 * i).sin() + 0.2 * (0.093 * i + 1.0).sin() + new + noise) as f32
            })
            .collect()
    }

    /// The logits that fit_ear.py (JAX) has of the same window and weights.
    #[test]
    fn as_the_net_was_fitted() {
        let quick = [-15.237, -16.041, -4.507, -3.767, -2.626, -1.142, -1.497, -6.0, -11.626, -5.554];
        let thorough = [-3.920, -4.258, 2.402, 4.533, 7.044, 7.942, 7.041, -0.364, -3.260, 2.062];
        for (size, want) in [(Size::Quick, quick), (Size::Thorough, thorough)] {
            let weights = Weights::built_in(size);
            let mut sound = window(window_samples(weights.reach()));
            let highest = sound.iter().fold(0.0f32, |m, x| m.max(x.abs()));
            sound.iter_mut().for_each(|x| *x /= highest);
            let (mut features, mut scratch, mut logits) = Default::default();
            weights.run(&sound, &mut features, &mut scratch, &mut logits);
            for (i, want) in [0, 20, 32, 33, 34, 35, 36, 40, 65, 66].into_iter().zip(want) {
                assert!((logits[i] - want).abs() < 0.02, "{size:?}, {i}: {} for {want}", logits[i]);
            }
        }
    }

    #[test]
    fn a_note_out_of_silence_is_found_at_every_rate_and_level() {
        for size in [Size::Quick, Size::Thorough] {
            for rate in [22_050.0, 24_000.0, 44_100.0, 96_000.0] {
                let mut locator = Locator::new(size, rate);
                for gain in [1e-3, 0.5] {
                    let begins = 0.2117 * rate;
                    let note = |t: f64| {
                        (-8.0 * t).exp() * (1..12).map(|k| (691.0 * f64::from(k) * t).sin() / f64::from(k)).sum::<f64>()
                    };
                    let at = |i: usize| (i as f64 - begins) / rate;
                    let sound: Vec<f32> = (0..rate as usize / 2)
                        .map(|i| if at(i) < 0.0 { 0.0 } else { (gain * note(at(i))) as f32 })
                        .collect();
                    for off_ms in [-9.0, 0.3, 6.0] {
                        let found = locator.locate(&sound, begins + off_ms * 1e-3 * rate, Millis(6.0));
                        let error_ms = 1e3 * (found.at - begins) / rate;
                        assert!(
                            (-0.1..0.5).contains(&error_ms) && found.attack > 0.9,
                            "{size:?} {rate}: {found:?}, off {error_ms}"
                        );
                    }
                }
            }
        }
    }

    #[test]
    fn silence_holds_no_attack_and_nothing_breaks() {
        for size in [Size::Quick, Size::Thorough] {
            let mut locator = Locator::new(size, 44_100.0);
            for sound in [&[][..], &[0.0; 9_000], &[f32::NAN; 9_000], &[f32::INFINITY; 9_000], &[1e-42; 9_000]] {
                for near in [0.0, 4_500.0, -1e12, f64::NAN] {
                    let found = locator.locate(sound, near, Millis(4.0));
                    assert!(found.at.is_finite() && found.sd.0.is_finite() && found.attack == 0.0, "{found:?}");
                }
            }
        }
    }

    #[test]
    fn bytes_that_are_no_weights() {
        let good = include_bytes!("../weights/quick.bin");
        assert_eq!(Weights::parse(b"").err(), Some(WeightsError::NotWeights));
        assert_eq!(Weights::parse(&good[..12]).err(), Some(WeightsError::NotWeights));
        let cut = Weights::parse(&good[..good.len() - 4]).err();
        assert!(matches!(cut, Some(WeightsError::Length { found, expected }) if found + 1 == expected), "{cut:?}");
        let mut other = good.to_vec();
        other[12] = 9;
        assert_eq!(Weights::parse(&other).err(), Some(WeightsError::OtherNet { channels: 9, filters: 16 }));
    }
}
