//! Which channel of a recording is listened to.

use std::fmt;
use std::str::FromStr;

/// The player's choice of channel. Channels count from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ChannelChoice {
    /// The mix of all channels, or the one channel that carries signal.
    #[default]
    Auto,
    /// The mean of all channels.
    Mix,
    /// Channel 1.
    Left,
    /// Channel 2.
    Right,
    /// A channel by its number, from 1.
    Number(u16),
}

/// A text that is no channel choice.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is no channel; give left, right, mix, auto, or a number from 1")]
pub struct ChannelParseError(String);

impl FromStr for ChannelChoice {
    type Err = ChannelParseError;

    fn from_str(s: &str) -> Result<Self, Self::Err> {
        match s.trim().to_ascii_lowercase().as_str() {
            "auto" => Ok(Self::Auto),
            "mix" => Ok(Self::Mix),
            "left" => Ok(Self::Left),
            "right" => Ok(Self::Right),
            other => match other.parse::<u16>() {
                Ok(n) if n >= 1 => Ok(Self::Number(n)),
                _ => Err(ChannelParseError(s.to_owned())),
            },
        }
    }
}

impl fmt::Display for ChannelChoice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Auto => f.write_str("auto"),
            Self::Mix => f.write_str("mix"),
            Self::Left => f.write_str("left"),
            Self::Right => f.write_str("right"),
            Self::Number(n) => write!(f, "{n}"),
        }
    }
}

/// What was settled on, once the file's channels are known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ChannelUsed {
    /// The file has one channel.
    Only,
    /// The mean of all channels.
    Mix,
    /// One channel that the user named, from 1.
    Chosen(u16),
    /// The one channel that carries signal, from 1.
    Loudest(u16),
    /// One channel of several that cancel each other in the mix, from 1.
    InsteadOfCancelling(u16),
}

impl ChannelUsed {
    /// The channel's place from 0; `None` for a mix.
    pub fn index(self) -> Option<usize> {
        match self {
            Self::Only => Some(0),
            Self::Mix => None,
            Self::Chosen(n) | Self::Loudest(n) | Self::InsteadOfCancelling(n) => Some(usize::from(n.saturating_sub(1))),
        }
    }

    /// In plain words, for a file of `channels` channels.
    pub fn words(self, channels: u16) -> String {
        match self {
            Self::Only => "the file's only channel".to_owned(),
            Self::Mix => format!("the mix of {channels} channels"),
            Self::Chosen(n) => format!("{} of {channels}, as asked", name(n, channels)),
            Self::Loudest(n) => format!("{} of {channels}, the only one that carries signal", name(n, channels)),
            Self::InsteadOfCancelling(n) => {
                format!("{} of {channels}, because the channels cancel each other when mixed", name(n, channels))
            }
        }
    }
}

fn name(n: u16, channels: u16) -> String {
    match (n, channels) {
        (1, 2) => "channel 1 (left)".to_owned(),
        (2, 2) => "channel 2 (right)".to_owned(),
        _ => format!("channel {n}"),
    }
}

/// A channel this far below the loudest carries no take: a free input's noise, or leakage between inputs.
const EMPTY_BELOW_DB: f64 = 30.0;
/// A mix this far below its loudest channel is one that cancels (one side's polarity turned).
const CANCELS_BELOW_DB: f64 = 15.0;

/// Sums of squares over a stretch of a file, from which `Auto` decides.
#[derive(Debug, Clone)]
pub(crate) struct ChannelEnergies {
    each: Vec<f64>,
    mix: f64,
    frames: u64,
}

impl ChannelEnergies {
    pub(crate) fn new(channels: usize) -> Self {
        Self { each: vec![0.0; channels], mix: 0.0, frames: 0 }
    }

    pub(crate) fn add(&mut self, planes: &[Vec<f32>], mix: &[f32]) {
        for (sum, plane) in self.each.iter_mut().zip(planes) {
            *sum += square_sum(plane);
        }
        self.mix += square_sum(mix);
        self.frames += mix.len() as u64;
    }

    /// Root mean square of the loudest channel so far.
    pub(crate) fn loudest_rms(&self) -> f64 {
        let top = self.each.iter().copied().fold(0.0, f64::max);
        if self.frames == 0 { 0.0 } else { (top / self.frames as f64).sqrt() }
    }

    pub(crate) fn decide(&self) -> ChannelUsed {
        let mut loudest = 0;
        for (i, e) in self.each.iter().enumerate() {
            if *e > self.each[loudest] {
                loudest = i;
            }
        }
        let Some(&top) = self.each.get(loudest) else { return ChannelUsed::Mix };
        let floor = top * 10f64.powf(-EMPTY_BELOW_DB / 10.0);
        let number = (loudest + 1) as u16;
        if top > 0.0 && self.each.iter().filter(|e| **e > floor).count() == 1 {
            ChannelUsed::Loudest(number)
        } else if self.mix < top * 10f64.powf(-CANCELS_BELOW_DB / 10.0) && top > 0.0 {
            ChannelUsed::InsteadOfCancelling(number)
        } else {
            ChannelUsed::Mix
        }
    }
}

fn square_sum(x: &[f32]) -> f64 {
    x.iter().map(|v| f64::from(*v) * f64::from(*v)).sum()
}

/// The mean of all planes into `out`.
pub(crate) fn mix_into(planes: &[Vec<f32>], out: &mut Vec<f32>) {
    out.clear();
    let Some((first, rest)) = planes.split_first() else { return };
    out.extend_from_slice(first);
    for plane in rest {
        for (o, v) in out.iter_mut().zip(plane) {
            *o += v;
        }
    }
    let scale = 1.0 / planes.len() as f32;
    for o in out.iter_mut() {
        *o *= scale;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn choices_are_read_and_shown_alike() {
        for text in ["auto", "mix", "left", "right", "1", "12"] {
            assert_eq!(text.parse::<ChannelChoice>().unwrap().to_string(), text);
        }
        assert_eq!("Left".parse(), Ok(ChannelChoice::Left));
        for bad in ["", "0", "-1", "both", "99999"] {
            assert!(bad.parse::<ChannelChoice>().unwrap_err().to_string().contains("left, right, mix"), "{bad}");
        }
    }

    fn decide(a: f32, b: f32) -> ChannelUsed {
        let planes = vec![vec![a; 10], vec![b; 10]];
        let mut mix = Vec::new();
        mix_into(&planes, &mut mix);
        let mut e = ChannelEnergies::new(2);
        e.add(&planes, &mix);
        e.decide()
    }

    #[test]
    fn one_live_side_is_taken_alone_and_opposite_sides_are_not_mixed() {
        assert_eq!(decide(0.5, 0.0001), ChannelUsed::Loudest(1));
        assert_eq!(decide(0.0, 0.2), ChannelUsed::Loudest(2));
        assert_eq!(decide(0.5, 0.1), ChannelUsed::Mix);
        assert_eq!(decide(0.5, -0.45), ChannelUsed::InsteadOfCancelling(1));
        assert_eq!(decide(0.0, 0.0), ChannelUsed::Mix);
    }
}
