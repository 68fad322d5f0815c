//! `takegauge click`: a click to record to, exact to the sample, and the set-up's delay measured with one.

use crate::args::{BitsArg, ClickArgs};
use crate::commands::inputs::open_drill;
use crate::delays::Delays;
use crate::fault::{Fault, Outcome};
use crate::output;
use std::path::Path;
use takegauge_audio::{ChannelChoice, WavFormat, WavWriter};
use takegauge_click::{ClickOptions, ClickTrack, SilentBars, ladder_table};
use takegauge_drill::Drill;
use takegauge_exchange::export::click_midi;
use takegauge_pluck::sounded;
use takegauge_units::{Bpm, SampleRate, Seconds};

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
    if let Some(path) = &args.out {
        write(args, path, &drill, &track)?;
    }
    match (&args.loopback_check, &args.device) {
        (Some(take), Some(device)) => loopback(args, &track, take, device),
        _ => Ok(()),
    }
}

fn write(args: &ClickArgs, path: &Path, drill: &Drill, track: &ClickTrack) -> Outcome {
    let ending = path.extension().map(|e| e.to_string_lossy().to_ascii_lowercase()).unwrap_or_default();
    match ending.as_str() {
        "wav" => wav(args, path, drill, track)?,
        "mid" | "midi" if args.guide => {
            return Err(Fault::usage("--guide: guide tones are written to .wav")
                .advise("`takegauge drill export` writes the notes and a click as MIDI"));
        }
        "mid" | "midi" => {
            output::keep_what_is_there(path)?;
            output::write(path, &click_midi(track))?;
        }
        other => {
            return Err(Fault::usage(format!(
                "--out {}: a click is written as .wav or .mid, not {other:?}",
                path.display()
            )));
        }
    }
    if let Some(path) = &args.table {
        output::write(path, ladder_table(&track.steps).as_bytes())?;
    }
    let first = track.steps.first().map_or(0.0, |s| s.notes_from.0);
    output::print(&format!(
        "{}: {:.1} s; the drill starts at {first:.6} s. If you export the take from where the click starts, score it with --click-start {first:.6}\n",
        path.display(),
        track.length.0
    ))
}

/// The delay between a click written and the same click as the set-up recorded it.
fn loopback(args: &ClickArgs, track: &ClickTrack, take: &Path, device: &str) -> Outcome {
    let times: Vec<Seconds> = takegauge_take::clicks(take, ChannelChoice::Auto)?.into_iter().map(|c| c.0).collect();
    let delay = track.delay(&times).map_err(|e| Fault::not_scored(e).about(take.display()))?;
    let mut delays = Delays::open(args.delay_file.as_deref())?;
    let path = delays.keep(device, delay)?;
    output::print(&format!(
        "{device}: recorded {:.2} ms after it was sent (median of {} clicks of {}, scatter {:.2} ms). Kept in {}; score takes with --delay {device:?}\n",
        delay.median.0,
        delay.n,
        delay.of,
        delay.spread.0,
        path.display()
    ))
}

fn silent(args: &ClickArgs) -> Outcome<Option<SilentBars>> {
    let Some(text) = &args.silent else { return Ok(None) };
    let parts = text.split_once(':').and_then(|(a, b)| Some((a.trim().parse().ok()?, b.trim().parse().ok()?)));
    let (sounding, silent) = parts
        .ok_or_else(|| Fault::usage(format!("--silent {text}: give bars with and bars without the click, as 2:2")))?;
    Ok(Some(SilentBars { sounding, silent }))
}

fn wav(args: &ClickArgs, path: &Path, drill: &Drill, track: &ClickTrack) -> Outcome {
    let rate = SampleRate::new(args.rate).filter(|r| (8_000..=192_000).contains(&r.hz()));
    let rate = rate.ok_or_else(|| Fault::usage(format!("--rate {}: 8000 to 192000 are written", args.rate)))?;
    let format = match args.bits {
        BitsArg::B16 => WavFormat::Int16,
        BitsArg::B24 => WavFormat::Int24,
    };
    output::keep_what_is_there(path)?;
    let mut file = WavWriter::for_frames(path, rate, 1, format, track.samples(rate)).map_err(Fault::usage)?;
    sounded(drill, track, rate, args.guide, |piece| file.write(piece)).map_err(Fault::usage)?;
    file.finish().map_err(Fault::usage)
}
