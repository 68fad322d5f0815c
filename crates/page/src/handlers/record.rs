//! Recording in the page: its tries, and the delay of its set-up.

use crate::answer::page as answer;
use crate::choice::{DrillChoice, choices_and};
use crate::click::{self, SET_UP};
use crate::forms::one_line;
use crate::jobs::Job;
use crate::state::App;
use crate::trouble::Trouble;
use crate::upload::receive;
use crate::views;
use crate::work::blocking;
use axum::Json;
use axum::body::Body;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{Html, IntoResponse, Response};
use serde::Deserialize;
use std::sync::Arc;

/// The recording of the clicks that tell a delay: 12 s of two channels at 192 kHz, and a bit.
const LOOPBACK_BYTES: u64 = 16 << 20;

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Asked {
    drill: String,
    tempo: String,
}

pub(crate) async fn page(State(app): State<Arc<App>>, Query(asked): Query<Asked>) -> Result<Response, Trouble> {
    let all = choices_and(&app, &asked.drill).await?;
    let players = app.journal(|j| Ok(j.players_and_students()?)).await?.unwrap_or_default();
    Ok(answer(views::record(&app, &all, (&asked.drill, &asked.tempo), &players, &tries(&app))))
}

/// Recordings made in the page in this start, the latest first.
fn tries(app: &App) -> Vec<(u64, Job)> {
    app.jobs.all().into_iter().filter(|(_, job)| job.sent.try_number.is_some()).collect()
}

/// A drill's tempo and its line to read while playing.
pub(crate) async fn line(State(app): State<Arc<App>>, Query(asked): Query<Asked>) -> Result<Response, Trouble> {
    let drill = DrillChoice::read(&asked.drill)?.drill(&app).await?;
    let whole = drill.show();
    // From the first system on, to what the signs mean.
    let systems: Vec<&str> = whole.split("\n\n").skip(1).take_while(|part| !part.starts_with("stroke:")).collect();
    let told = serde_json::json!({ "tempo_bpm": drill.tempo.0, "line": systems.join("\n\n") });
    Ok(Json(told).into_response())
}

/// One try as a row of the list; empty where it is no longer held.
pub(crate) async fn one_try(State(app): State<Arc<App>>, Path(number): Path<u64>) -> Result<Response, Trouble> {
    let job = app.jobs.get(number)?;
    Ok(Html(views::one_try(&app, number, &job).into_string()).into_response())
}

/// Forgets a recording.
pub(crate) async fn throw_away(State(app): State<Arc<App>>, Path(number): Path<u64>) -> Result<Response, Trouble> {
    app.jobs.get(number)?;
    app.jobs.throw_away(number);
    Ok(StatusCode::NO_CONTENT.into_response())
}

#[derive(Debug, Deserialize)]
pub(crate) struct SetUp {
    set_up: String,
}

impl SetUp {
    fn name(&self) -> Result<String, Trouble> {
        let name = one_line(&self.set_up, SET_UP);
        if name.is_empty() { Err(Trouble::Wrong("The set-up has no name.".into())) } else { Ok(name) }
    }
}

/// The delay of a set-up, if it was measured before.
pub(crate) async fn delay(State(app): State<Arc<App>>, Query(asked): Query<SetUp>) -> Result<Response, Trouble> {
    let delay = click::delay(&app, asked.name()?).await?;
    Ok(Json(serde_json::json!({ "delay_ms": delay.map(|d| d.0) })).into_response())
}

/// Takes the recording of the loopback's clicks; answers with the delay, which is remembered.
pub(crate) async fn loopback(
    State(app): State<Arc<App>>,
    Query(asked): Query<SetUp>,
    headers: HeaderMap,
    body: Body,
) -> Result<Response, Trouble> {
    let set_up = asked.name()?;
    let declared =
        headers.get(header::CONTENT_LENGTH).and_then(|v| v.to_str().ok()).and_then(|v| v.parse::<u64>().ok());
    if declared.is_some_and(|n| n > LOOPBACK_BYTES) {
        return Err(Trouble::TooLarge("The clicks of the loopback last ten seconds; this is more.".into()));
    }
    let _place = app.jobs.come_in()?;
    let file = receive(body, app.jobs.folder(), "loopback.wav", LOOPBACK_BYTES).await?;
    let scorer = Arc::clone(&app.scorer);
    let measured = blocking(move || {
        let heard = scorer.clicks(&file);
        // What cannot be removed now goes with the folder.
        let _ = std::fs::remove_file(&file);
        let heard = heard.map_err(|e| Trouble::Wrong(format!("The recording cannot be read: {e}.")))?;
        let (_, track) = click::loopback()?;
        let delay = track.delay(&heard).map_err(|e| Trouble::Wrong(format!("No delay was found in {e}.")))?;
        scorer.keep_delay(&set_up, delay).map_err(Trouble::Inside)?;
        Ok(delay)
    })
    .await?;
    let told = serde_json::json!({
        "delay_ms": measured.median.0, "spread_ms": measured.spread.0, "clicks": measured.n, "of": measured.of
    });
    Ok(Json(told).into_response())
}
