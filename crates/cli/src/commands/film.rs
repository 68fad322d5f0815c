//! The film that is laid over a take.

use crate::fault::{Fault, Outcome};
use crate::output::progress;
use std::path::Path;
use takegauge_audio::ChannelChoice;
use takegauge_camera::{CameraError, film_of};
use takegauge_journal::file_hash;
use takegauge_review::CameraSection;

/// Lays a film's sound over a take's; a bar tells how far it is.
pub(crate) fn film_beside(take: &Path, channel: ChannelChoice, film: &Path, quiet: bool) -> Outcome<CameraSection> {
    let hash = file_hash(film).map_err(|e| Fault::unread(film, &e))?;
    let bar = progress(1_000, "laying the film over the take", quiet);
    let go_on = |share: f64| {
        bar.set_position((1e3 * share) as u64);
        true
    };
    let section = film_of(take, channel, film, hash, &go_on);
    bar.finish_and_clear();
    section.map_err(|e| match e {
        CameraError::NoMatch { .. } => {
            Fault::not_scored(e).advise("leave out --camera to score the take without a film")
        }
        e => Fault::usage(e),
    })
}
