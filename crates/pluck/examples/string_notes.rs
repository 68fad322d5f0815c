//! Writes single notes of drawn guitars, STRING_MIDI_LAYER_TAKE.flac in a folder a guitar, for fitting and judging the
//! ear on instruments of its own: `cargo run --release -p takegauge-pluck --example string_notes -- OUT GUITARS SEED`.
//! Each note begins 50 ms into its file and lasts a second; layer 0 is soft, 1 loud. The same seed, the same notes.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use std::error::Error;
use std::io::Read;
use std::path::Path;
use takegauge_drill::Sounding;
use takegauge_pluck::{Damping, Event, Guitar, Performance, Sound, Touch, render};
use takegauge_units::{Decibels, Hertz, Millis, SampleRate, Seconds};

const OPEN_KEYS: [u8; 6] = [64, 59, 55, 50, 45, 40];
const FRETS: [u8; 5] = [0, 4, 8, 12, 16];
const BEGINS_S: f64 = 0.05;
const LASTS_S: f64 = 1.0;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let [folder, guitars, seed] = words.as_slice() else { return Err("usage: string_notes OUT GUITARS SEED".into()) };
    let (guitars, seed): (u32, u32) = (guitars.parse()?, seed.parse()?);
    for g in 0..guitars {
        let out = Path::new(folder).join(format!("string{seed}-{g:03}"));
        std::fs::create_dir_all(&out)?;
        let mut rng = ChaCha8Rng::seed_from_u64(u64::from(seed) << 32 | u64::from(g));
        let guitar = Guitar::Drawn(rng.random());
        // A guitar that is always played with the palm on the bridge, now and then.
        let muted = rng.random::<f64>() < 0.2;
        let bright = 1.4 * rng.random::<f64>() - 0.7;
        for (string, open) in (1u8..).zip(OPEN_KEYS) {
            for fret in FRETS {
                for layer in 0..2u8 {
                    let touch = touch(&mut rng, bright, layer);
                    let key = open + fret;
                    let event = event(string, key, muted, touch);
                    let path = out.join(format!("{string}_{key}_{layer}_0.flac"));
                    write(&path, guitar, event)?;
                }
            }
        }
    }
    Ok(())
}

fn touch(rng: &mut ChaCha8Rng, bright: f64, layer: u8) -> Touch {
    let mut between = |low: f64, high: f64| low + (high - low) * rng.random::<f64>();
    Touch {
        level: Decibels(if layer == 0 { -8.0 } else { 0.0 }),
        release: Millis(2f64.powf(between(-2.5, 1.2))),
        place: between(0.05, 0.3),
        brightness: (bright + between(-0.3, 0.3) - if layer == 0 { 0.2 } else { 0.0 }).clamp(-1.0, 1.0),
        contact: Millis(0.0),
        grain: between(0.0, 4e9) as u32,
    }
}

fn event(string: u8, key: u8, palm_muted: bool, touch: Touch) -> Event {
    let end = Damping { down_20_db: Seconds(BEGINS_S + LASTS_S), fall: Seconds(0.02) };
    Event {
        at: Seconds(BEGINS_S),
        string,
        frequency: Hertz(440.0 * 2f64.powf((f64::from(key) - 69.0) / 12.0)),
        sounding: Sounding::Picked,
        dead: false,
        palm_muted,
        touch,
        hand_damps: end,
        pick_damps: None,
    }
}

fn write(path: &Path, guitar: Guitar, event: Event) -> Result<(), Box<dyn Error>> {
    let played = Performance {
        events: vec![event],
        length: Seconds(BEGINS_S + LASTS_S),
        tempo_factor: 1.0,
        ..Default::default()
    };
    let rate = SampleRate::new(44_100).ok_or("no such rate")?;
    let sound = Sound { rate, guitar, noise: None, ..Sound::default() };
    let take = render(&played, &sound);
    let mut encoder = takegauge_audio::SoundEncoder::new(take.rate)?;
    encoder.push(&take.samples)?;
    let mut bytes = Vec::new();
    encoder.finish()?.reader()?.read_to_end(&mut bytes)?;
    std::fs::write(path, bytes)?;
    Ok(())
}
