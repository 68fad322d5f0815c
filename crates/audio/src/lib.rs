//! Takes decoded to blocks of mono samples, and files written whole.
//!
//! Conventions: samples are f32, full scale +-1; channels count from 1; sample 0 of what is handed out is the first
//! sample of the recording itself, with the encoder's delay removed wherever the file states it.

mod channel;
mod codec;
mod cues;
mod edits;
mod embed;
mod endings;
mod error;
mod forged;
mod guard;
mod health;
mod limits;
mod long;
mod matroska;
mod open;
mod opus;
mod pcm;
mod picture;
mod reader;
mod recording;
mod sniff;
mod source;
mod write;

pub use channel::{ChannelChoice, ChannelParseError, ChannelUsed};
pub use cues::Cue;
pub use embed::{EmbeddedSound, SoundEncoder};
pub use endings::{ending_of_recording, film_type, media_type};
pub use error::AudioError;
pub use health::{Health, HealthMeter, Problem, ProblemKind};
pub use limits::{LONGEST_HOURS, MAX_BLOCK, MOST_CHANNELS};
pub use picture::{FrameLength, frame_length};
pub use reader::{ReadSummary, TakeReader, path_text, read_all};
pub use recording::{Recording, Samples};
pub use write::{WavFormat, WavWriter, WholeFile, write_wav, write_whole};
