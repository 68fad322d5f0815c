//! The second pass: the take read once more with the notes to expect, for one stretch of it or for several at once.

use crate::error::TakeError;
use crate::hear::Heard;
use crate::progress::{Pass, Progress};
use takegauge_audio::{AudioError, Recording, TakeReader};
use takegauge_measure::{Measured, SecondLook};
use takegauge_units::Seconds;

/// Takes the samples of the second pass along, for what is made of the sound beside the report.
pub trait Tap {
    /// Before the first sample: what was heard in the first pass.
    ///
    /// # Errors
    /// Ends the scoring.
    fn begin(&mut self, heard: &Heard) -> Result<(), AudioError>;
    /// The next samples of the channel that is scored.
    ///
    /// # Errors
    /// Ends the scoring.
    fn samples(&mut self, block: &[f32]) -> Result<(), AudioError>;
}

/// Takes nothing along.
#[derive(Debug, Clone, Copy, Default)]
pub struct NoTap;

impl Tap for NoTap {
    fn begin(&mut self, _: &Heard) -> Result<(), AudioError> {
        Ok(())
    }
    fn samples(&mut self, _: &[f32]) -> Result<(), AudioError> {
        Ok(())
    }
}

/// Reads the take once for one look at all of it.
pub(crate) fn measure(
    take: Recording<'_>,
    heard: &Heard,
    mut second: SecondLook<'_>,
    progress: &dyn Progress,
    tap: &mut dyn Tap,
) -> Result<Measured, TakeError> {
    read_again(take, heard, progress, tap, |block, _| {
        second.push(block);
        true
    })?;
    Ok(second.finish())
}

/// A second look at a stretch of the take.
pub(crate) struct Look<'a> {
    pub(crate) second: SecondLook<'a>,
    /// Nothing after this belongs to it.
    pub(crate) until: Seconds,
}

/// Reads the take once for looks at several stretches of it; their results in the same order.
pub(crate) fn measure_stretches(
    take: Recording<'_>,
    heard: &Heard,
    looks: Vec<Look<'_>>,
    progress: &dyn Progress,
) -> Result<Vec<Measured>, TakeError> {
    let mut done: Vec<Option<Measured>> = looks.iter().map(|_| None).collect();
    let mut open: Vec<(usize, Look<'_>)> = looks.into_iter().enumerate().collect();
    read_again(take, heard, progress, &mut NoTap, |block, read| {
        for (_, look) in &mut open {
            look.second.push(block);
        }
        // One that is over gives its memory back at once.
        for (i, look) in open.extract_if(.., |(_, look)| read > heard.rate.samples_in(look.until)) {
            done[i] = Some(look.second.finish());
        }
        !open.is_empty()
    })?;
    for (i, look) in open {
        done[i] = Some(look.second.finish());
    }
    Ok(done.into_iter().flatten().collect())
}

/// Hands each block of the take to the tap, then to `each` with the number of samples read so far, until that has
/// enough.
fn read_again(
    take: Recording<'_>,
    heard: &Heard,
    progress: &dyn Progress,
    tap: &mut dyn Tap,
    mut each: impl FnMut(&[f32], usize) -> bool,
) -> Result<(), TakeError> {
    tap.begin(heard)?;
    let mut reader = TakeReader::open_as(take, heard.channel)?;
    progress.begin(Pass::Measuring, reader.declared_frames());
    let mut read = 0;
    while let Some(block) = reader.next_block()? {
        tap.samples(block)?;
        read += block.len();
        if progress.advance(block.len() as u64).is_break() {
            return Err(TakeError::Stopped);
        }
        if !each(block, read) {
            break;
        }
    }
    Ok(())
}
