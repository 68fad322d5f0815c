//! From a performance to samples, in blocks: the strings, then the recording chain.

use crate::chain::Chain;
use crate::filter::Tone;
use crate::performance::{Event, Performance};
use crate::sound::{Build, NOTE_PEAK, Sound};
use crate::voice::Voice;
use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use takegauge_drill::Sounding;
use takegauge_units::{Decibels, SampleRate, Seconds};

/// A mono recording.
#[derive(Debug, Clone, PartialEq)]
pub struct Rendered {
    /// Full scale is 1; nothing is clipped.
    pub samples: Vec<f32>,
    /// The rate rendered: [`Sound::rate`] within 4 to 192 kHz.
    pub rate: SampleRate,
}

/// The whole take at once.
pub fn render(performance: &Performance, sound: &Sound) -> Rendered {
    let mut renderer = Renderer::new(performance, sound);
    let mut samples = Vec::with_capacity(renderer.left());
    while renderer.block(8_192, &mut samples) {}
    Rendered { samples, rate: renderer.rate() }
}

/// A take block by block, in memory that depends on the block and not on the take. The samples are the same, bit for
/// bit, whatever the blocks.
pub struct Renderer<'a> {
    events: std::iter::Peekable<std::slice::Iter<'a, Event>>,
    sound: Sound,
    build: Build,
    rate: f64,
    voices: Vec<Voice>,
    ticks: Vec<Tick>,
    tone: Tone,
    chain: Chain,
    now: usize,
    length: usize,
}

/// A voice may begin so long before its attack: the slowest release, and then some.
const EARLIEST_S: f64 = 0.040;
/// Blocks of any size are computed in pieces no longer than this.
const PIECE: usize = 16_384;

impl<'a> Renderer<'a> {
    /// At the take's start.
    pub fn new(performance: &'a Performance, sound: &Sound) -> Self {
        let rate = sound.rate_rendered();
        let build = sound.guitar.build();
        Self {
            events: performance.events.iter().peekable(),
            sound: sound.clone(),
            build,
            rate: rate.as_f64(),
            voices: Vec::new(),
            ticks: Vec::new(),
            tone: Tone::new(&build, rate.as_f64()),
            chain: Chain::new(performance, sound),
            now: 0,
            length: rate.samples_in(Seconds(performance.length.0.min(86_400.0))),
        }
    }

    /// The rate of the samples.
    pub fn rate(&self) -> SampleRate {
        self.sound.rate_rendered()
    }

    /// Samples still to come.
    pub fn left(&self) -> usize {
        self.length - self.now
    }

    /// Appends up to `count` samples to `out`; false where the take is over (or `count` is 0).
    pub fn block(&mut self, count: usize, out: &mut Vec<f32>) -> bool {
        let mut wanted = count.min(self.left());
        let some = wanted > 0;
        let mut piece = vec![0.0; wanted.min(PIECE)];
        while wanted > 0 {
            let n = wanted.min(PIECE);
            piece.truncate(n);
            piece.fill(0.0);
            self.piece(&mut piece);
            out.extend(piece.iter().map(|x| *x as f32));
            wanted -= n;
        }
        some
    }

    fn piece(&mut self, piece: &mut [f64]) {
        let from = self.now as i64;
        let until = (self.now + piece.len()) as f64 / self.rate + EARLIEST_S;
        while let Some(event) = self.events.next_if(|e| e.at.0 < until) {
            self.voices.extend(Voice::new(event, &self.build, &self.sound));
            if let (Some(level), Sounding::Picked) = (self.sound.pick_ticks, event.sounding) {
                self.ticks.push(Tick::new(event, level, self.rate));
            }
        }
        for v in &mut self.voices {
            v.add_to(piece, from);
        }
        self.voices.retain(|v| !v.over());
        for t in &mut self.ticks {
            t.add_to(piece, from);
        }
        self.ticks.retain(|t| t.left > 0);
        for x in piece.iter_mut() {
            *x = self.chain.run(self.tone.run(*x));
        }
        self.now += piece.len();
    }
}

/// The pick's touch on the string: a few tenths of a millisecond of noise.
struct Tick {
    rng: ChaCha8Rng,
    now: i64,
    left: usize,
    level: f64,
    fall: f64,
    last: f64,
}

impl Tick {
    fn new(event: &Event, level: Decibels, rate: f64) -> Self {
        let mut rng = ChaCha8Rng::seed_from_u64(u64::from(event.touch.grain) | 1 << 32);
        let vary = Decibels(6.0 * rng.random::<f64>() - 3.0);
        Self {
            now: ((event.at.0 - event.touch.contact.0 * 1e-3) * rate).round() as i64,
            left: (0.0015 * rate).ceil() as usize,
            level: NOTE_PEAK.amplitude() * Decibels(level.0.clamp(-60.0, 0.0) + vary.0).amplitude(),
            fall: (-1.0 / (0.0003 * rate)).exp(),
            last: 0.0,
            rng,
        }
    }

