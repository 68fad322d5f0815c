//! `takegauge demo`: a built-in drill played with known faults, scored, and the faults beside the report.

use crate::args::{Common, DemoArgs};
use crate::commands::beside::{Beside, html};
use crate::fault::{Fault, Outcome};
use crate::output::{self, TakeBar, text_style};
use takegauge_audio::{WavFormat, WavWriter};
use takegauge_pluck::{Renderer, demo};
use takegauge_report::{Style, json, score_text};
use takegauge_take::{Request, score_with};

pub(crate) fn run(args: &DemoArgs, common: &Common) -> Outcome {
    let out = &args.out;
    output::make_folder(out)?;
    let mut scene = demo::scene().map_err(Fault::usage)?;
    scene.player.seed = scene.player.seed.wrapping_add(args.seed).wrapping_sub(1);
    let (take, drill) = (out.join("take.wav"), out.join("drill.toml"));
    for path in [&take, &drill] {
        output::keep_what_is_there(path)?;
    }
    output::write(&drill, demo::DRILL.as_bytes())?;
    play(&scene, &take, common.quiet)?;
    let request = Request { seed: args.seed, waveform: true, ..Request::new(&take, &scene.drill) };
    let bar = TakeBar::new(common.quiet);
    let mut beside = Beside::with_sound();
    let report = score_with(&request, &bar, &mut beside)?;
    bar.finish();
    output::write(&out.join("score.json"), json(&report).as_bytes())?;
    let sound = beside.finish(&report)?;
    html(&out.join("report.html"), &report, sound)?;
    let style = Style { every_group: common.verbose, ..text_style() };
    output::print(&score_text(&report, style))?;
    let faults: String = demo::faults().iter().map(|f| style.item(f)).collect();
    output::print(&format!(
        "\nWhat was put into this take on purpose, to hold the report against\n{faults}\nWritten to {}: take.wav (listen to it), drill.toml, score.json, report.html (open it in a browser)\n",
        out.display()
    ))
}

fn play(scene: &takegauge_pluck::scenes::Scene, path: &std::path::Path, quiet: bool) -> Outcome {
    let performance = scene.perform();
    let mut renderer = Renderer::new(&performance, &scene.sound);
    let bar = output::progress(renderer.left() as u64, "playing", quiet);
    let mut file = WavWriter::create(path, renderer.rate(), 1, WavFormat::Int16).map_err(Fault::usage)?;
    let mut block = Vec::new();
    loop {
        block.clear();
        let more = renderer.block(16_384, &mut block);
        file.write(&block).map_err(Fault::usage)?;
        bar.inc(block.len() as u64);
        if !more {
            break;
        }
    }
    bar.finish_and_clear();
    file.finish().map_err(Fault::usage)
}
