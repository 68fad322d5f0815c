//! What a listener promises: the same attacks whatever the blocks, the level or the silence before; and no input makes
//! it stumble. How well it hears is held against the string model in `string_model.rs`.
#![allow(clippy::unwrap_used, clippy::panic)]

mod common;

use common::{plucks, scale};
use proptest::prelude::*;
use takegauge_listen::Listener;
use takegauge_units::{Attack, SampleRate};

fn hear(rate: u32, samples: &[f32], block: usize) -> Vec<Attack> {
    let mut listener = Listener::new(SampleRate::new(rate).unwrap());
    for b in samples.chunks(block.max(1)) {
        listener.push(b);
    }
    listener.finish()
}

fn seconds(attacks: &[Attack], rate: u32) -> Vec<f64> {
    attacks.iter().map(|a| a.at.seconds(SampleRate::new(rate).unwrap()).0).collect()
}

#[test]
fn a_note_cut_at_its_beginning_is_found() {
    let mut notes = scale(8, 0.2);
    notes.iter_mut().for_each(|n| n.0 -= 0.5);
    let times = seconds(&hear(44_100, &plucks(44_100.0, 2.0, &notes), 4096), 44_100);
    assert!(times.len() >= 7, "{times:?}");
    assert!(times[0] < 1e-3, "{times:?}");
}

#[test]
fn noise_and_hum_alone_hold_no_attacks() {
    let mut state = 1u64;
    let mut noise = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as f32 / (1u64 << 30) as f32 - 1.0
    };
    let hum = |i: usize| (std::f64::consts::TAU * 50.0 * i as f64 / 44_100.0).sin() as f32;
    let sound: Vec<f32> = (0..44_100 * 6).map(|i| 0.01 * noise() + 0.1 * hum(i)).collect();
    let heard = hear(44_100, &sound, 4096);
    assert!(heard.len() <= 1, "{:?}", seconds(&heard, 44_100));
}

#[test]
fn no_input_makes_it_stumble() {
    for rate in [1u32, 8_000, 44_100, 192_000, 1_000_000] {
        let n = 20_000;
        let inputs: [Vec<f32>; 7] = [
            vec![],
            vec![0.5],
            vec![0.0; n],
            vec![0.7; n],
            vec![f32::NAN; n],
            (0..n).map(|i| if i % 2 == 0 { f32::MAX } else { f32::MIN }).collect(),
            (0..n).map(|i| if i == n / 2 { f32::INFINITY } else { 1e-40 }).collect(),
        ];
        for (k, input) in inputs.iter().enumerate() {
            for a in hear(rate, input, 777) {
                let fine = a.at.fraction().is_finite() && a.uncertainty.0.is_finite() && a.strength.is_finite();
                assert!(fine && a.level.0.is_finite(), "input {k} at {rate} Hz: {a:?}");
                assert!(a.at.sample() <= input.len() as u64, "input {k} at {rate} Hz");
            }
        }
    }
}

/// A first note that begins a little after the recording and is softer than the rest: what becomes of it counts, and
/// must have arrived before it is looked at.
#[test]
fn the_first_sound_is_heard_alike_in_small_blocks() {
    let mut notes = scale(8, 0.2);
    notes.iter_mut().for_each(|n| n.0 -= 0.475);
    let mut sound = plucks(44_100.0, 2.0, &notes);
    sound[..6_000].iter_mut().for_each(|x| *x *= 0.35);
    sound[0] = 1e-6;
    let whole = hear(44_100, &sound, sound.len());
    assert!((seconds(&whole, 44_100)[0] - 0.025).abs() < 2e-3, "{:?}", seconds(&whole, 44_100));
    assert_eq!(hear(44_100, &sound, 64), whole);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    /// The answer does not depend on how the take is cut into blocks: bit-equal.
    #[test]
    fn blocks_change_nothing(block in 1usize..20_000, step in 0.06f64..0.2) {
        let sound = plucks(44_100.0, 2.5, &scale(10, step));
        prop_assert_eq!(hear(44_100, &sound, block), hear(44_100, &sound, 4096));
    }

    /// Silence before the take moves every attack by just that much: exactly for whole steps of the
    /// spectrum (224 samples at 44.1 kHz).
    #[test]
    fn silence_before_only_shifts(steps in 1usize..150, step in 0.06f64..0.2) {
        let sound = plucks(44_100.0, 2.5, &scale(10, step));
        let plain = hear(44_100, &sound, 4096);
        for by in [steps * 224] {
            let mut late = vec![0.0; by];
            late.extend(&sound);
            let shifted = hear(44_100, &late, 4096);
            prop_assert_eq!(shifted.len(), plain.len());
            for (s, p) in shifted.iter().zip(&plain) {
                let moved = (s.at.sample() - p.at.sample()) as f64 + s.at.fraction() - p.at.fraction() - by as f64;
                prop_assert!(moved.abs() <= 1e-6, "{moved} samples off after a shift by {by}");
            }
        }
    }

    /// From -30 to +12 dB the same attacks within 0.02 ms.
    #[test]
    fn level_changes_only_the_level(db in -30.0f32..12.0, step in 0.06f64..0.2) {
        let sound = plucks(44_100.0, 2.5, &scale(10, step));
        let gain = 10f32.powf(db / 20.0);
        let scaled: Vec<f32> = sound.iter().map(|x| x * gain).collect();
        let (plain, loud) = (hear(44_100, &sound, 4096), hear(44_100, &scaled, 4096));
        prop_assert_eq!(plain.len(), loud.len());
        for (p, l) in seconds(&plain, 44_100).iter().zip(seconds(&loud, 44_100)) {
            prop_assert!((p - l).abs() < 2e-5, "{p} {l}");
        }
        for (p, l) in plain.iter().zip(&loud) {
            prop_assert!((l.level.0 - p.level.0 - f64::from(db)).abs() < 0.01);
        }
    }
}
