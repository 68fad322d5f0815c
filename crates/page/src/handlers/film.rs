//! The film of a take: laid over it, and shown from where it is.
//!
//! Only a film that the journal names is handed out, and only while its bytes are those that were matched (SHA-256).

use crate::answer::{there, to};
use crate::sound;
use crate::state::App;
use crate::trouble::Trouble;
use crate::work::blocking;
use axum::Form;
use axum::extract::{Path, State};
use axum::http::HeaderMap;
use axum::response::Response;
use serde::Deserialize;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};
use takegauge_audio::{ChannelChoice, film_type};
use takegauge_camera::film_of;
use takegauge_journal::file_hash;
use takegauge_review::{CameraSection, ScoreReport};

/// The longest that laying one over a take may take.
const LONGEST: Duration = Duration::from_secs(10 * 60);

/// The address of a report's film, `at` being the report's own; `None` where a browser cannot have it.
pub(crate) fn address(at: &str, report: &ScoreReport) -> Option<String> {
    let file = PathBuf::from(&report.camera.as_ref()?.path);
    (film_type(&file).is_some() && file.is_absolute() && file.is_file()).then(|| format!("{at}/film"))
}

/// The film of a take in the journal.
pub(crate) async fn of_take(
    State(app): State<Arc<App>>,
    Path(take): Path<i64>,
    headers: HeaderMap,
) -> Result<Response, Trouble> {
    let (_, _, report) = there(app.journal(move |j| Ok(j.take(take)?)).await?)?;
    send(&app, report.camera, &headers).await
}

/// The film of a result that is not kept yet.
pub(crate) async fn of_result(
    State(app): State<Arc<App>>,
    Path(number): Path<u64>,
    headers: HeaderMap,
) -> Result<Response, Trouble> {
    send(&app, app.jobs.get(number)?.report()?.camera.clone(), &headers).await
}

async fn send(app: &Arc<App>, camera: Option<CameraSection>, headers: &HeaderMap) -> Result<Response, Trouble> {
    let gone = || Trouble::NotFound("The film is no longer where it was, or is another one now.".into());
    let camera = camera.ok_or_else(gone)?;
    let file = PathBuf::from(&camera.path);
    let kind = film_type(&file).ok_or_else(gone)?;
    if !file.is_absolute() || !sound::is_same(app, file.clone(), camera.sha256).await? {
        return Err(gone());
    }
    sound::send_as(file, kind, headers).await
}

#[derive(Debug, Deserialize)]
pub(crate) struct Named {
    path: String,
}

/// One film is laid over a take at a time.
static UNDER_WAY: AtomicBool = AtomicBool::new(false);

struct Turn;

impl Turn {
    fn take() -> Result<Self, Trouble> {
        if UNDER_WAY.swap(true, Ordering::AcqRel) {
            return Err(Trouble::Busy("Another film is being laid over its take. Try again when that is done.".into()));
        }
        Ok(Self)
    }
}

impl Drop for Turn {
    fn drop(&mut self) {
        UNDER_WAY.store(false, Ordering::Release);
    }
}

/// Lays the film at a path of this machine over a take of the journal; its place goes into the take's score.
pub(crate) async fn lay_over_take(
    State(app): State<Arc<App>>,
    Path(take): Path<i64>,
    Form(form): Form<Named>,
) -> Result<Response, Trouble> {
    let film = named(&form)?;
    let (record, _, _) = there(app.journal(move |j| Ok(j.take(take)?)).await?)?;
    let recording = PathBuf::from(&record.path);
    if !recording.is_absolute() || !sound::is_same(&app, recording.clone(), record.audio_sha256).await? {
        let gone = "The take's own recording is no longer where it was, so nothing can be laid over it.";
        return Err(Trouble::Wrong(gone.into()));
    }
    let camera = matched(recording, film).await?;
    let change = move |j: &mut takegauge_journal::Journal| {
        // Read again: a note may have been written meanwhile.
        let (record, _, mut report) = j.take(take)?;
        report.camera = Some(camera);
        Ok(j.add(&record, &report)?)
    };
    there(app.change(change).await?)?;
    Ok(to(&format!("/takes/{take}#film")))
}

/// The same over a result, which takes it along into the journal.
pub(crate) async fn lay_over_result(
    State(app): State<Arc<App>>,
    Path(number): Path<u64>,
    Form(form): Form<Named>,
) -> Result<Response, Trouble> {
    let film = named(&form)?;
    let job = app.jobs.get(number)?;
    job.report()?;
    let camera = matched(job.sent.file.clone(), film).await?;
    app.jobs.set_camera(number, camera);
    Ok(to(&format!("/results/{number}#film")))
}

/// The film that a form names.
fn named(form: &Named) -> Result<PathBuf, Trouble> {
    let film = PathBuf::from(form.path.trim().trim_matches('"'));
    if !film.is_absolute() || !film.is_file() {
        return Err(Trouble::Wrong("Give the whole path of the film on this machine.".into()));
    }
    if film_type(&film).is_none() {
        return Err(Trouble::Wrong("This is no film by its ending: .mp4, .m4v, .mov, .webm or .mkv.".into()));
    }
    Ok(film)
}

async fn matched(recording: PathBuf, film: PathBuf) -> Result<CameraSection, Trouble> {
    let turn = Turn::take()?;
    blocking(move || {
        let _turn = turn;
        let hash = file_hash(&film).map_err(|e| Trouble::Wrong(format!("The film cannot be read: {e}.")))?;
        let until = Instant::now() + LONGEST;
        film_of(&recording, ChannelChoice::Auto, &film, hash, &|_| Instant::now() < until)
            .map_err(|e| Trouble::Wrong(format!("{e}.")))
    })
    .await
}
