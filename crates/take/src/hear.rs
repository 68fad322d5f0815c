//! The first pass: what is heard in a take without knowing any drill.

use crate::error::TakeError;
use crate::progress::{Pass, Progress};
use std::path::Path;
use takegauge_align::AlignError;
use takegauge_audio::{ChannelChoice, ChannelUsed, Health, HealthMeter, Recording, TakeReader};
use takegauge_click::ClickEar;
use takegauge_listen::Listener;
use takegauge_units::{Attack, Decibels, SampleRate, Seconds, TakeInfo};

/// What was heard in a take.
#[derive(Debug, Clone)]
pub struct Heard {
    /// The file.
    pub take: TakeInfo,
    /// Its samples a second.
    pub rate: SampleRate,
    /// The channel that was listened to.
    pub channel: ChannelUsed,
    /// The same in words.
    pub channel_used: String,
    /// The attacks in order of time; for scoring also the faint ones, of a strength below 1.
    pub attacks: Vec<Attack>,
    /// Recording health, where the take is heard for scoring.
    pub health: Option<Health>,
    /// The click on another channel, with its levels, where one was asked for.
    pub clicks: Vec<(Seconds, Decibels)>,
    /// What the user must know, a sentence each.
    pub warnings: Vec<String>,
}

/// A take of fewer attacks, of less than a bar of sixteenths, is a very short one: little can be told from it.
pub const FEW_ATTACKS: usize = 16;

impl Heard {
    /// Attacks that stand out; a drill is needed to count a fainter one.
    pub fn strong(&self) -> usize {
        self.attacks.iter().filter(|a| a.strength >= 1.0).count()
    }

    /// Whether there is anything to score.
    ///
    /// # Errors
    /// The take holds no attack: what scoring it would end with, whatever the drill.
    pub fn not_silent(&self) -> Result<(), TakeError> {
        match self.strong() {
            0 => Err(TakeError::NotAligned { take: self.take.path.clone(), source: AlignError::NothingHeard }),
            _ => Ok(()),
        }
    }
}

/// Listens to a whole take for its attacks alone.
///
/// # Errors
/// A file that cannot be read.
pub fn hear<'a>(
    take: impl Into<Recording<'a>>,
    channel: ChannelChoice,
    progress: &dyn Progress,
) -> Result<Heard, TakeError> {
    listen(TakeReader::open(take, channel)?, Purpose::Attacks, progress)
}

/// Listens to a whole take for scoring it: faint attacks and recording health too, and the click on another
/// channel where there is one.
pub(crate) fn hear_for_scoring(
    take: Recording<'_>,
    channel: ChannelChoice,
    click: Option<ChannelChoice>,
    progress: &dyn Progress,
) -> Result<Heard, TakeError> {
    let mut reader = TakeReader::open(take, channel)?;
    if let Some(click) = click {
        reader.also_read(take, click)?;
    }
    listen(reader, Purpose::Scoring, progress)
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Purpose {
    Attacks,
    Scoring,
}

fn listen(mut reader: TakeReader, purpose: Purpose, progress: &dyn Progress) -> Result<Heard, TakeError> {
    let rate = reader.sample_rate();
    progress.begin(Pass::Listening, reader.declared_frames());
    let scoring = purpose == Purpose::Scoring;
    let mut listener = Listener::new(rate);
    let mut meter = scoring.then(|| HealthMeter::new(rate));
    let mut ear = ClickEar::new(rate);
    while let Some((block, beside)) = reader.next_blocks()? {
        listener.push(block);
        if let Some(meter) = &mut meter {
            meter.push(block);
        }
        ear.push(beside);
        if progress.advance(block.len() as u64).is_break() {
            return Err(TakeError::Stopped);
        }
    }
    let (channel, channel_used) = (reader.channel(), reader.channel_note());
    let summary = reader.finish();
    Ok(Heard {
        take: summary.info,
        rate,
        channel,
        channel_used,
        attacks: if scoring { listener.finish_all() } else { listener.finish() },
        health: meter.map(|m| m.finish(summary.non_finite_samples)),
        clicks: ear.finish(),
        warnings: summary.warnings,
    })
}

/// The clicks of a file, in its own time, with their levels.
///
/// # Errors
/// A file that cannot be read.
pub fn clicks(file: &Path, channel: ChannelChoice) -> Result<Vec<(Seconds, Decibels)>, TakeError> {
    let mut reader = TakeReader::open(file, channel)?;
    let mut ear = ClickEar::new(reader.sample_rate());
    while let Some(block) = reader.next_block()? {
        ear.push(block);
    }
    Ok(ear.finish())
}
