//! A take as blocks of mono samples.

use crate::AudioError;
use crate::channel::{ChannelChoice, ChannelEnergies, ChannelUsed, mix_into};
use crate::limits::MAX_BLOCK;
use crate::recording::{Feed, Recording};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use takegauge_units::{SampleRate, Seconds, TakeInfo};

/// Signal this loud has been found in a channel before `Auto` decides: rms -60 dBFS.
const SCAN_ENOUGH_RMS: f64 = 1e-3;
/// How much of a take `Auto` looks at: at least the first, at most the second, in seconds.
const SCAN_S: (u64, u64) = (10, 60);
/// Samples beyond +120 dBFS are damage as much as NaN is: their squares overflow an f32.
const BEYOND_ANY_LEVEL: f32 = 1e6;

/// Reads a recording of any kind as blocks of mono samples at its own rate, in bounded memory.
pub struct TakeReader {
    source: Feed,
    path: PathBuf,
    channel: ChannelUsed,
    mono: Vec<f32>,
    /// A second channel that is read along, and its samples, as many as `mono` has.
    beside: Option<(ChannelUsed, Vec<f32>)>,
    /// Samples of `mono` already handed out.
    taken: usize,
    non_finite: u64,
}

/// The same stretch of two channels.
type Beside<'a> = (&'a [f32], &'a [f32]);

/// What a reading came to.
#[derive(Debug, Clone, PartialEq)]
pub struct ReadSummary {
    /// Samples handed out.
    pub frames: u64,
    /// The file, its rate, its channels, and the length of what was decoded.
    pub info: TakeInfo,
    /// Which channel was read, or the mix.
    pub channel: ChannelUsed,
    /// Whether all that the container announces was there; `None` where it announces nothing exact, or the reading ended
    /// early.
    pub complete: Option<bool>,
    /// Samples that were no number (NaN, infinite, beyond +120 dBFS) and read as 0.
    pub non_finite_samples: u64,
    /// What the user must know, a sentence each: the file ends early, time zero is uncertain, ...
    pub warnings: Vec<String>,
}

impl TakeReader {
    /// Opens a recording and settles the channel. `Auto` on a file of several channels looks at up to a minute of it
    /// first; every other case decodes nothing twice.
    ///
    /// # Errors
    /// Any [`AudioError`] but `Write`.
    pub fn open<'a>(take: impl Into<Recording<'a>>, choice: ChannelChoice) -> Result<Self, AudioError> {
        let take = take.into();
        let source = Feed::open(take)?;
        let channel = settle(take, choice, source.channels())?;
        Ok(Self::new(source, take, channel))
    }

    /// Opens a recording again whose channel was settled before: nothing is looked at twice.
    ///
    /// # Errors
    /// As [`TakeReader::open`].
    pub fn open_as<'a>(take: impl Into<Recording<'a>>, channel: ChannelUsed) -> Result<Self, AudioError> {
        let take = take.into();
        let source = Feed::open(take)?;
        there(take.path(), channel, source.channels())?;
        Ok(Self::new(source, take, channel))
    }

    fn new(source: Feed, take: Recording<'_>, channel: ChannelUsed) -> Self {
        let path = take.path().to_path_buf();
        Self { source, path, channel, mono: Vec::new(), beside: None, taken: 0, non_finite: 0 }
    }

    /// Reads a second channel of the same recording along, which [`TakeReader::next_blocks`] hands out beside the first.
    ///
    /// # Errors
    /// As [`TakeReader::open`].
    pub fn also_read<'a>(&mut self, take: impl Into<Recording<'a>>, choice: ChannelChoice) -> Result<(), AudioError> {
        self.beside = Some((settle(take.into(), choice, self.source.channels())?, Vec::new()));
        Ok(())
    }

    /// Samples a second, 8 to 192 kHz.
    pub fn sample_rate(&self) -> SampleRate {
        self.source.rate()
    }

    /// Channels in the file.
    pub fn channels(&self) -> u16 {
        self.source.channels()
    }

    /// Which channel is read, or the mix.
    pub fn channel(&self) -> ChannelUsed {
        self.channel
    }

    /// The same in plain words: "the mix of 2 channels".
    pub fn channel_note(&self) -> String {
        self.channel.words(self.channels())
    }

    /// When the first sample is to be heard on the time line that a film's sound and picture share (ISO/IEC 14496-12 edit
    /// lists, Matroska time stamps); 0 for recordings without a picture.
    pub fn starts_at(&self) -> Seconds {
        Seconds(self.source.starts_s())
    }

    /// Samples that the file declares, where it does: for progress bars.
    pub fn declared_frames(&self) -> Option<u64> {
        self.source.declared()
    }

    /// The next block, never empty and at most [`MAX_BLOCK`] samples, full scale +-1 (more is possible in
    /// floating-point files), every sample finite; `None` at the end. A damaged or cut file ends, or goes on after
    /// silence, with a warning in the summary.
    ///
    /// # Errors
    /// [`AudioError::Read`] where the device fails.
    pub fn next_block(&mut self) -> Result<Option<&[f32]>, AudioError> {
        Ok(self.next_blocks()?.map(|(block, _)| block))
    }

    /// The next block, and the same stretch of the channel that is read along; empty where none is.
    ///
    /// # Errors
    /// As [`TakeReader::next_block`].
    pub fn next_blocks(&mut self) -> Result<Option<Beside<'_>>, AudioError> {
        if self.taken >= self.mono.len() && !self.refill()? {
            return Ok(None);
        }
        let from = self.taken;
        self.taken = self.mono.len().min(from + MAX_BLOCK);
        let beside = self.beside.as_ref().and_then(|(_, samples)| samples.get(from..self.taken)).unwrap_or(&[]);
        Ok(Some((&self.mono[from..self.taken], beside)))
    }

    fn refill(&mut self) -> Result<bool, AudioError> {
        let Some(planes) = self.source.next()? else {
            self.mono.clear();
            self.taken = 0;
            return Ok(false);
        };
        match self.channel.index() {
            Some(i) => self.non_finite += planes.get_mut(i).map_or(0, |plane| silence_non_finite(plane)),
            None => self.non_finite += planes.iter_mut().map(|plane| silence_non_finite(plane)).sum::<u64>(),
        }
        if let Some((channel, beside)) = &mut self.beside {
            match channel.index() {
                Some(i) => {
                    beside.clear();
                    beside.extend_from_slice(planes.get(i).map_or(&[], Vec::as_slice));
                }
                None => mix_into(planes, beside),
            }
            silence_non_finite(beside);
        }
        match self.channel.index() {
            Some(i) => {
                if let Some(plane) = planes.get_mut(i) {
                    std::mem::swap(plane, &mut self.mono);
                }
            }
            None => mix_into(planes, &mut self.mono),
        }
        self.taken = 0;
        Ok(true)
    }

    /// Ends the reading, wherever it stands, and says what it came to. Whether the file is as long as it declares can
    /// be told only when it was read to its end.
    pub fn finish(self) -> ReadSummary {
        let (rate, channels) = (self.source.rate(), self.source.channels());
        let (frames, complete, mut warnings) = self.source.finish();
        if self.non_finite > 0 {
            warnings.push(format!(
                "{} sample(s) are no number (NaN, infinite or beyond any level) and were read as silence; export the \
                 take again",
                self.non_finite
            ));
        }
        let info = TakeInfo {
            path: path_text(&self.path),
            sample_rate_hz: rate,
            channels,
            duration_s: Seconds(frames as f64 / rate.as_f64()),
        };
        ReadSummary { frames, info, channel: self.channel, complete, non_finite_samples: self.non_finite, warnings }
    }
}