    fn add_to(&mut self, out: &mut [f64], from: i64) {
        let end = from + out.len() as i64;
        while self.now < end && self.left > 0 {
            let white = 2.0 * self.rng.random::<f64>() - 1.0;
            // The difference of neighbours takes the low end away: a touch has no thump.
            let x = self.level * 0.7 * (white - self.last);
            self.last = white;
            self.level *= self.fall;
            if let Some(slot) = usize::try_from(self.now - from).ok().and_then(|i| out.get_mut(i)) {
                *slot += x;
            }
            self.now += 1;
            self.left -= 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sound::{Guitar, rate};
    use crate::{Player, perform_grid, scenes};
    use takegauge_units::Millis;

    fn rms(x: &[f32]) -> f64 {
        (x.iter().map(|v| f64::from(*v).powi(2)).sum::<f64>() / x.len().max(1) as f64).sqrt()
    }

    #[test]
    fn every_scene_is_finite_heard_and_unclipped() {
        for name in scenes::names() {
            let (played, take) = scenes::by_name(&name).unwrap().render();
            let peak = take.samples.iter().fold(0.0f32, |m, x| m.max(x.abs()));
            assert!(take.samples.iter().all(|x| x.is_finite()), "{name}");
            assert!((0.2..1.0).contains(&peak), "{name}: {peak}");
            assert_eq!(take.samples.len(), take.rate.samples_in(played.length), "{name}");
        }
    }

    #[test]
    fn blocks_of_any_size_give_the_same_bits() {
        let mut scene = scenes::by_name("driven_ticks_soft").unwrap();
        scene.drill.repeats = 1;
        scene.sound.room = Some(Decibels(-6.0));
        scene.sound.click_bleed = Some(Decibels(-30.0));
        let (played, whole) = scene.render();
        assert_eq!(whole, scene.render().1);
        for size in [1, 777, 40_000] {
            let mut samples = Vec::new();
            let mut renderer = Renderer::new(&played, &scene.sound);
            while renderer.block(size, &mut samples) {}
            assert_eq!(renderer.left(), 0);
            assert!(samples == whole.samples, "blocks of {size}");
        }
    }

    #[test]
    fn an_empty_grid_is_silence_with_its_noise() {
        let drill = scenes::by_name("clean_slow").unwrap().drill;
        let played = perform_grid(&drill, &[], &Player::default());
        let take = render(&played, &Sound { noise: Some(Decibels(-60.0)), ..Sound::default() });
        assert_eq!(take.samples.len(), 66_150);
        assert!((Decibels::from_amplitude(rms(&take.samples)).0 + 60.0).abs() < 0.3);
        assert!(render(&Performance::default(), &Sound::default()).samples.is_empty());
    }

    #[test]
    fn what_is_added_is_as_loud_as_asked() {
        let empty = Performance { length: Seconds(2.0), ..Performance::default() };
        let quiet = Sound { noise: None, ..Sound::default() };
        let level = |sound: Sound| Decibels::from_amplitude(rms(&render(&empty, &sound).samples)).0;
        assert_eq!(level(quiet.clone()), -200.0);
        assert!((level(Sound { hum: Some(Decibels(-40.0)), ..quiet.clone() }) + 40.0).abs() < 0.1);
        let turned = Sound { noise: Some(Decibels(-50.0)), gain: Decibels(-10.0), ..quiet.clone() };
        assert!((level(turned) + 60.0).abs() < 0.2);
        let talking = Performance { pauses: vec![(Seconds(0.0), Seconds(2.0))], ..empty.clone() };
        let talk = render(&talking, &Sound { talk: Some(Decibels(-26.0)), ..quiet });
        let loud = Decibels::from_amplitude(rms(&talk.samples)).0;
        assert!((-38.0..-20.0).contains(&loud), "{loud}");
    }

    #[test]
    fn extreme_rates_and_levels_do_no_harm() {
        for (name, hz) in
            [("bass", 8_000), ("nine_strings", 192_000), ("clean_fast", 8_000), ("marks", 4_000), ("bass", 1)]
        {
            let mut scene = scenes::by_name(name).unwrap();
            scene.drill.repeats = 1;
            scene.sound = Sound {
                rate: rate(hz),
                guitar: Guitar::Acoustic,
                drive: Some(Decibels(f64::INFINITY)),
                room: Some(Decibels(f64::NAN)),
                echo: Some((Millis(f64::NAN), Decibels(0.0))),
                phone: true,
                cents: f64::NAN,
                ..scene.sound
            };
            let (_, take) = scene.render();
            assert_eq!(take.rate.hz(), hz.max(4_000));
            assert!(!take.samples.is_empty() && take.samples.iter().all(|x| x.is_finite()), "{name} {hz}");
        }
    }

    #[test]
    fn a_telephone_keeps_its_band_and_an_echo_comes_back() {
        let mut scene = scenes::by_name("clean_slow").unwrap();
        scene.drill.repeats = 1;
        scene.sound.echo = Some((Millis(10.0), Decibels(-6.0)));
        scene.sound.noise = None;
        let dry = Sound { echo: None, ..scene.sound.clone() };
        let (with, without) = (scene.render().1, render(&scene.perform(), &dry));
        let k = 40_000;
        let expected = f64::from(without.samples[k]) + 0.5011872 * f64::from(without.samples[k - 441]);
        assert!((f64::from(with.samples[k]) - expected).abs() < 1e-6);
        // Of the hum only what lies above 300 Hz is left.
        let empty = Performance { length: Seconds(2.0), ..Performance::default() };
        let hum = Sound { hum: Some(Decibels(-40.0)), phone: true, noise: None, ..Sound::default() };
        let left = Decibels::from_amplitude(rms(&render(&empty, &hum).samples)).0;
        assert!((-60.0..-48.0).contains(&left), "{left}");
    }
}
