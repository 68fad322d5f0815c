//! A take's recording for the browser's player, in parts where it asks for parts (RFC 9110, section 14).
//!
//! A take in the journal says where its recording was. It is played only if the bytes there are still those that were
//! scored (SHA-256), so a journal from elsewhere cannot make this server hand out other files.

use crate::state::App;
use crate::trouble::Trouble;
use crate::work::{blocking, lock};
use axum::body::{Body, Bytes};
use axum::http::{HeaderMap, StatusCode, header};
use axum::response::{IntoResponse, Response};
use futures_util::stream::try_unfold;
use std::io::SeekFrom;
use std::path::PathBuf;
use std::sync::Arc;
use takegauge_audio::media_type;
use takegauge_journal::file_hash;
use tempfile::TempPath;
use tokio::io::{AsyncReadExt, AsyncSeekExt};

/// Bytes read at a time.
const PIECE: u64 = 64 << 10;

/// Whether the file at `path` is the one that was scored.
pub(crate) async fn is_same(app: &Arc<App>, path: PathBuf, sha256: String) -> Result<bool, Trouble> {
    let app = Arc::clone(app);
    blocking(move || {
        let Ok(there) = std::fs::metadata(&path) else { return Ok(false) };
        if !there.is_file() {
            return Ok(false);
        }
        let (size, time) = (there.len(), there.modified().ok());
        if let Some((s, t, hash)) = lock(&app.sounds).get(&path)
            && (*s, *t) == (size, time)
        {
            return Ok(*hash == sha256);
        }
        let Ok(hash) = file_hash(&path) else { return Ok(false) };
        let same = hash == sha256;
        lock(&app.sounds).insert(path, (size, time, hash));
        Ok(same)
    })
    .await
}

fn gone() -> Trouble {
    Trouble::NotFound("The recording is no longer there.".into())
}

/// The file, or the part of it that the request names, read as fast as the browser takes it.
pub(crate) async fn send(path: PathBuf, headers: &HeaderMap) -> Result<Response, Trouble> {
    let kind = media_type(&path).ok_or_else(gone)?;
    send_as(path, kind, headers).await
}

/// The same as another kind: what is a recording to one page is a film to another.
pub(crate) async fn send_as(path: PathBuf, kind: &str, headers: &HeaderMap) -> Result<Response, Trouble> {
    let mut file = tokio::fs::File::open(&path).await.map_err(|_| gone())?;
    let size = file.metadata().await.map_err(|_| gone())?.len();
    let asked = headers.get(header::RANGE).and_then(|r| r.to_str().ok()).and_then(range);
    let (from, end) = match asked {
        Some((from, to)) if from < size => (from, to.unwrap_or(u64::MAX).min(size - 1) + 1),
        Some(_) => {
            let whole = [(header::CONTENT_RANGE, format!("bytes */{size}"))];
            return Ok((StatusCode::RANGE_NOT_SATISFIABLE, whole).into_response());
        }
        None => (0, size),
    };
    file.seek(SeekFrom::Start(from)).await.map_err(|_| gone())?;
    let head = [
        (header::CONTENT_TYPE, kind.to_owned()),
        (header::CONTENT_LENGTH, (end - from).to_string()),
        (header::ACCEPT_RANGES, "bytes".to_owned()),
    ];
    let body = pieces(file, end - from, None);
    if asked.is_none() {
        return Ok((head, body).into_response());
    }
    let part = [(header::CONTENT_RANGE, format!("bytes {from}-{}/{size}", end - 1))];
    Ok((StatusCode::PARTIAL_CONTENT, head, part, body).into_response())
}

/// `left` bytes of a file; a file of ours goes with the last of them.
fn pieces(file: tokio::fs::File, left: u64, ours: Option<TempPath>) -> Body {
    Body::from_stream(try_unfold((file, left, ours), |(mut file, left, ours)| async move {
        let mut piece = vec![0u8; usize::try_from(left.min(PIECE)).unwrap_or(0)];
        let read = file.read(&mut piece).await?;
        piece.truncate(read);
        Ok::<_, std::io::Error>((read > 0).then(|| (Bytes::from(piece), (file, left - read as u64, ours))))
    }))
}

/// The whole of a WAV file that was made for this answer, and then goes.
pub(crate) async fn send_once(path: TempPath) -> Result<Response, Trouble> {
    let gone = |e: std::io::Error| Trouble::Inside(format!("The sound cannot be read again: {e}."));
    let file = tokio::fs::File::open(&path).await.map_err(gone)?;
    let size = file.metadata().await.map_err(gone)?.len();
    let head = [(header::CONTENT_TYPE, "audio/wav".to_owned()), (header::CONTENT_LENGTH, size.to_string())];
    Ok((head, pieces(file, size, Some(path))).into_response())
}

/// "bytes=0-" or "bytes=100-199"; anything else counts as no range, as the standard allows.
fn range(text: &str) -> Option<(u64, Option<u64>)> {
    let (from, to) = text.strip_prefix("bytes=")?.split_once('-')?;
    let from = from.parse().ok()?;
    match to {
        "" => Some((from, None)),
        to => to.parse().ok().filter(|to| *to >= from).map(|to| (from, Some(to))),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ranges_are_read_and_odd_ones_ignored() {
        assert_eq!(range("bytes=0-"), Some((0, None)));
        assert_eq!(range("bytes=5-9"), Some((5, Some(9))));
        for odd in ["bytes=-5", "bytes=9-5", "bytes=0-1,3-4", "items=0-", "bytes=", "bytes=a-"] {
            assert_eq!(range(odd), None, "{odd}");
        }
    }
}
