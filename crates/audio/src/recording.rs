//! Where a recording is: in a file, or in memory.

use crate::limits::{self, LONGEST_HOURS, MAX_BLOCK};
use crate::source::Source;
use crate::{AudioError, open};
use std::fmt;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use takegauge_units::SampleRate;

/// A recording to read.
#[derive(Debug, Clone, Copy)]
pub enum Recording<'a> {
    /// A file of any kind.
    File(&'a Path),
    /// Samples that somebody holds.
    Samples(&'a Samples),
}

impl<'a> Recording<'a> {
    /// The file's path, or what the samples are called in its place.
    pub fn path(self) -> &'a Path {
        match self {
            Self::File(path) => path,
            Self::Samples(samples) => &samples.name,
        }
    }
}

impl<'a> From<&'a Path> for Recording<'a> {
    fn from(path: &'a Path) -> Self {
        Self::File(path)
    }
}

impl<'a> From<&'a PathBuf> for Recording<'a> {
    fn from(path: &'a PathBuf) -> Self {
        Self::File(path)
    }
}

impl<'a> From<&'a Samples> for Recording<'a> {
    fn from(samples: &'a Samples) -> Self {
        Self::Samples(samples)
    }
}

/// Sound in memory, full scale +-1; a copy shares the samples.
#[derive(Clone)]
pub struct Samples {
    name: PathBuf,
    rate: SampleRate,
    /// One a channel, all of one length.
    planes: Arc<[Vec<f32>]>,
}

impl Samples {
    /// Sound at `rate_hz`, one plane a channel; `name` stands for the path in reports and errors.
    ///
    /// # Errors
    /// [`AudioError::Rate`], [`AudioError::NoChannels`], [`AudioError::NoSamples`] where there are none or the channels
    /// differ in length, [`AudioError::TooMuch`].
    pub fn new(name: impl Into<PathBuf>, rate_hz: u32, planes: Vec<Vec<f32>>) -> Result<Self, AudioError> {
        let path = name.into();
        let in_range = SampleRate::new(rate_hz).filter(|_| open::RATES_HZ.contains(&rate_hz));
        let Some(rate) = in_range else { return Err(AudioError::Rate { path, rate_hz }) };
        limits::channels(&path, planes.len())?;
        let Some(frames) = planes.first().map(Vec::len) else { return Err(AudioError::NoChannels { path }) };
        let none = |path, reason: &str| AudioError::NoSamples { path, format: "array".into(), reason: reason.into() };
        if frames == 0 {
            return Err(none(path, "it is empty"));
        }
        if planes.iter().any(|p| p.len() != frames) {
            return Err(none(path, "its channels differ in length"));
        }
        if frames as u64 > LONGEST_HOURS * 3600 * u64::from(rate_hz) {
            return Err(limits::too_much(&path, format!("more than {LONGEST_HOURS} hours of sound")));
        }
        Ok(Self { name: path, rate, planes: planes.into() })
    }
}

impl fmt::Debug for Samples {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let frames = self.planes.first().map_or(0, Vec::len);
        write!(f, "{}: {} x {frames} at {} Hz", self.name.display(), self.planes.len(), self.rate.hz())
    }
}

/// What blocks come from.
pub(crate) enum Feed {
    File(Box<Source>),
    Memory { samples: Samples, given: usize, planes: Vec<Vec<f32>> },
}

impl Feed {
    pub(crate) fn open(take: Recording<'_>) -> Result<Self, AudioError> {
        Ok(match take {
            Recording::File(path) => Self::File(Box::new(Source::open(path)?)),
            Recording::Samples(samples) => {
                let planes = vec![Vec::new(); samples.planes.len()];
                Self::Memory { samples: samples.clone(), given: 0, planes }
            }
        })
    }

    pub(crate) fn rate(&self) -> SampleRate {
        match self {
            Self::File(source) => source.rate(),
            Self::Memory { samples, .. } => samples.rate,
        }
    }

    pub(crate) fn channels(&self) -> u16 {
        match self {
            Self::File(source) => source.channels(),
            Self::Memory { samples, .. } => samples.planes.len() as u16,
        }
    }

    /// When the first sample is to be heard, seconds on a film's own time line.
    pub(crate) fn starts_s(&self) -> f64 {
        match self {
            Self::File(source) => source.starts_s(),
            Self::Memory { .. } => 0.0,
        }
    }

    /// Frames to come, where that is known.
    pub(crate) fn declared(&self) -> Option<u64> {
        match self {
            Self::File(source) => source.declared(),
            Self::Memory { samples, .. } => samples.planes.first().map(|p| p.len() as u64),
        }
    }

    /// The next frames, one plane a channel, never empty; `None` at the end.
    pub(crate) fn next(&mut self) -> Result<Option<&mut Vec<Vec<f32>>>, AudioError> {
        match self {
            Self::File(source) => source.next(),
            Self::Memory { samples, given, planes } => {
                let from = *given;
                for (plane, whole) in planes.iter_mut().zip(samples.planes.iter()) {
                    let to = whole.len().min(from + MAX_BLOCK);
                    plane.clear();
                    plane.extend_from_slice(whole.get(from..to).unwrap_or(&[]));
                    *given = to;
                }
                Ok((*given > from).then_some(planes))
            }
        }
    }

    /// Frames handed out, whether that is all that was promised, and warnings.
    pub(crate) fn finish(self) -> (u64, Option<bool>, Vec<String>) {
        match self {
            Self::File(source) => source.finish(),
            Self::Memory { samples, given, .. } => {
                let all = samples.planes.first().is_some_and(|p| p.len() == given);
                (given as u64, all.then_some(true), Vec::new())
            }
        }
    }
}
