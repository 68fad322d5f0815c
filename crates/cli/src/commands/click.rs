//! `takegauge click`: a click to record to, exact to the sample.

use crate::args::{BitsArg, ClickArgs};
use crate::commands::score::open_drill;
use crate::fault::{Fault, Outcome};
use crate::output;
use takegauge_audio::{WavFormat, WavWriter};
use takegauge_drill::click::{ClickOptions, ClickTrack, SilentBars, ladder_table};
use takegauge_units::{Bpm, SampleRate};

pub(crate) fn run(args: &ClickArgs) -> Outcome {
    let drill = open_drill(&args.drill)?;
    let options = ClickOptions {
        tempos: args.tempo.iter().map(|t| Bpm(*t)).collect(),
        repeats: args.repeats,
        count_in_bars: args.count_in,
        clicks_per_beat: args.per_beat,
        silent: silent(args)?,
        rest_bars: args.rest_bars,
    };
    let track = ClickTrack::of(&drill, &options).map_err(Fault::usage)?;
    let ending = args.out.extension().map(|e| e.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
    match ending.as_str() {
        "wav" => wav(args, &track)?,
        "mid" | "midi" => output::write(&args.out, &track.midi())?,
        other => {
            return Err(Fault::usage(format!(
                "--out {}: a click is written as .wav or .mid, not {other:?}",
                args.out.display()
            )));
        }
    }
    if let Some(path) = &args.table {
        output::write(path, ladder_table(&track.steps).as_bytes())?;
    }
    let first = track.steps.first().map_or(0.0, |s| s.notes_from.0);
    output::print(&format!(
        "{}: {:.1} s; the drill starts at {first:.6} s. If you export the take from where the click starts, score it with --click-start {first:.6}\n",
        args.out.display(),
        track.length.0
    ))
}

fn silent(args: &ClickArgs) -> Outcome<Option<SilentBars>> {
    let Some(text) = &args.silent else { return Ok(None) };
    let parts = text.split_once(':').and_then(|(a, b)| Some((a.trim().parse().ok()?, b.trim().parse().ok()?)));
    let (sounding, silent) = parts
        .ok_or_else(|| Fault::usage(format!("--silent {text}: give bars with and bars without the click, as 2:2")))?;
    Ok(Some(SilentBars { sounding, silent }))
}

fn wav(args: &ClickArgs, track: &ClickTrack) -> Outcome {
    let rate = SampleRate::new(args.rate).filter(|r| (8_000..=192_000).contains(&r.hz()));
    let rate = rate.ok_or_else(|| Fault::usage(format!("--rate {}: 8000 to 192000 are written", args.rate)))?;
    let format = match args.bits {
        BitsArg::B16 => WavFormat::Int16,
        BitsArg::B24 => WavFormat::Int24,
    };
    let mut file = WavWriter::create(&args.out, rate, 1, format).map_err(Fault::usage)?;
    let mut block = vec![0.0_f32; 65_536];
    let (mut at, end) = (0, track.samples(rate));
    while at < end {
        let n = (end - at).min(block.len() as u64) as usize;
        let piece = &mut block[..n];
        track.fill(rate, at, piece);
        file.write(piece).map_err(Fault::usage)?;
        at += n as u64;
    }
    file.finish().map_err(Fault::usage)
}
