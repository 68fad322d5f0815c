//! Recording health on sounds with known faults; a plain take raises none.

#![allow(clippy::unwrap_used, clippy::panic)] // helpers of tests, which clippy does not count as tests

use rand::{RngExt, SeedableRng};
use takegauge_audio::{Health, HealthMeter, ProblemKind};
use takegauge_units::SampleRate;

const RATE: u32 = 44_100;

/// Ten seconds of plucked notes of changing pitch, unevenly spaced, over a hiss at -80 dBFS.
fn take() -> Vec<f32> {
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(5);
    let mut x: Vec<f32> = (0..10 * RATE).map(|_| (rng.random::<f32>() - 0.5) * 3.4e-4).collect();
    let mut at = 20_000usize;
    while at + 12_000 < x.len() - 20_000 {
        let hz = 110.0 * 2f64.powf(f64::from(rng.random_range(0..24)) / 12.0);
        for i in 0..11_000 {
            let t = i as f64 / f64::from(RATE);
            let partials = (1..10).map(|k| (std::f64::consts::TAU * hz * f64::from(k) * t).sin() / f64::from(k));
            x[at + i] += (0.22 * (-12.0 * t).exp() * partials.sum::<f64>()) as f32;
        }
        at += rng.random_range(5500..9500);
    }
    x
}

fn health_in_blocks(x: &[f32], block: usize) -> Health {
    let mut meter = HealthMeter::new(SampleRate::new(RATE).unwrap());
    x.chunks(block).for_each(|b| meter.push(b));
    meter.finish(0)
}

fn kinds(x: &[f32]) -> Vec<ProblemKind> {
    health_in_blocks(x, 1024).problems.iter().map(|p| p.kind).collect()
}

fn changed(f: impl Fn(usize, f32) -> f32) -> Vec<f32> {
    take().iter().enumerate().map(|(i, x)| f(i, *x)).collect()
}

#[test]
fn a_plain_take_raises_nothing() {
    let h = health_in_blocks(&take(), 1024);
    assert_eq!(h.problems, []);
    assert!(h.hiss_dbfs.is_some_and(|d| (d + 80.0).abs() < 2.0), "{h:?}");
    assert!((h.duration_s - 10.0).abs() < 1e-9);
}

#[test]
fn the_block_size_changes_nothing_but_rounding() {
    let x = take();
    let (a, b) = (health_in_blocks(&x, 1), health_in_blocks(&x, 4099));
    assert_eq!(
        (a.hiss_dbfs, a.level_dbfs, a.crest_db, a.peak_dbfs),
        (b.hiss_dbfs, b.level_dbfs, b.crest_db, b.peak_dbfs)
    );
    assert!((a.rms_dbfs - b.rms_dbfs).abs() < 1e-4);
    assert_eq!(a.problems, b.problems);
}

#[test]
fn each_fault_is_found_and_no_other() {
    let tau = std::f64::consts::TAU;
    let peak = take().iter().fold(0.0f32, |a, x| a.max(x.abs()));
    assert_eq!(kinds(&changed(|_, x| (1.3 * x / peak).clamp(-1.0, 1.0))), [ProblemKind::Clipped], "at full scale");
    assert_eq!(kinds(&changed(|_, x| x.clamp(-0.75 * peak, 0.75 * peak))), [ProblemKind::Clipped], "turned down after");
    assert_eq!(kinds(&changed(|_, x| x + 0.03)), [ProblemKind::DcOffset]);
    let hum = |hz: f64| move |i: usize| (0.006 * (tau * hz * i as f64 / f64::from(RATE)).sin()) as f32;
    for mains in [50.0, 60.0] {
        let x = changed(|i, x| x + hum(mains)(i) + hum(2.0 * mains)(i) + hum(3.0 * mains)(i));
        let h = health_in_blocks(&x, 1024);
        assert_eq!(h.problems.iter().map(|p| p.kind).collect::<Vec<_>>(), [ProblemKind::Hum]);
        assert_eq!(h.hum_hz, Some(mains));
        // Three sines of 0.006: 10 log10(3 * 0.006^2 / 2).
        assert!((h.hum_dbfs.unwrap() + 42.7).abs() < 3.0, "{h:?}");
    }
    let mut rng = rand_chacha::ChaCha8Rng::seed_from_u64(9);
    let noisy: Vec<f32> = take().iter().map(|x| x + (rng.random::<f32>() - 0.5) * 0.02).collect();
    assert_eq!(kinds(&noisy), [ProblemKind::Noise]);
    assert_eq!(kinds(&changed(|_, x| x * 0.01))[..], [ProblemKind::Quiet]);
    assert_eq!(kinds(&changed(|_, x| x * 1e-4)), [ProblemKind::Silent]);
    assert_eq!(kinds(&[]), [ProblemKind::Silent]);
}

#[test]
fn a_delay_effect_and_a_cut_are_found_where_they_are() {
    let mut x = take();
    for i in 15_435..x.len() {
        x[i] += 0.4 * x[i - 15_435];
    }
    let h = health_in_blocks(&x, 1024);
    assert!(h.echo_ms.is_some_and(|ms| (ms - 350.0).abs() < 1.0), "{h:?}");

    let mut x = take();
    let cut = 5 * RATE as usize + (0..4000).find(|i| x[5 * RATE as usize + i].abs() > 0.05).unwrap() + 1;
    x[cut..cut + 8000].fill(0.0);
    let h = health_in_blocks(&x, 1024);
    assert_eq!(h.hard_cuts, 1);
    assert!((h.first_hard_cut_s.unwrap() - cut as f64 / f64::from(RATE)).abs() < 0.02);
}

#[test]
fn drive_is_told_from_a_plain_guitar() {
    let h = health_in_blocks(&changed(|_, x| 0.5 * (40.0 * x).tanh()), 1024);
    assert!(h.limited_or_driven, "{h:?}");
    assert!(!health_in_blocks(&take(), 1024).limited_or_driven);
}

#[test]
fn json_holds_finite_numbers_under_names_with_units() {
    for x in [take(), vec![0.0; 5000], Vec::new(), vec![1.0; 3]] {
        let h = health_in_blocks(&x, 1024);
        let json = serde_json::to_string(&h).unwrap();
        assert!(json.contains("\"peak_dbfs\":") && json.contains("\"signal_to_noise_db\":"));
        assert_eq!(serde_json::from_str::<serde_json::Value>(&json).unwrap()["non_finite_samples"], 0);
        assert!([h.peak_dbfs, h.rms_dbfs, h.dc_offset, h.near_peak_share].iter().all(|v| v.is_finite()));
    }
}
