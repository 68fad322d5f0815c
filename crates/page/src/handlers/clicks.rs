//! Clicks as sound, and drills as files.

use crate::choice::DrillChoice;
use crate::click::{self, Wanted};
use crate::sound;
use crate::state::App;
use crate::trouble::Trouble;
use crate::upload::tempo;
use crate::work::blocking;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderName, HeaderValue, header};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use std::sync::Arc;
use takegauge_click::ClickTrack;
use takegauge_drill::Drill;
use takegauge_units::SampleRate;

/// What a click is asked for with.
#[derive(Debug, Deserialize)]
pub(crate) struct Asked {
    drill: String,
    #[serde(default)]
    tempo: String,
    count_in: Option<u8>,
    per_beat: Option<u8>,
    /// The drill's notes too, where there is anything.
    #[serde(default)]
    guide: String,
    rate: Option<u32>,
    /// To a file, where there is anything.
    #[serde(default)]
    save: String,
}

/// Samples a second as asked for; those of most recordings where nothing was.
fn rate(asked: Option<u32>) -> Result<SampleRate, Trouble> {
    let rate = SampleRate::new(asked.unwrap_or(48_000)).filter(|r| (8_000..=192_000).contains(&r.hz()));
    rate.ok_or_else(|| Trouble::Wrong("A click has 8000 to 192000 samples a second.".into()))
}

pub(crate) async fn of_drill(State(app): State<Arc<App>>, Query(asked): Query<Asked>) -> Result<Response, Trouble> {
    let drill = DrillChoice::read(&asked.drill)?.drill(&app).await?;
    let wanted = Wanted {
        tempo: tempo(&asked.tempo)?,
        count_in_bars: asked.count_in.unwrap_or(1),
        clicks_per_beat: asked.per_beat.unwrap_or(1),
        guide: !asked.guide.is_empty(),
        rate: rate(asked.rate)?,
    };
    let track = click::track(&drill, wanted.tempo, wanted.count_in_bars, wanted.clicks_per_beat)?;
    let bpm = wanted.tempo.unwrap_or(drill.tempo).0;
    let name = format!("{}, {bpm} bpm {}.wav", drill.name, if wanted.guide { "guide" } else { "click" });
    let mut answer = wav(&app, drill, track, wanted.rate, wanted.guide).await?;
    if !asked.save.is_empty() {
        answer.headers_mut().insert(header::CONTENT_DISPOSITION, attachment(&name));
    }
    Ok(answer)
}

/// The click that tells a set-up's delay.
pub(crate) async fn loopback(State(app): State<Arc<App>>, Query(asked): Query<Rate>) -> Result<Response, Trouble> {
    let (drill, track) = click::loopback()?;
    wav(&app, drill, track, rate(asked.rate)?, false).await
}

#[derive(Debug, Deserialize)]
pub(crate) struct Rate {
    rate: Option<u32>,
}

/// A click as a WAV file; how its count-in goes stands in the head.
async fn wav(
    app: &Arc<App>,
    drill: Drill,
    track: ClickTrack,
    rate: SampleRate,
    guide: bool,
) -> Result<Response, Trouble> {
    // Never closed, so a place always comes.
    let _place = app.making.acquire().await.map_err(|e| Trouble::Inside(e.to_string()))?;
    let first = track.steps.first().map_or(0.0, |s| s.notes_from.0);
    let beat = track.steps.first().map_or(1.0, |s| drill.beat_seconds() * drill.tempo.0 / s.tempo.0);
    let folder = app.jobs.folder().to_owned();
    let path = blocking(move || {
        let fail = |e: std::io::Error| Trouble::Inside(format!("The click cannot be written: {e}."));
        let path = tempfile::Builder::new().prefix("click-").suffix(".wav").tempfile_in(folder).map_err(fail)?;
        let path = path.into_temp_path();
        click::write(&path, &drill, &track, rate, guide)?;
        Ok(path)
    })
    .await?;
    let mut answer = sound::send_once(path).await?;
    for (name, seconds) in [("x-takegauge-first-step-s", first), ("x-takegauge-beat-s", beat)] {
        // Digits and a point are always a header's value.
        if let Ok(value) = HeaderValue::from_str(&format!("{seconds:.9}")) {
            answer.headers_mut().insert(HeaderName::from_static(name), value);
        }
    }
    Ok(answer)
}

/// The drill file.
pub(crate) async fn drill_file(
    State(app): State<Arc<App>>,
    Path((kind, name)): Path<(String, String)>,
) -> Result<Response, Trouble> {
    let drill = DrillChoice::of(&kind, &name)?.drill(&app).await?;
    let head = [
        (header::CONTENT_TYPE, HeaderValue::from_static("application/toml; charset=utf-8")),
        (header::CONTENT_DISPOSITION, attachment(&format!("{}.toml", drill.name))),
    ];
    Ok((head, drill.to_toml()).into_response())
}

/// To be saved under a name; letters outside ASCII and signs become "-".
fn attachment(name: &str) -> HeaderValue {
    let plain = |c: char| if c.is_ascii_alphanumeric() || " ,.-_".contains(c) { c } else { '-' };
    let name: String = name.chars().map(plain).take(120).collect();
    HeaderValue::from_str(&format!("attachment; filename=\"{}\"", name.trim_start_matches(['.', '-', ' '])))
        .unwrap_or(HeaderValue::from_static("attachment"))
}
