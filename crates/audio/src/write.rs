//! Files that appear whole or not at all, and WAV files among them.

use crate::AudioError;
use crate::cues::{self, Cue};
use crate::long;
use std::ffi::OsString;
use std::fs::{File, Metadata};
use std::io::{self, BufWriter, Error, ErrorKind, Seek, Write};
use std::path::{Path, PathBuf};
use takegauge_units::SampleRate;
use tempfile::NamedTempFile;

/// What a `write_whole` closure writes into: buffered, seekable.
pub type WholeFile = BufWriter<File>;

/// Writes `path` whole or not at all: `fill` writes a temporary file in the same folder, which then takes the name.
/// If `fill` or the system fails, whatever stood at `path` before is untouched and nothing is left behind. Where `path`
/// is a symbolic link, what it points to is written; a device or pipe gets the bytes once `fill` is done.
///
/// # Errors
/// [`AudioError::NoFolder`]; [`AudioError::Write`] with the system's or the closure's error.
pub fn write_whole<F>(path: &Path, fill: F) -> Result<(), AudioError>
where
    F: FnOnce(&mut WholeFile) -> io::Result<()>,
{
    let fail = |source| AudioError::Write { path: path.to_path_buf(), source };
    let whole = Unfinished::begin(path)?;
    let mut out = BufWriter::with_capacity(1 << 16, whole.file().map_err(fail)?);
    fill(&mut out).map_err(fail)?;
    out.flush().map_err(fail)?;
    drop(out);
    whole.complete().map_err(fail)
}

/// What will be at a path once it is complete.
enum Unfinished {
    /// A file in the target's folder, which takes the target's name, or goes away with this value.
    Beside { temp: NamedTempFile, target: PathBuf },
    /// A device, pipe or socket cannot be replaced by a file: what it is to get is made elsewhere and then poured in.
    Through { temp: File, target: PathBuf },
}

impl Unfinished {
    fn begin(path: &Path) -> Result<Self, AudioError> {
        let fail = |source| AudioError::Write { path: path.to_path_buf(), source };
        let target = behind_links(path).map_err(fail)?;
        let folder = folder_of(&target);
        if std::fs::metadata(folder).is_err_and(|e| e.kind() == ErrorKind::NotFound) {
            return Err(AudioError::NoFolder { path: path.to_path_buf(), folder: folder.to_path_buf() });
        }
        Self::at(target).map_err(fail)
    }

    fn at(target: PathBuf) -> io::Result<Self> {
        let there = match std::fs::metadata(&target) {
            Ok(there) => Some(there),
            Err(e) if e.kind() == ErrorKind::NotFound => None,
            Err(e) => return Err(e),
        };
        if there.as_ref().is_some_and(Metadata::is_dir) {
            return Err(Error::new(ErrorKind::IsADirectory, "this is a folder"));
        }
        if there.as_ref().is_some_and(|m| !m.is_file()) {
            return Ok(Self::Through { temp: tempfile::tempfile()?, target });
        }
        let name = target.file_name().ok_or_else(|| Error::new(ErrorKind::InvalidInput, "no file name"))?;
        let mut begin = OsString::from(".");
        begin.push(name);
        begin.push(".");
        let mut new = tempfile::Builder::new();
        new.prefix(&begin).suffix(".part");
        // The rights of the file it replaces, else those that any new file gets here.
        #[cfg(unix)]
        new.permissions(std::os::unix::fs::PermissionsExt::from_mode(0o666));
        let temp = new.tempfile_in(folder_of(&target))?;
        if let Some(there) = there {
            // Not every file system knows rights; the text matters more.
            let _ = temp.as_file().set_permissions(there.permissions());
        }
        Ok(Self::Beside { temp, target })
    }

    fn file(&self) -> io::Result<File> {
        match self {
            Self::Beside { temp, .. } => temp.as_file().try_clone(),
            Self::Through { temp, .. } => temp.try_clone(),
        }
    }

