//! Two sounds of one playing are laid over each other; two playings of one drill are not. reports/camera.md has more.

mod pairs;

use pairs::{Filming, RATE_HZ, film, narrow, scene, take};
use takegauge_camera::{Narrow, NoMatch, match_sounds};
use takegauge_units::{SampleRate, Seconds};

const FILMING: Filming =
    Filming { offset_s: 3.7, drift_ppm: 60.0, ends_s: f64::MAX, snr_db: 10.0, hall_db: 0.0, phone: true };

#[test]
fn a_film_in_a_hall_with_another_clock_is_placed_and_another_take_refused() {
    for (seed, filming) in [(1, FILMING), (2, Filming { offset_s: -6.2, drift_ppm: -90.0, ..FILMING })] {
        let (drill, sound) = scene(seed, 30.0);
        let (this, other) = (take(&drill, &sound, 100 + seed), take(&drill, &sound, 200 + seed));
        let heard = narrow(&film(&this, &filming, seed));
        let clocks = match_sounds(&narrow(&this), &heard).unwrap();
        let off = clocks.film_time(Seconds(15.0)).0 - (filming.offset_s + 15.0 * (1.0 + 1e-6 * filming.drift_ppm));
        assert!(off.abs() < 1e-3, "{seed}: {off} s off: {clocks:?}");
        assert!((clocks.drift_ppm.value - filming.drift_ppm).abs() < 12.0, "{clocks:?}");
        assert!(clocks.drift_ppm.interval.low < clocks.drift_ppm.interval.high);
        let refused = match_sounds(&narrow(&other), &heard).unwrap_err();
        assert!(matches!(refused, NoMatch::OtherPlaying { .. }), "{refused:?}");
        assert!(refused.to_string().contains("not this playing"));
    }
}

#[test]
fn a_sound_is_itself_whole_cut_or_turned_over() {
    let (drill, sound) = scene(5, 20.0);
    let whole = take(&drill, &sound, 5);
    let same = match_sounds(&narrow(&whole), &narrow(&whole)).unwrap();
    // What interpolating between samples leaves: a hundredth of a sample and, over 20 s, 2 us.
    assert!(same.offset_s.value.abs() < 1e-6 && same.drift_ppm.value.abs() < 0.1, "{same:?}");
    assert_eq!(same.agree, same.windows);
    let cut = RATE_HZ as usize * 4;
    let turned: Vec<f32> = whole[cut..].iter().map(|x| -0.01 * x).collect();
    for (take, film, offset) in [(&whole, &turned, -4.0), (&turned, &whole, 4.0)] {
        let clocks = match_sounds(&narrow(take), &narrow(film)).unwrap();
        assert!((clocks.offset_s.value - offset).abs() < 1e-4, "{clocks:?}");
        assert!((clocks.covers.1.0 - clocks.covers.0.0 - (whole.len() - cut) as f64 / f64::from(RATE_HZ)).abs() < 0.01);
    }
}

#[test]
fn what_cannot_be_matched_is_said() {
    let rate = SampleRate::new(8_000).unwrap();
    let tone: Vec<f32> = (0..80_000).map(|i| (0.1 * f64::from(i)).sin() as f32).collect();
    let (short, silent, tone) =
        (Narrow::of(&tone[..8_000], rate), Narrow::of(&[0.0; 80_000], rate), Narrow::of(&tone, rate));
    assert!(matches!(match_sounds(&tone, &short), Err(NoMatch::TooShort { which: "the film's sound", .. })));
    assert!(matches!(match_sounds(&short, &tone), Err(NoMatch::TooShort { which: "the take", .. })));
    assert!(matches!(match_sounds(&tone, &silent), Err(NoMatch::Silent { which: "the film's sound" })));
    let noise = |seed| {
        let mut rng = takegauge_stats::Seeded::new(seed);
        Narrow::of(&(0..160_000).map(|_| 0.1 * rng.normal() as f32).collect::<Vec<_>>(), rate)
    };
    assert!(matches!(match_sounds(&noise(1), &noise(2)), Err(NoMatch::OtherPlaying { .. })));
}
