//! Taking in a recording: counted while it comes, in a file whose name is made here.

use crate::choice::DrillChoice;
use crate::click::{self, SET_UP};
use crate::forms::one_line;
use crate::jobs::Sent;
use crate::state::App;
use crate::trouble::Trouble;
use crate::{Played, ToClick};
use axum::body::Body;
use axum::extract::{Query, State};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use futures_util::StreamExt;
use serde::Deserialize;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;
use takegauge_audio::ending_of_recording;
use takegauge_drill::Stroke;
use takegauge_journal::RecordedAt;
use takegauge_units::Bpm;
use tokio::io::AsyncWriteExt;

/// The next piece must be there within this.
const NEXT_WITHIN: Duration = Duration::from_secs(10);
/// The whole recording must be there within this.
const ALL_WITHIN: Duration = Duration::from_secs(20 * 60);

/// What is said about a recording.
#[derive(Debug, Deserialize)]
pub(crate) struct About {
    name: String,
    drill: String,
    #[serde(default)]
    tempo: String,
    #[serde(default)]
    first: String,
    /// When the file was last changed, ms since 1970-01-01 UTC.
    recorded_ms: Option<i64>,
    /// Recorded in the page, from the first sample of the drill's click on: bars counted in, and by which set-up.
    count_in: Option<u8>,
    #[serde(default)]
    set_up: String,
}

pub(crate) async fn take_in(
    State(app): State<Arc<App>>,
    Query(about): Query<About>,
    headers: HeaderMap,
    body: Body,
) -> Result<Response, Trouble> {
    let mut drill = DrillChoice::read(&about.drill)?.drill(&app).await?;
    if about.first == "up" {
        drill.first_stroke = Stroke::Up;
    }
    let tempo = tempo(&about.tempo)?;
    let click = match about.count_in {
        Some(bars) => Some(ToClick {
            first_step: click::first_step(&drill, tempo, bars)?,
            delay: click::delay(&app, one_line(&about.set_up, SET_UP)).await?,
        }),
        None => None,
    };
    let limit = app.upload_limit;
    let declared =
        headers.get(header::CONTENT_LENGTH).and_then(|v| v.to_str().ok()).and_then(|v| v.parse::<u64>().ok());
    if declared.is_some_and(|n| n > limit) {
        return Err(too_large(limit));
    }
    let _place = app.jobs.come_in()?;
    let try_number = about.count_in.map(|_| app.jobs.next_try());
    let name = match try_number {
        Some(n) => format!("Try {n}, {} bpm.wav", tempo.unwrap_or(drill.tempo).0),
        None => one_line(&about.name, 200),
    };
    let file = receive(body, app.jobs.folder(), &name, limit).await?;
    let now = std::time::SystemTime::now;
    let recorded_at = about.recorded_ms.and_then(RecordedAt::local).or_else(|| RecordedAt::of_file(now()));
    let recorded_at = recorded_at.ok_or_else(|| Trouble::Inside("This machine's clock has no time.".into()))?;
    let played = Played { tempo, click };
    let number = app.jobs.start(Sent { name, drill, played, try_number, recorded_at, file });
    Ok((StatusCode::CREATED, [(header::LOCATION, format!("/results/{number}"))]).into_response())
}

pub(crate) fn tempo(text: &str) -> Result<Option<Bpm>, Trouble> {
    match text.trim() {
        "" => Ok(None),
        text => match text.parse::<f64>() {
            Ok(bpm) if (20.0..=400.0).contains(&bpm) => Ok(Some(Bpm(bpm))),
            _ => Err(Trouble::Wrong("A tempo is 20 to 400 quarter notes a minute.".into())),
        },
    }
}

fn too_large(limit: u64) -> Trouble {
    Trouble::TooLarge(format!(
        "The recording is larger than {} MB. Cut it, save it as FLAC, or start with a larger --upload-limit-mb.",
        limit / 1_000_000
    ))
}

/// Writes the body to a new file, which is removed again if anything goes wrong.
pub(crate) async fn receive(body: Body, folder: &Path, name: &str, limit: u64) -> Result<PathBuf, Trouble> {
    let trouble = |e: std::io::Error| Trouble::Inside(format!("The recording cannot be stored: {e}."));
    // The decoder is helped by a recording's ending; any other is left off.
    let ending = ending_of_recording(Path::new(name)).map_or_else(String::new, |e| format!(".{e}"));
    let file = tempfile::Builder::new().prefix("take-").suffix(&ending).tempfile_in(folder).map_err(trouble)?;
    let mut out = tokio::fs::File::from_std(file.reopen().map_err(trouble)?);
    let mut pieces = body.into_data_stream();
    let mut received = 0u64;
    let all = async {
        loop {
            let next = tokio::time::timeout(NEXT_WITHIN, pieces.next()).await.map_err(|_| Trouble::Slow)?;
            let Some(piece) = next else { break };
            let piece = piece.map_err(|_| Trouble::Wrong("The recording broke off on the way.".into()))?;
            received += piece.len() as u64;
            if received > limit {
                return Err(too_large(limit));
            }
            out.write_all(&piece).await.map_err(trouble)?;
        }
        out.flush().await.map_err(trouble)
    };
    tokio::time::timeout(ALL_WITHIN, all).await.map_err(|_| Trouble::Slow)??;
    if received == 0 {
        return Err(Trouble::Wrong("The recording is empty.".into()));
    }
    let (_, path) = file.keep().map_err(|e| trouble(e.error))?;
    Ok(path)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_refused_leaves_nothing_behind() {
        let runtime = tokio::runtime::Builder::new_multi_thread().worker_threads(1).enable_all().build().unwrap();
        let dir = tempfile::tempdir().unwrap();
        let take = |pieces: Vec<std::io::Result<Vec<u8>>>| {
            let body = Body::from_stream(futures_util::stream::iter(pieces));
            runtime.block_on(receive(body, dir.path(), "../../evil.WAV", 1 << 20))
        };
        let piece = || Ok(vec![0u8; 1 << 16]);
        assert!(matches!(take((0..17).map(|_| piece()).collect()), Err(Trouble::TooLarge(_))));
        assert!(matches!(take(vec![piece(), Err(std::io::Error::other("broken"))]), Err(Trouble::Wrong(_))));
        assert!(matches!(take(Vec::new()), Err(Trouble::Wrong(_))));
        assert_eq!(std::fs::read_dir(dir.path()).unwrap().count(), 0);
        let whole = take((0..16).map(|_| piece()).collect()).unwrap();
        assert_eq!((whole.parent(), std::fs::metadata(&whole).unwrap().len()), (Some(dir.path()), 1 << 20));
        let name = whole.file_name().unwrap().to_str().unwrap();
        assert!(name.starts_with("take-") && name.ends_with(".wav") && !name.contains("evil"), "{name}");
    }
}
