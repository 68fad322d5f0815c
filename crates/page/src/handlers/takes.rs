//! Takes of the journal.

use super::{one_line, page, there, to};
use crate::state::App;
use crate::trouble::Trouble;
use crate::{sound, views};
use axum::Form;
use axum::extract::{Path, Query, State};
use axum::http::{HeaderMap, header};
use axum::response::{IntoResponse, Response};
use serde::Deserialize;
use std::path::PathBuf;
use std::sync::Arc;
use takegauge_audio::media_type;
use takegauge_journal::{Day, DrillRow, Filter, TakeRow};
use takegauge_report::{SoundAt, score_html, score_sections};
use takegauge_review::ScoreReport;

/// Takes on one page of the list.
pub(crate) const ON_A_PAGE: usize = 100;
/// Characters of a note, and of all tags together.
const NOTE: usize = 4000;
const TAGS: usize = 500;

/// Which takes, as the form has it: empty fields let everything through.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Wanted {
    pub(crate) player: String,
    pub(crate) drill: String,
    pub(crate) tag: String,
    pub(crate) since: String,
    pub(crate) until: String,
    pub(crate) page: usize,
}

/// What the form's lists offer.
pub(crate) struct Offer {
    pub(crate) players: Vec<String>,
    pub(crate) drills: Vec<DrillRow>,
    pub(crate) rows: Vec<TakeRow>,
    pub(crate) on_shelf: usize,
}

fn filter(wanted: &Wanted) -> Result<Filter, Trouble> {
    let text = |t: &str| (!t.trim().is_empty()).then(|| t.trim().to_owned());
    let day = |t: &str| text(t).map(|t| t.parse::<Day>().map_err(Trouble::Wrong)).transpose();
    let drill = |t: String| t.parse::<i64>().map_err(|_| Trouble::NotFound("The journal has no such drill.".into()));
    Ok(Filter {
        player: text(&wanted.player),
        drills: text(&wanted.drill).map(drill).transpose()?.map(|d| vec![d]),
        since: day(&wanted.since)?,
        until: day(&wanted.until)?,
        tag: text(&wanted.tag),
        ..Filter::default()
    })
}

pub(super) async fn list(State(app): State<Arc<App>>, Query(wanted): Query<Wanted>) -> Result<Response, Trouble> {
    let which = filter(&wanted)?;
    let work = move |j: &mut takegauge_journal::Journal| {
        let mut rows = j.list(&which)?;
        rows.reverse();
        Ok(Offer { players: j.players()?, drills: j.drills()?, rows, on_shelf: j.on_shelf()? })
    };
    let offer = app.journal(work).await?;
    Ok(page(views::takes(&app, offer.as_ref(), &wanted)))
}

async fn fetch(app: &Arc<App>, take: i64) -> Result<(takegauge_journal::TakeRecord, String), Trouble> {
    there(app.journal(move |j| Ok(j.take_text(take)?)).await?)
}

fn report(text: &str) -> Result<ScoreReport, Trouble> {
    serde_json::from_str(text).map_err(|e| Trouble::Inside(format!("The stored score cannot be read: {e}.")))
}

pub(super) async fn one(State(app): State<Arc<App>>, Path(take): Path<i64>) -> Result<Response, Trouble> {
    let (record, text) = fetch(&app, take).await?;
    let report = report(&text)?;
    let file = PathBuf::from(&record.path);
    let plays = media_type(&file).is_some() && file.is_absolute() && file.is_file();
    let address = format!("/takes/{take}/sound");
    let sections = score_sections(&report, if plays { SoundAt::Address(&address) } else { SoundAt::Nowhere });
    Ok(page(views::take(&app, take, &record, &report, sections)))
}

pub(super) async fn json(State(app): State<Arc<App>>, Path(take): Path<i64>) -> Result<Response, Trouble> {
    let (_, text) = fetch(&app, take).await?;
    Ok(([(header::CONTENT_TYPE, "application/json")], text).into_response())
}

/// The report as one file to keep or send.
pub(super) async fn file(State(app): State<Arc<App>>, Path(take): Path<i64>) -> Result<Response, Trouble> {
    let (_, text) = fetch(&app, take).await?;
    let html = score_html(&report(&text)?);
    let save = format!("attachment; filename=\"take-{take}.html\"");
    Ok(([(header::CONTENT_TYPE, "text/html; charset=utf-8".to_owned()), (header::CONTENT_DISPOSITION, save)], html)
        .into_response())
}

pub(super) async fn sound(
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
pub(super) struct Notes {
    #[serde(default)]
    note: String,
    #[serde(default)]
    tags: String,
}

/// Tags as typed: words between commas.
pub(super) fn tags(text: &str) -> Vec<String> {
    let all: String = text.chars().take(TAGS).collect();
    let mut tags: Vec<String> = all.split(',').map(|t| one_line(t, 60)).filter(|t| !t.is_empty()).collect();
    tags.sort();
    tags.dedup();
    tags
}

pub(super) fn note(text: &str) -> String {
    text.chars().filter(|c| !c.is_control() || *c == '\n').take(NOTE).collect::<String>().trim().to_owned()
}

pub(super) async fn annotate(
    State(app): State<Arc<App>>,
    Path(take): Path<i64>,
    Form(form): Form<Notes>,
) -> Result<Response, Trouble> {
    let (note, tags) = (note(&form.note), tags(&form.tags));
    there(app.change(move |j| Ok(j.annotate(take, &note, &tags)?)).await?)?;
    Ok(to(&format!("/takes/{take}")))
}

pub(super) async fn delete(State(app): State<Arc<App>>, Path(take): Path<i64>) -> Result<Response, Trouble> {
    let which = Filter { takes: Some(vec![take]), ..Filter::default() };
    let gone = there(app.change(move |j| Ok(j.delete(&which, &format!("deleting take {take}"))?)).await?)?;
    if gone == 0 {
        return Err(Trouble::NotFound(format!("The journal holds no take {take}.")));
    }
    Ok(to("/takes"))
}

pub(super) async fn undo(State(app): State<Arc<App>>) -> Result<Response, Trouble> {
    let undone = there(app.change(|j| Ok(j.undo()?)).await?)?;
    match undone {
        None => Err(Trouble::Wrong("There is nothing to take back.".into())),
        Some(u) => match u.takes.as_slice() {
            [only] => Ok(to(&format!("/takes/{only}"))),
            _ => Ok(to("/takes")),
        },
    }
}
