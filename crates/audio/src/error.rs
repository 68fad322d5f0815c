//! What can go wrong with a take, sorted by what the player does next.

use std::path::PathBuf;

/// Why a take could not be read, or a file not written. Every text says what to do.
#[derive(Debug, thiserror::Error)]
pub enum AudioError {
    /// There is no file of that name.
    #[error("{}: no such file; check the name and the folder", .path.display())]
    NotFound {
        /// The file asked for.
        path: PathBuf,
    },
    /// The name is a folder's.
    #[error("{}: this is a folder; name one recording in it", .path.display())]
    Directory {
        /// The folder.
        path: PathBuf,
    },
    /// The file has no bytes at all.
    #[error("{}: the file is empty (0 bytes); export the take again", .path.display())]
    Empty {
        /// The file.
        path: PathBuf,
    },
    /// The operating system refused, or a device failed while reading.
    #[error("{}: cannot be read: {source}", .path.display())]
    Read {
        /// The file.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// No audio format was recognised in the file.
    #[error("{}: not an audio file of a known kind; export the take as WAV or FLAC", .path.display())]
    NotAudio {
        /// The file.
        path: PathBuf,
    },
    /// The container is known, and known not to be readable here (WavPack, WMA, ...).
    #[error("{}: this is {container}, which is not read here; {advice}", .path.display())]
    UnsupportedContainer {
        /// The file.
        path: PathBuf,
        /// What it is.
        container: &'static str,
        /// What to export instead.
        advice: &'static str,
    },
    /// A container without any sound (a video without a sound track, a file of subtitles).
    #[error("{}: no sound track in this file; export the sound as WAV or FLAC", .path.display())]
    NoAudioTrack {
        /// The file.
        path: PathBuf,
    },
    /// The sound is coded in a way that no decoder here handles (HE-AAC, AC-3, ...).
    #[error("{}: the sound is coded as {codec}, which is not read here; export it as WAV or FLAC (or AAC-LC, MP3, Ogg Vorbis, Opus)", .path.display())]
    UnsupportedCodec {
        /// The file.
        path: PathBuf,
        /// The codec's name.
        codec: String,
    },
    /// The file claims more than any recording holds (length, channels, size of packets), or unpacks to it.
    #[error("{}: it holds {what}; cut it into takes, or export it again as WAV or FLAC", .path.display())]
    TooMuch {
        /// The file.
        path: PathBuf,
        /// Of what, and the limit.
        what: String,
    },
    /// The header says 0 channels.
    #[error("{}: the file says that it has 0 channels; export the take again", .path.display())]
    NoChannels {
        /// The file.
        path: PathBuf,
    },
    /// A channel was asked for that the file does not have.
    #[error("{}: channel {wanted} was asked for, but the file has {has}; {}", .path.display(), channels(*.has))]
    NoSuchChannel {
        /// The file.
        path: PathBuf,
        /// Channel asked for, counted from 1.
        wanted: u16,
        /// How many there are.
        has: u16,
    },
    /// The sample rate is outside 8 to 192 kHz.
    #[error("{}: {rate_hz} samples a second; 8000 to 192000 are read; export at 44100 or 48000", .path.display())]
    Rate {
        /// The file.
        path: PathBuf,
        /// What the file says.
        rate_hz: u32,
    },
    /// An audio header and then not one sample that could be decoded.
    #[error("{}: no sound could be decoded from this {format} file ({reason}); export the take again", .path.display())]
    NoSamples {
        /// The file.
        path: PathBuf,
        /// The container's short name.
        format: String,
        /// What the decoder said.
        reason: String,
    },
    /// The folder that a file was to be written into is not there.
    #[error(
        "{}: the folder {} is not there; make the folder first, or give the output another name",
        .path.display(),
        .folder.display()
    )]
    NoFolder {
        /// The file asked for.
        path: PathBuf,
        /// Its folder; where the file is a symbolic link, that of what it points to.
        folder: PathBuf,
    },
    /// A file could not be written; whatever stood there before is untouched.
    #[error("{}: cannot be written: {source}; check that the folder is writable and has room", .path.display())]
    Write {
        /// The file asked for.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
}

/// Which channels may be asked for.
fn channels(has: u16) -> String {
    if has == 1 { "leave --channel out".to_owned() } else { format!("choose 1 to {has}, or mix") }
}
