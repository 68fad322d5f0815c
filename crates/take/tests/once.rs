//! A take is decoded once to listen and once to measure, whatever is made of it: bytes read, as the kernel counts them
//! for the whole process. Linux only, and one test, so that nothing else reads meanwhile.

#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::panic)] // tests

use std::cell::RefCell;
use std::ops::ControlFlow;
use std::path::Path;
use takegauge_audio::{AudioError, ChannelChoice, WavFormat, write_wav};
use takegauge_click::{ClickOptions, ClickTrack};
use takegauge_drill::Drill;
use takegauge_pluck::{Player, Sound, perform, render};
use takegauge_take::{Click, Heard, Pass, Progress, Request, TakeError, Tap, score, score_steps, score_with};
use takegauge_units::{Bpm, SampleRate};

const DRILL: &str = "name = \"Twos\"\ntempo_bpm = 120\nsteps_per_beat = 4\nbeats_per_bar = 4\nrepeats = 8\n\
    tuning = \"standard\"\nline = \"4:5 4:7 3:5 3:7 2:5 2:8 3:5 3:7\"\n";

fn bytes_read() -> u64 {
    let io = std::fs::read_to_string("/proc/self/io").unwrap();
    let line = io.lines().find_map(|l| l.strip_prefix("rchar: ")).unwrap();
    line.parse().unwrap()
}

/// How often the file was read, by bytes, while `work` ran.
fn times_read<T>(file: &Path, work: impl FnOnce() -> T) -> (f64, T) {
    let size = std::fs::metadata(file).unwrap().len();
    let before = bytes_read();
    let done = work();
    ((bytes_read() - before) as f64 / size as f64, done)
}

#[derive(Default)]
struct Told(RefCell<Vec<(Pass, u64)>>, Option<u64>);

impl Progress for Told {
    fn begin(&self, pass: Pass, _: Option<u64>) {
        self.0.borrow_mut().push((pass, 0));
    }
    fn advance(&self, samples: u64) -> ControlFlow<()> {
        let (_, read) = self.0.borrow_mut().last_mut().map(|p| (p.1 += samples, p.1)).unwrap();
        if self.1.is_some_and(|most| read > most) { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    }
}

#[derive(Default)]
struct Samples(Vec<f32>);

impl Tap for Samples {
    fn begin(&mut self, heard: &Heard) -> Result<(), AudioError> {
        assert!(heard.health.is_some() && self.0.is_empty());
        Ok(())
    }
    fn samples(&mut self, block: &[f32]) -> Result<(), AudioError> {
        self.0.extend_from_slice(block);
        Ok(())
    }
}

/// The drill played to a click at these tempos; left the playing, right the click.
fn to_a_click(tempos: &[f64], repeats: u32) -> (ClickTrack, Vec<f32>, Vec<f32>) {
    let drill = Drill::parse(DRILL, "drill.toml").unwrap();
    let tempos = tempos.iter().copied().map(Bpm).collect();
    let options = ClickOptions { tempos, repeats: Some(repeats), ..ClickOptions::default() };
    let track = ClickTrack::of(&drill, &options).unwrap();
    let rate = SampleRate::new(44_100).unwrap();
    let mut played = vec![0f32; track.samples(rate) as usize + 44_100];
    for step in &track.steps {
        let drill = Drill { tempo: step.tempo, repeats: step.repeats, ..drill.clone() };
        let take =
            render(&perform(&drill, &Player { lead_in: step.notes_from, ..Player::default() }), &Sound::default());
        played.iter_mut().zip(&take.samples).for_each(|(p, s)| *p += s);
    }
    let mut click = vec![0f32; played.len()];
    track.fill(rate, 0, &mut click);
    (track, played, click)
}

#[test]
fn a_take_is_read_twice_and_no_more() {
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("take.wav");
    let rate = SampleRate::new(44_100).unwrap();
    let drill = Drill::parse(DRILL, "drill.toml").unwrap();

    // Plain, with everything that can be had beside the report.
    let (_, played, click) = to_a_click(&[120.0], 8);
    write_wav(&file, rate, 1, WavFormat::Float32, &played).unwrap();
    let (told, mut tapped) = (Told::default(), Samples::default());
    let request = Request { waveform: true, ..Request::new(&file, &drill) };
    let (times, report) = times_read(&file, || score_with(&request, &told, &mut tapped).unwrap());
    assert!((1.9..2.1).contains(&times), "read {times} times");
    assert!(report.notes.iter().filter(|n| n.played_s.is_some()).count() > 60);
    assert_eq!(tapped.0, played);
    let whole = played.len() as u64;
    assert_eq!(*told.0.borrow(), [(Pass::Listening, whole), (Pass::Measuring, whole)]);

    // Stopped on the way.
    let told = Told(RefCell::default(), Some(whole / 4));
    let (times, stopped) = times_read(&file, || score(&request, &told).map(|_| ()));
    assert!(times < 0.5 && matches!(stopped, Err(TakeError::Stopped)), "read {times} times: {stopped:?}");

    // With the click on the other side: heard in the same pass as the playing.
    let both: Vec<f32> = played.iter().zip(&click).flat_map(|(p, c)| [*p, *c]).collect();
    write_wav(&file, rate, 2, WavFormat::Float32, &both).unwrap();
    let request = Request { click: Click::Channel(ChannelChoice::Right), ..Request::new(&file, &drill) };
    let (times, with_click) = times_read(&file, || score(&request, &()).unwrap());
    assert!((1.9..2.1).contains(&times), "read {times} times");
    assert_eq!(serde_json::to_value(&with_click.timebase).unwrap()["mode"], "click");

    // A ladder in one recording: once for all its steps.
    let (track, played, _) = to_a_click(&[100.0, 115.0, 130.0, 145.0], 4);
    write_wav(&file, rate, 1, WavFormat::Float32, &played).unwrap();
    let (times, scored) = times_read(&file, || score_steps(&Request::new(&file, &drill), &track.steps, &()).unwrap());
    assert!((1.9..2.1).contains(&times), "read {times} times");
    assert_eq!((scored.scored.len(), scored.left_out.len()), (4, 0));
}