    fn complete(self) -> io::Result<()> {
        match self {
            Self::Beside { temp, target } => {
                // On the disk before it takes the name, else a power cut could leave an empty file under it.
                temp.as_file().sync_all()?;
                let folder = folder_of(&target).to_path_buf();
                temp.persist(target).map_err(|e| e.error)?;
                sync_folder(&folder);
                Ok(())
            }
            Self::Through { mut temp, target } => {
                temp.rewind()?;
                io::copy(&mut temp, &mut File::options().write(true).open(target)?).map(drop)
            }
        }
    }
}

fn folder_of(target: &Path) -> &Path {
    target.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."))
}

/// Puts a folder's list of names on the disk. Not every system lets a folder be opened; the file itself is safe then
/// too, under its old name or its new one.
fn sync_folder(folder: &Path) {
    if let Ok(folder) = File::open(folder) {
        let _ = folder.sync_all();
    }
}

/// The path behind symbolic links, which need not exist yet: a link stays a link, what it points to is written.
fn behind_links(path: &Path) -> io::Result<PathBuf> {
    // Linux's own limit.
    const MOST: usize = 40;
    let mut at = path.to_path_buf();
    for _ in 0..MOST {
        match std::fs::read_link(&at) {
            Ok(to) => at = at.parent().unwrap_or(Path::new("")).join(to),
            Err(_) => return Ok(at),
        }
    }
    Err(Error::new(ErrorKind::InvalidInput, "too many symbolic links one behind the other"))
}

/// How samples are stored in a WAV file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WavFormat {
    /// 16-bit integers.
    Int16,
    /// 24-bit integers.
    Int24,
    /// 32-bit floating point; nothing is clipped or rounded.
    Float32,
}

/// A WAV file in the making: interleaved frames in, the file appears at [`WavWriter::finish`] or not at all.
pub struct WavWriter {
    path: PathBuf,
    whole: Unfinished,
    format: WavFormat,
    to: To,
}

/// What takes the samples.
enum To {
    Wav(hound::WavWriter<BufWriter<File>>),
    /// RF64, for what a WAV file cannot hold.
    Long {
        out: BufWriter<File>,
        frame_bytes: u64,
    },
}

impl WavFormat {
    fn bits(self) -> u16 {
        match self {
            Self::Int16 => 16,
            Self::Int24 => 24,
            Self::Float32 => 32,
        }
    }
}

/// Bytes of samples that a WAV file may hold, with room for its head and for cue points behind them.
const WAV_BYTES: u64 = u32::MAX as u64 - (64 << 20);

impl WavWriter {
    /// Begins a file of `channels` channels.
    ///
    /// # Errors
    /// [`AudioError::NoFolder`]; [`AudioError::Write`]: the folder cannot be written, or 0 channels.
    pub fn create(path: &Path, rate: SampleRate, channels: u16, format: WavFormat) -> Result<Self, AudioError> {
        Self::for_frames(path, rate, channels, format, 0)
    }

    /// Begins a file of about `frames` frames: RF64 (EBU Tech 3306) where they are more than a WAV file holds.
    ///
    /// # Errors
    /// As [`Self::create`].
    pub fn for_frames(
        path: &Path,
        rate: SampleRate,
        channels: u16,
        format: WavFormat,
        frames: u64,
    ) -> Result<Self, AudioError> {
        let fail = |source| AudioError::Write { path: path.to_path_buf(), source };
        if channels == 0 {
            return Err(fail(Error::new(ErrorKind::InvalidInput, "0 channels")));
        }
        let whole = Unfinished::begin(path)?;
        let mut out = BufWriter::with_capacity(1 << 16, whole.file().map_err(fail)?);
        let frame_bytes = u64::from(channels) * u64::from(format.bits() / 8);
        let float = format == WavFormat::Float32;
        let to = if frames.saturating_mul(frame_bytes) > WAV_BYTES {
            long::write_head(&mut out, rate, channels, format.bits(), float).map_err(fail)?;
            To::Long { out, frame_bytes }
        } else {
            let sample_format = if float { hound::SampleFormat::Float } else { hound::SampleFormat::Int };
            let bits_per_sample = format.bits();
            let spec = hound::WavSpec { channels, sample_rate: rate.hz(), bits_per_sample, sample_format };
            To::Wav(hound::WavWriter::new(out, spec).map_err(|e| fail(io_error(e)))?)
        };
        Ok(Self { path: path.to_path_buf(), whole, format, to })
    }

