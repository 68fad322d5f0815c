//! Files that appear whole or not at all, and WAV files among them.

use crate::AudioError;
use crate::cues::{self, Cue};
use std::fs::File;
use std::io::{BufWriter, Seek, Write};
use std::path::{Path, PathBuf};
use takegauge_units::SampleRate;

/// What a `write_whole` closure writes into: buffered, seekable.
pub type WholeFile = BufWriter<File>;

/// Writes `path` whole or not at all: `fill` writes a temporary file in the same folder, which then takes the name.
/// If `fill` or the system fails, whatever stood at `path` before is untouched and nothing is left behind.
///
/// # Errors
/// [`AudioError::Write`] with the system's or the closure's error.
pub fn write_whole<F>(path: &Path, fill: F) -> Result<(), AudioError>
where
    F: FnOnce(&mut WholeFile) -> std::io::Result<()>,
{
    let fail = |source| AudioError::Write { path: path.to_path_buf(), source };
    let mut temp = TempFile::create(path).map_err(fail)?;
    let mut out = BufWriter::with_capacity(1 << 16, temp.file().map_err(fail)?);
    fill(&mut out).map_err(fail)?;
    out.flush().map_err(fail)?;
    drop(out);
    temp.rename_to(path).map_err(fail)
}

/// A file beside the target that removes itself unless it was renamed.
#[derive(Debug)]
struct TempFile {
    path: Option<PathBuf>,
    file: File,
}

impl TempFile {
    fn create(target: &Path) -> std::io::Result<Self> {
        use std::io::{Error, ErrorKind};
        if target.is_dir() {
            return Err(Error::new(ErrorKind::IsADirectory, "this is a folder"));
        }
        let name = target.file_name().ok_or_else(|| Error::new(ErrorKind::InvalidInput, "no file name"))?;
        for attempt in 0..100u32 {
            let mut temp_name = std::ffi::OsString::from(".");
            temp_name.push(name);
            temp_name.push(format!(".{}-{attempt}.part", std::process::id()));
            let path = target.with_file_name(temp_name);
            match File::options().read(true).write(true).create_new(true).open(&path) {
                Ok(file) => return Ok(Self { path: Some(path), file }),
                Err(e) if e.kind() == ErrorKind::AlreadyExists => {}
                Err(e) => return Err(e),
            }
        }
        Err(Error::new(ErrorKind::AlreadyExists, "no free temporary name in the folder"))
    }

    fn file(&self) -> std::io::Result<File> {
        self.file.try_clone()
    }

    fn rename_to(&mut self, target: &Path) -> std::io::Result<()> {
        if let Some(path) = &self.path {
            std::fs::rename(path, target)?;
        }
        self.path = None;
        Ok(())
    }
}

impl Drop for TempFile {
    fn drop(&mut self) {
        if let Some(path) = &self.path {
            // Nothing more can be done about a temporary file that will not go.
            let _ = std::fs::remove_file(path);
        }
    }
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
    temp: TempFile,
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
            return Err(fail(std::io::Error::new(std::io::ErrorKind::InvalidInput, "0 channels")));
        }
        let (bits_per_sample, sample_format) = match format {
            WavFormat::Int16 => (16, hound::SampleFormat::Int),
            WavFormat::Int24 => (24, hound::SampleFormat::Int),
            WavFormat::Float32 => (32, hound::SampleFormat::Float),
        };
        let spec = hound::WavSpec { channels, sample_rate: rate.hz(), bits_per_sample, sample_format };
        let temp = TempFile::create(path).map_err(fail)?;
        let out = BufWriter::with_capacity(1 << 16, temp.file().map_err(fail)?);
        let wav = hound::WavWriter::new(out, spec).map_err(|e| fail(io_error(e)))?;
        Ok(Self { path: path.to_path_buf(), temp, format, wav })
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

    fn complete(mut self, cues: Option<&[Cue]>) -> Result<(), AudioError> {
        let fail = |source| AudioError::Write { path: self.path.clone(), source };
        self.wav.finalize().map_err(|e| fail(io_error(e)))?;
        if let Some(cues) = cues {
            let mut file = self.temp.file().map_err(fail)?;
            cues::append(&mut file, cues).map_err(fail)?;
        }
        self.temp.rename_to(&self.path).map_err(fail)
    }
}

fn io_error(e: hound::Error) -> std::io::Error {
    match e {
        hound::Error::IoError(e) => e,
        other => std::io::Error::other(other.to_string()),
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