/// The channel of a file of so many that a choice comes to.
fn settle(take: Recording<'_>, choice: ChannelChoice, channels: u16) -> Result<ChannelUsed, AudioError> {
    let path = take.path();
    let channel = match (choice, channels) {
        (_, 0) => return Err(AudioError::NoChannels { path: path.to_path_buf() }),
        (ChannelChoice::Auto | ChannelChoice::Mix, 1) => ChannelUsed::Only,
        (ChannelChoice::Auto, _) => scan(take)?,
        (ChannelChoice::Mix, _) => ChannelUsed::Mix,
        (ChannelChoice::Left, _) => ChannelUsed::Chosen(1),
        (ChannelChoice::Right, _) => ChannelUsed::Chosen(2),
        (ChannelChoice::Number(n), _) => ChannelUsed::Chosen(n),
    };
    there(path, channel, channels).map(|()| channel)
}

/// Refuses a channel that the file does not have.
fn there(path: &Path, channel: ChannelUsed, channels: u16) -> Result<(), AudioError> {
    match channel {
        ChannelUsed::Chosen(wanted) if !(1..=channels).contains(&wanted) => {
            Err(AudioError::NoSuchChannel { path: path.to_path_buf(), wanted, has: channels })
        }
        _ => Ok(()),
    }
}

/// Reads a whole recording into memory: for short files.
///
/// # Errors
/// As [`TakeReader::open`] and [`TakeReader::next_block`].
pub fn read_all(path: &Path, choice: ChannelChoice) -> Result<(Vec<f32>, ReadSummary), AudioError> {
    let mut reader = TakeReader::open(path, choice)?;
    let mut all = Vec::new();
    while let Some(block) = reader.next_block()? {
        all.extend_from_slice(block);
    }
    Ok((all, reader.finish()))
}

/// `Auto` on several channels: decodes the start of the file until there is signal enough to judge by.
fn scan(take: Recording<'_>) -> Result<ChannelUsed, AudioError> {
    let mut source = Feed::open(take)?;
    let rate = u64::from(source.rate().hz());
    let mut energies = ChannelEnergies::new(usize::from(source.channels()));
    let mut mix = Vec::new();
    let mut seen = 0u64;
    while let Some(planes) = source.next()? {
        for plane in planes.iter_mut() {
            silence_non_finite(plane);
        }
        mix_into(planes, &mut mix);
        energies.add(planes, &mix);
        seen += mix.len() as u64;
        let enough = seen >= SCAN_S.0 * rate && energies.loudest_rms() > SCAN_ENOUGH_RMS;
        if enough || seen >= SCAN_S.1 * rate {
            break;
        }
    }
    Ok(energies.decide())
}

/// Puts 0 in place of samples that are no number or out of all bounds; returns how many.
fn silence_non_finite(block: &mut [f32]) -> u64 {
    let mut n = 0u32;
    for x in block.iter_mut() {
        // Written so that NaN fails the comparison, and so that the loop vectorises.
        let ok = x.abs() <= BEYOND_ANY_LEVEL;
        n += u32::from(!ok);
        *x = if ok { *x } else { 0.0 };
    }
    u64::from(n)
}

/// A path as text, each its own: bytes that are no UTF-8 are written as `\\xHH`.
pub fn path_text(path: &Path) -> String {
    let mut text = String::new();
    for part in path.as_os_str().as_encoded_bytes().utf8_chunks() {
        text.push_str(part.valid());
        for byte in part.invalid() {
            // Writing to a string cannot fail.
            let _ = write!(text, "\\x{byte:02x}");
        }
    }
    text
}
