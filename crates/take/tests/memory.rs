//! A take in memory is heard and scored as the same take in a file is.

#![allow(clippy::unwrap_used, clippy::panic)] // tests

use takegauge_audio::{AudioError, ChannelChoice, Samples, WavFormat, write_wav};
use takegauge_pluck::scenes;
use takegauge_take::{Click, OnsetsReport, Recording, Request, hear, score};
use takegauge_units::Seconds;

/// Left the playing, right nothing but a burst that is no click.
fn stereo() -> (takegauge_drill::Drill, u32, Vec<Vec<f32>>) {
    let scene = scenes::by_name("late_inside").unwrap();
    let (_, take) = scene.render();
    let quiet = vec![0.0; take.samples.len()];
    (scene.drill, take.rate.hz(), vec![take.samples, quiet])
}

#[test]
fn memory_and_file_come_to_the_same_report() {
    let (drill, rate, planes) = stereo();
    let dir = tempfile::tempdir().unwrap();
    let file = dir.path().join("take.wav");
    let woven: Vec<f32> = planes[0].iter().zip(&planes[1]).flat_map(|(l, r)| [*l, *r]).collect();
    let known = takegauge_units::SampleRate::new(rate).unwrap();
    write_wav(&file, known, 2, WavFormat::Float32, &woven).unwrap();
    let samples = Samples::new(&file, rate, planes).unwrap();
    for channel in [ChannelChoice::Auto, ChannelChoice::Mix, ChannelChoice::Left] {
        for click in [Click::None, Click::Start(Seconds(0.5))] {
            let scored = |take: Recording<'_>| {
                score(&Request { channel, click: click.clone(), ..Request::new(take, &drill) }, &()).unwrap()
            };
            assert_eq!(scored((&samples).into()), scored(file.as_path().into()));
        }
    }
    let heard = |take: Recording<'_>| OnsetsReport::of(&hear(take, ChannelChoice::Auto, &()).unwrap());
    assert_eq!(heard((&samples).into()), heard((&file).into()));
    assert!(heard((&samples).into()).onsets.len() > 100);
    assert!(matches!(hear(&samples, ChannelChoice::Number(3), &()), Err(e) if e.to_string().contains("has 2")));
}

#[test]
fn what_is_no_sound_is_refused() {
    let new = |rate, planes| Samples::new("array", rate, planes).unwrap_err();
    assert!(matches!(new(48_000, vec![]), AudioError::NoChannels { .. }));
    assert!(matches!(new(48_000, vec![vec![]]), AudioError::NoSamples { .. }));
    assert!(matches!(new(48_000, vec![vec![0.0], vec![]]), AudioError::NoSamples { .. }));
    assert!(matches!(new(48_000, vec![vec![0.0]; 65]), AudioError::TooMuch { .. }));
    assert!(matches!(new(7_999, vec![vec![0.0]]), AudioError::Rate { .. }));
}
