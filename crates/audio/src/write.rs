//! Files that appear whole or not at all, and WAV files among them.

use crate::AudioError;
use crate::cues::{self, Cue};
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
/// [`AudioError::Write`] with the system's or the closure's error.
pub fn write_whole<F>(path: &Path, fill: F) -> Result<(), AudioError>
where
    F: FnOnce(&mut WholeFile) -> io::Result<()>,
{
    let fail = |source| AudioError::Write { path: path.to_path_buf(), source };
    let whole = Unfinished::begin(path).map_err(fail)?;
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
    fn begin(path: &Path) -> io::Result<Self> {
        let target = behind_links(path)?;
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
        let folder = target.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let temp = new.tempfile_in(folder)?;
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
            Self::Beside { temp, target } => temp.persist(target).map(drop).map_err(|e| e.error),
            Self::Through { mut temp, target } => {
                temp.rewind()?;
                io::copy(&mut temp, &mut File::options().write(true).open(target)?).map(drop)
            }
        }
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
    wav: hound::WavWriter<BufWriter<File>>,
}

impl WavWriter {
    /// Begins a file of `channels` channels.
    ///
    /// # Errors
    /// [`AudioError::Write`]: the folder cannot be written, or 0 channels.
    pub fn create(path: &Path, rate: SampleRate, channels: u16, format: WavFormat) -> Result<Self, AudioError> {
        let fail = |source| AudioError::Write { path: path.to_path_buf(), source };
        if channels == 0 {
            return Err(fail(Error::new(ErrorKind::InvalidInput, "0 channels")));
        }
        let (bits_per_sample, sample_format) = match format {
            WavFormat::Int16 => (16, hound::SampleFormat::Int),
            WavFormat::Int24 => (24, hound::SampleFormat::Int),
            WavFormat::Float32 => (32, hound::SampleFormat::Float),
        };
        let spec = hound::WavSpec { channels, sample_rate: rate.hz(), bits_per_sample, sample_format };
        let whole = Unfinished::begin(path).map_err(fail)?;
        let out = BufWriter::with_capacity(1 << 16, whole.file().map_err(fail)?);
        let wav = hound::WavWriter::new(out, spec).map_err(|e| fail(io_error(e)))?;
        Ok(Self { path: path.to_path_buf(), whole, format, wav })
    }

    /// Adds interleaved samples, full scale +-1; integers are rounded and clipped at full scale, NaN becomes 0.
    ///
    /// # Errors
    /// [`AudioError::Write`]: no room, or more than a WAV file can hold (4 GiB).
    pub fn write(&mut self, interleaved: &[f32]) -> Result<(), AudioError> {
        let mut put = || -> Result<(), hound::Error> {
            for &x in interleaved {
                match self.format {
                    // `as` saturates, and takes NaN to 0.
                    WavFormat::Int16 => self.wav.write_sample((x * 32_768.0).round() as i16)?,
                    WavFormat::Int24 => {
                        let v = (f64::from(x) * 8_388_608.0).round() as i32;
                        self.wav.write_sample(v.clamp(-8_388_608, 8_388_607))?;
                    }
                    WavFormat::Float32 => self.wav.write_sample(if x.is_nan() { 0.0 } else { x })?,
                }
            }
            Ok(())
        };
        put().map_err(|e| AudioError::Write { path: self.path.clone(), source: io_error(e) })
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
        let Self { path, whole, wav, .. } = self;
        let fail = |source| AudioError::Write { path: path.clone(), source };
        wav.finalize().map_err(|e| fail(io_error(e)))?;
        if let Some(cues) = cues {
            let mut file = whole.file().map_err(fail)?;
            cues::append(&mut file, cues).map_err(fail)?;
        }
        whole.complete().map_err(fail)
    }
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
/// [`AudioError::Write`].
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
