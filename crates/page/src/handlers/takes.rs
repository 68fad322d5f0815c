//! Takes of the journal.

use super::players::NAME;
use crate::answer::{page, there, to};
use crate::ask;
use crate::choice::Scored;
use crate::forms::{TakesOffer as Offer, Ticked, Wanted, filter, note, one_line, picked, tags, when};
use crate::state::App;
use crate::trouble::Trouble;
use crate::{sound, views};
use axum::Form;
use axum::extract::{Path, Query, RawQuery, State};
use axum::http::{HeaderMap, header};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use std::path::PathBuf;
use std::sync::Arc;
use takegauge_audio::media_type;
use takegauge_journal::{Filter, Journal, RecordedAt, TakeRecord};
use takegauge_report::{Media, SoundAt, score_html, score_sections_with, student_sections};
use takegauge_review::ScoreReport;

pub(crate) async fn list(
    State(app): State<Arc<App>>,
    Query(mut wanted): Query<Wanted>,
    RawQuery(query): RawQuery,
) -> Result<Response, Trouble> {
    let (which, ticked) = (filter(&wanted)?, Ticked::read(query.as_deref())?);
    let name = wanted.player.clone();
    let work = move |j: &mut Journal| {
        let player = if name.trim().is_empty() { String::new() } else { j.player_name(&name)? };
        // Another tempo or other repeats: the same line.
        let drills = j.drills()?;
        let which = match which.drills.as_deref() {
            Some([drill]) => Filter { drills: Some(ask::like(&drills, *drill)), ..which },
            _ => which,
        };
        let mut rows = j.list(&which)?;
        rows.reverse();
        Ok((player, Offer { players: j.players()?, drills, rows, on_shelf: j.on_shelf()?, ticked }))
    };
    let offer = app.journal(work).await?.map(|(player, offer)| {
        wanted.player = player;
        offer
    });
    Ok(page(views::takes(&app, offer.as_ref(), &wanted)))
}

/// A take's recording, where it is one that a browser plays.
pub(super) fn recording(path: &str) -> Option<PathBuf> {
    let file = PathBuf::from(path);
    (media_type(&file).is_some() && file.is_absolute() && file.is_file()).then_some(file)
}

async fn fetch(app: &Arc<App>, take: i64) -> Result<(TakeRecord, String), Trouble> {
    there(app.journal(move |j| Ok(j.take_text(take)?)).await?)
}

fn report(text: &str) -> Result<ScoreReport, Trouble> {
    ScoreReport::from_json(text).map_err(|e| Trouble::Inside(format!("The stored score cannot be read: {e}.")))
}

pub(crate) async fn one(State(app): State<Arc<App>>, Path(take): Path<i64>) -> Result<Response, Trouble> {
    let (record, text) = fetch(&app, take).await?;
    let report = report(&text)?;
    let plays = recording(&record.path).is_some();
    let address = format!("/takes/{take}/sound");
    let work = |j: &mut Journal| Ok((j.players_and_students()?, j.last_change()?));
    let (players, last_change) = there(app.journal(work).await?)?;
    let loops = |place: usize, _: &_| views::loop_actions(Scored::Take(take), place, Some(&record.player));
    let sound = if plays { SoundAt::Address(&address) } else { SoundAt::Nowhere };
    let film = super::film::address(&format!("/takes/{take}"), &report);
    let sections = score_sections_with(&report, Media { sound, film: film.as_deref() }, &loops);
    let mend = views::mend(&app, take, &record, &players, last_change.as_deref());
    Ok(page(views::take(&app, take, &record, &report, (mend, sections))))
}

pub(crate) async fn json(State(app): State<Arc<App>>, Path(take): Path<i64>) -> Result<Response, Trouble> {
    let (_, text) = fetch(&app, take).await?;
    Ok(([(header::CONTENT_TYPE, "application/json")], text).into_response())
}

/// The report as one file to keep or send.
pub(crate) async fn file(State(app): State<Arc<App>>, Path(take): Path<i64>) -> Result<Response, Trouble> {
    let (_, text) = fetch(&app, take).await?;
    let html = score_html(&report(&text)?);
    let save = format!("attachment; filename=\"take-{take}.html\"");
    Ok(([(header::CONTENT_TYPE, "text/html; charset=utf-8".to_owned()), (header::CONTENT_DISPOSITION, save)], html)
        .into_response())
}

/// One page to print for the student.
pub(crate) async fn student(State(app): State<Arc<App>>, Path(take): Path<i64>) -> Result<Response, Trouble> {
    let (record, text) = fetch(&app, take).await?;
    let report = report(&text)?;
    let sections = student_sections(&report, &record.player, &record.recorded_at.day().to_string());
    Ok(page(views::student(&app, take, &report, sections)))
}

pub(crate) async fn sound(
    State(app): State<Arc<App>>,
    Path(take): Path<i64>,
    headers: HeaderMap,
) -> Result<Response, Trouble> {
    let (record, _) = fetch(&app, take).await?;
    let file = PathBuf::from(&record.path);
    let same = file.is_absolute() && sound::is_same(&app, file.clone(), record.audio_sha256).await?;
    if !same {
        return Err(Trouble::NotFound("The recording is no longer where it was, or is another one now.".into()));
    }
    sound::send(file, &headers).await
}

/// What is said of a take: fields that a form leaves out stay.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Notes {
    note: Option<String>,
    tags: Option<String>,
    player: Option<String>,
    recorded_at: Option<String>,
    guitar: Option<String>,
    microphone: Option<String>,
    picked: Option<String>,
}

impl Notes {
    /// Makes a record say it.
    fn write(&self, record: &mut TakeRecord) {
        let line = |to: &mut String, text: &Option<String>, most: usize| {
            if let Some(text) = text {
                *to = one_line(text, most);
            }
        };
        line(&mut record.player, &self.player, NAME);
        line(&mut record.guitar, &self.guitar, 200);
        line(&mut record.microphone, &self.microphone, 200);
        if let Some(text) = &self.note {
            record.note = note(text);
        }
        if let Some(text) = &self.tags {
            record.tags = tags(text);
        }
        if let Some(text) = &self.picked {
            record.picked = picked(text);
        }
        record.recorded_at = when(self.recorded_at.as_deref(), record.recorded_at).unwrap_or(record.recorded_at);
    }
}

pub(crate) async fn annotate(
    State(app): State<Arc<App>>,
    Path(take): Path<i64>,
    Form(form): Form<Notes>,
) -> Result<Response, Trouble> {
    if form.player.as_deref().is_some_and(|name| one_line(name, NAME).is_empty()) {
        return Err(Trouble::Wrong("Whose playing is it? Write the player's name.".into()));
    }
    // A mistake in the time is told before anything is changed.
    when(form.recorded_at.as_deref(), RecordedAt::EPOCH)?;
    there(app.change(move |j| Ok(j.mend(&[take], |record| form.write(record))?)).await?)?;
    Ok(to(&format!("/takes/{take}")))
}

pub(crate) async fn delete(State(app): State<Arc<App>>, Path(take): Path<i64>) -> Result<Response, Trouble> {
    let which = Filter { takes: Some(vec![take]), ..Filter::default() };
    let gone = there(app.change(move |j| Ok(j.delete(&which, &format!("deleting take {take}"))?)).await?)?;
    if gone == 0 {
        return Err(Trouble::NotFound(format!("The journal holds no take {take}.")));
    }
    Ok(to("/takes"))
}
