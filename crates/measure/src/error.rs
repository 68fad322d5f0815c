//! Why the second look failed.

use takegauge_audio::AudioError;

/// Why a take could not be measured.
#[derive(Debug, thiserror::Error)]
pub enum MeasureError {
    /// The take could be read the first time but not the second.
    #[error("the take could not be read a second time: {0}")]
    Read(#[from] AudioError),
}