    /// Adds interleaved samples, full scale +-1; integers are rounded and clipped at full scale, NaN becomes 0.
    ///
    /// # Errors
    /// [`AudioError::Write`]: no room, or more than was announced and a WAV file can hold (4 GiB).
    pub fn write(&mut self, interleaved: &[f32]) -> Result<(), AudioError> {
        let format = self.format;
        let put = match &mut self.to {
            To::Wav(wav) => interleaved
                .iter()
                .try_for_each(|x| match format {
                    WavFormat::Int16 => wav.write_sample(int16(*x)),
                    WavFormat::Int24 => wav.write_sample(int24(*x)),
                    WavFormat::Float32 => wav.write_sample(float32(*x)),
                })
                .map_err(io_error),
            To::Long { out, .. } => interleaved.iter().try_for_each(|x| match format {
                WavFormat::Int16 => out.write_all(&int16(*x).to_le_bytes()),
                WavFormat::Int24 => out.write_all(&int24(*x).to_le_bytes()[..3]),
                WavFormat::Float32 => out.write_all(&float32(*x).to_le_bytes()),
            }),
        };
        put.map_err(|source| AudioError::Write { path: self.path.clone(), source })
    }

    /// Completes the file under its name.
    ///
    /// # Errors
    /// [`AudioError::Write`], also where the number of samples is not a whole number of frames.
    pub fn finish(self) -> Result<(), AudioError> {
        self.complete(None)
    }

    /// The same with cue points, in any order, behind the sound.
    ///
    /// # Errors
    /// Those of [`Self::finish`], and more than the format can hold.
    pub fn finish_with_cues(self, cues: &[Cue]) -> Result<(), AudioError> {
        self.complete(Some(cues))
    }

    fn complete(self, cues: Option<&[Cue]>) -> Result<(), AudioError> {
        let Self { path, whole, to, .. } = self;
        let fail = |source| AudioError::Write { path: path.clone(), source };
        match to {
            To::Wav(wav) => wav.finalize().map_err(|e| fail(io_error(e)))?,
            To::Long { mut out, frame_bytes } => long::close(&mut out, frame_bytes).map_err(fail)?,
        }
        if let Some(cues) = cues {
            let mut file = whole.file().map_err(fail)?;
            cues::append(&mut file, cues).map_err(fail)?;
        }
        whole.complete().map_err(fail)
    }
}

/// `as` saturates, and takes NaN to 0.
fn int16(x: f32) -> i16 {
    (x * 32_768.0).round() as i16
}

fn int24(x: f32) -> i32 {
    ((f64::from(x) * 8_388_608.0).round() as i32).clamp(-8_388_608, 8_388_607)
}

fn float32(x: f32) -> f32 {
    if x.is_nan() { 0.0 } else { x }
}

fn io_error(e: hound::Error) -> Error {
    match e {
        hound::Error::IoError(e) => e,
        other => Error::other(other.to_string()),
    }
}

/// Writes a whole WAV file from interleaved samples in memory.
///
/// # Errors
/// [`AudioError::NoFolder`], [`AudioError::Write`].
pub fn write_wav(
    path: &Path,
    rate: SampleRate,
    channels: u16,
    format: WavFormat,
    interleaved: &[f32],
) -> Result<(), AudioError> {
    let mut out = WavWriter::create(path, rate, channels, format)?;
    out.write(interleaved)?;
    out.finish()
}

const _: fn() = || {
    fn seekable<T: Write + Seek>() {}
    seekable::<WholeFile>();
};
