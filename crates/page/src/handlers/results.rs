//! Recordings that were dropped here: how far they are, their report, keeping it.

use crate::answer::{page, to};
use crate::choice::Scored;
use crate::forms::{note, one_line, picked, tags, when};
use crate::jobs::{Job, Stage};
use crate::state::{App, no_journal};
use crate::store::{Stored, store};
use crate::trouble::Trouble;
use crate::work::blocking;
use crate::{sound, views};
use axum::extract::{Path, State};
use axum::http::{HeaderMap, header};
use axum::response::{IntoResponse, Response};
use axum::{Form, Json};
use serde::Deserialize;
use std::sync::Arc;
use takegauge_audio::media_type;
use takegauge_journal::{RecordedAt, TakeRecord, file_hash};
use takegauge_report::{Media, SoundAt, score_sections_with};
use takegauge_review::ScoreReport;

pub(crate) async fn one(State(app): State<Arc<App>>, Path(number): Path<u64>) -> Result<Response, Trouble> {
    let job = app.jobs.get(number)?;
    let Stage::Done(report) = &job.stage else { return Ok(page(views::waiting(&app, number, &job))) };
    let players = app.journal(|j| Ok(j.players_and_students()?)).await?.unwrap_or_default();
    let address = format!("/results/{number}/sound");
    let plays = media_type(&job.sent.file).is_some();
    let loops = |place: usize, _: &_| views::loop_actions(Scored::Result(number), place, None);
    let sound = if plays { SoundAt::Address(&address) } else { SoundAt::Nowhere };
    let film = super::film::address(&format!("/results/{number}"), report);
    let sections = score_sections_with(report, Media { sound, film: film.as_deref() }, &loops);
    Ok(page(views::result(&app, number, &job, report, &players, sections)))
}

pub(crate) async fn state(State(app): State<Arc<App>>, Path(number): Path<u64>) -> Result<Response, Trouble> {
    let (over, share) = match app.jobs.get(number)?.stage {
        Stage::Waiting => (false, 0.0),
        Stage::Working(share) => (false, share),
        Stage::Done(_) | Stage::Failed(_) | Stage::Stopped => (true, 1.0),
    };
    let before = app.jobs.before(number);
    Ok(Json(serde_json::json!({ "over": over, "share": share, "before": before })).into_response())
}

/// Ends the scoring.
pub(crate) async fn stop(State(app): State<Arc<App>>, Path(number): Path<u64>) -> Result<Response, Trouble> {
    app.jobs.get(number)?;
    app.jobs.stop(number);
    Ok(to("/"))
}

pub(crate) async fn json(State(app): State<Arc<App>>, Path(number): Path<u64>) -> Result<Response, Trouble> {
    let report = app.jobs.get(number)?.report()?;
    Ok(([(header::CONTENT_TYPE, "application/json")], takegauge_report::json(&*report)).into_response())
}

pub(crate) async fn sound(
    State(app): State<Arc<App>>,
    Path(number): Path<u64>,
    headers: HeaderMap,
) -> Result<Response, Trouble> {
    sound::send(app.jobs.get(number)?.sent.file.clone(), &headers).await
}

#[derive(Debug, Deserialize)]
pub(crate) struct Keep {
    player: String,
    #[serde(default)]
    note: String,
    #[serde(default)]
    tags: String,
    #[serde(default)]
    guitar: String,
    #[serde(default)]
    microphone: String,
    #[serde(default)]
    picked: String,
    #[serde(default)]
    recorded_at: Option<String>,
}

/// Puts a result into the journal, which is made if there is none yet.
pub(crate) async fn keep(
    State(app): State<Arc<App>>,
    Path(number): Path<u64>,
    Form(form): Form<Keep>,
) -> Result<Response, Trouble> {
    let job = app.jobs.get(number)?;
    let report = job.report()?;
    let player = one_line(&form.player, 100);
    if player.is_empty() {
        return Err(Trouble::Wrong("Whose playing is it? Write the player's name.".into()));
    }
    let sent = Arc::clone(&job.sent);
    let recorded_at = when(form.recorded_at.as_deref(), sent.recorded_at)?;
    let audio_sha256 = blocking({
        let file = sent.file.clone();
        move || file_hash(&file).map_err(|e| Trouble::Inside(format!("The recording cannot be read again: {e}.")))
    })
    .await?;
    let stored = stored(&app, &job, &audio_sha256, (report.timebase.tempo_bpm, recorded_at)).await?;
    let record = TakeRecord {
        player,
        drill: sent.drill.to_toml(),
        audio_sha256,
        path: stored.as_ref().map_or_else(|| sent.name.clone(), |s| s.path.display().to_string()),
        recorded_at,
        picked: picked(&form.picked),
        guitar: one_line(&form.guitar, 200),
        microphone: one_line(&form.microphone, 200),
        tags: tags(&form.tags),
        note: note(&form.note),
    };
    let drill = sent.drill.clone();
    let keep = move |j: &mut takegauge_journal::Journal| {
        let mut report = ScoreReport::clone(&report);
        // The same recording again: the film that lies over it stays where no other was laid over it.
        if report.camera.is_none()
            && let Some(before) = j.find(&record.audio_sha256, &drill)?
        {
            let (_, text) = j.take_text(before)?;
            report.camera = ScoreReport::from_json(&text).ok().and_then(|r| r.camera);
        }
        Ok(j.add(&record, &report)?)
    };
    let added = app.journal_or_new(keep).await;
    if let (Err(_), Some(stored)) = (&added, &stored) {
        stored.take_back();
    }
    let added = added?;
    app.jobs.set_kept(number, added.take());
    Ok(to(&format!("/takes/{}", added.take())))
}

/// What was recorded in the page lies nowhere else: it is kept too.
async fn stored(
    app: &Arc<App>,
    job: &Job,
    sha256: &str,
    (played_bpm, recorded_at): (f64, RecordedAt),
) -> Result<Option<Stored>, Trouble> {
    if job.sent.try_number.is_none() {
        return Ok(None);
    }
    let folder = app.recordings().ok_or_else(no_journal)?;
    let (sent, sha256) = (Arc::clone(&job.sent), sha256.to_owned());
    let bpm = sent.played.tempo.map_or(played_bpm.round(), |t| t.0);
    blocking(move || store(&folder, &sent.file, &sha256, recorded_at, &sent.drill.name, bpm).map(Some)).await
}
