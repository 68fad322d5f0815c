//! Takes of the journal.

use crate::answer::{page, there, to};
use crate::ask;
use crate::choice::Scored;
use crate::forms::{TakesOffer as Offer, Ticked, Wanted, filter, note, tags};
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
use takegauge_journal::Filter;
use takegauge_report::{Media, SoundAt, score_html, score_sections_with, student_sections};
use takegauge_review::ScoreReport;

pub(crate) async fn list(
    State(app): State<Arc<App>>,
    Query(wanted): Query<Wanted>,
    RawQuery(query): RawQuery,
) -> Result<Response, Trouble> {
    let (which, ticked) = (filter(&wanted)?, Ticked::read(query.as_deref())?);
    let work = move |j: &mut takegauge_journal::Journal| {
        // Another tempo or other repeats: the same line.
        let drills = j.drills()?;
        let which = match which.drills.as_deref() {
            Some([drill]) => Filter { drills: Some(ask::like(&drills, *drill)), ..which },
            _ => which,
        };
        let mut rows = j.list(&which)?;
        rows.reverse();
        Ok(Offer { players: j.players()?, drills, rows, on_shelf: j.on_shelf()?, ticked })
    };
    let offer = app.journal(work).await?;
    Ok(page(views::takes(&app, offer.as_ref(), &wanted)))
}

/// A take's recording, where it is one that a browser plays.
pub(super) fn recording(path: &str) -> Option<PathBuf> {
    let file = PathBuf::from(path);
    (media_type(&file).is_some() && file.is_absolute() && file.is_file()).then_some(file)
}

async fn fetch(app: &Arc<App>, take: i64) -> Result<(takegauge_journal::TakeRecord, String), Trouble> {
    there(app.journal(move |j| Ok(j.take_text(take)?)).await?)
}

fn report(text: &str) -> Result<ScoreReport, Trouble> {
    serde_json::from_str(text).map_err(|e| Trouble::Inside(format!("The stored score cannot be read: {e}.")))
}

pub(crate) async fn one(State(app): State<Arc<App>>, Path(take): Path<i64>) -> Result<Response, Trouble> {
    let (record, text) = fetch(&app, take).await?;
    let report = report(&text)?;
    let plays = recording(&record.path).is_some();
    let address = format!("/takes/{take}/sound");
    let loops = |place: usize, _: &_| views::loop_actions(Scored::Take(take), place);
    let sound = if plays { SoundAt::Address(&address) } else { SoundAt::Nowhere };
    let film = super::film::address(&format!("/takes/{take}"), &report);
    let sections = score_sections_with(&report, Media { sound, film: film.as_deref() }, &loops);
    Ok(page(views::take(&app, take, &record, &report, sections)))
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

#[derive(Debug, Deserialize)]
pub(crate) struct Notes {
    #[serde(default)]
    note: String,
    #[serde(default)]
    tags: String,
}

pub(crate) async fn annotate(
    State(app): State<Arc<App>>,
    Path(take): Path<i64>,
    Form(form): Form<Notes>,
) -> Result<Response, Trouble> {
    let (note, tags) = (note(&form.note), tags(&form.tags));
    there(app.change(move |j| Ok(j.annotate(take, &note, &tags)?)).await?)?;
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

pub(crate) async fn undo(State(app): State<Arc<App>>) -> Result<Response, Trouble> {
    let undone = there(app.change(|j| Ok(j.undo()?)).await?)?;
    match undone {
        None => Err(Trouble::Wrong("There is nothing to take back.".into())),
        Some(u) => match u.takes.as_slice() {
            [only] => Ok(to(&format!("/takes/{only}"))),
            _ => Ok(to("/takes")),
        },
    }
}
