//! What the checks against outside libraries drive: drills out of and into other formats, and their grid as JSON.
//!
//!     exchange list                  the names of the built-in drills
//!     exchange grid DRILL            the note grid as JSON (DRILL: a file or a built-in drill's name)
//!     exchange export DRILL FILE     the drill in the format of FILE's ending; what is lost goes to standard error
//!     exchange import FILE [BPM]     FILE as a drill file on standard output; what is lost goes to standard error

use std::process::ExitCode;
use takegauge_drill::{Drill, DrillError, built_in, export, import, named};
use takegauge_units::Bpm;

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let words: Vec<&str> = arguments.iter().map(String::as_str).collect();
    match run(&words) {
        Ok(()) => ExitCode::SUCCESS,
        Err(e) => {
            eprintln!("{e}");
            ExitCode::FAILURE
        }
    }
}

fn run(words: &[&str]) -> Result<(), Box<dyn std::error::Error>> {
    match words {
        ["list"] => built_in().for_each(|b| println!("{}", b.name)),
        ["grid", drill] => println!("{}", grid(&open(drill)?)),
        ["export", drill, file] => {
            let format = export::Format::of_name(file).ok_or("no format has that ending")?;
            let exported = export::write(&open(drill)?, format);
            std::fs::write(file, &exported.bytes)?;
            exported.losses.iter().for_each(|l| eprintln!("{l}"));
        }
        ["import", file, rest @ ..] => {
            let tempo = rest.first().map(|t| t.parse()).transpose()?.map(Bpm);
            let imported = import::read(file, &import::Options { tempo, ..Default::default() })?;
            print!("{}", imported.drill.to_toml());
            imported.losses.iter().for_each(|l| eprintln!("{l}"));
        }
        _ => return Err("list | grid DRILL | export DRILL FILE | import FILE [BPM]".into()),
    }
    Ok(())
}

fn open(drill: &str) -> Result<Drill, DrillError> {
    match named(drill) {
        Some(drill) => Ok(drill),
        None => Drill::read(drill),
    }
}

fn grid(drill: &Drill) -> serde_json::Value {
    let notes: Vec<_> = drill
        .grid()
        .iter()
        .map(|n| {
            serde_json::json!({
                "repeat": n.repeat, "expected_s": n.expected.0, "lasts_s": n.lasts.0, "string": n.string(), "fret": n.fret(),
                "midi": n.keys.iter().map(|k| k.0).collect::<Vec<_>>(), "stroke": n.stroke,
            })
        })
        .collect();
    serde_json::json!({ "repeats": drill.repeats, "tempo_bpm": drill.tempo.0, "notes": notes })
}
