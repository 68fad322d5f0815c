//! Writes the takes of `test-audio/`: `cargo run --release -p takegauge-pluck --example make_test_audio -- test-audio`.
//! Each take is NAME.flac with NAME.toml (its drill) and NAME.json (its answers).

use std::error::Error;
use std::path::Path;
use takegauge_pluck::answers::Answers;
use takegauge_pluck::scenes::{self, Scene};

/// Small, and different from each other: a fault of time, mistakes, several passes, two kinds of poor recording, a
/// ladder's two ends.
const TAKES: [&str; 8] = [
    "late_inside",
    "mixed_errors",
    "smear_one_pair",
    "restarts",
    "driven_ticks_soft",
    "acoustic_room",
    "ladder_140",
    "ladder_220",
];

fn main() -> Result<(), Box<dyn Error>> {
    let folder = std::env::args().nth(1).ok_or("usage: make_test_audio FOLDER")?;
    for name in TAKES {
        let scene = scenes::by_name(name).ok_or("no such scene")?;
        write(&scene, &Path::new(&folder).join(name))?;
    }
    Ok(())
}

fn write(scene: &Scene, stem: &Path) -> Result<(), Box<dyn Error>> {
    let (played, take) = scene.render();
    let mut encoder = takegauge_audio::SoundEncoder::new(take.rate)?;
    encoder.push(&take.samples)?;
    std::io::copy(&mut encoder.finish()?.reader()?, &mut std::fs::File::create(stem.with_extension("flac"))?)?;
    std::fs::write(stem.with_extension("toml"), scene.drill.to_toml())?;
    let answers = Answers::of(scene, &played);
    let mut json = serde_json::to_string(&answers)?.replace("},{\"pass\"", "},\n{\"pass\"");
    json.push('\n');
    std::fs::write(stem.with_extension("json"), json)?;
    Ok(())
}
