//! A take's sound as a file that every current browser plays, made while the samples come: a second of them is held, and
//! the file lies on the disk.

use crate::AudioError;
use flacenc::bitsink::ByteSink;
use flacenc::component::{BitRepr, Stream};
use flacenc::config::Encoder;
use flacenc::encode_fixed_size_frame;
use flacenc::error::{Verified, Verify};
use flacenc::source::{Context, Fill, FrameBuf};
use std::fs::File;
use std::io::{self, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::PathBuf;
use takegauge_units::SampleRate;

/// A sound file without a name, which goes with this value.
#[derive(Debug)]
pub struct EmbeddedSound {
    file: File,
    /// Its media type (IANA): `audio/flac` or `audio/wav`.
    pub media_type: &'static str,
}

impl EmbeddedSound {
    /// The file's bytes from the first on.
    ///
    /// # Errors
    /// [`AudioError::Write`] where the disk fails.
    pub fn reader(&mut self) -> Result<impl Read + '_, AudioError> {
        self.file.rewind().map_err(fail)?;
        Ok(io::BufReader::with_capacity(1 << 16, &mut self.file))
    }
}

fn fail(source: io::Error) -> AudioError {
    AudioError::Write { path: PathBuf::from("sound in the report"), source }
}

/// Makes 16-bit mono FLAC, or WAV where the encoder will not take the rate.
pub struct SoundEncoder(To);

enum To {
    Flac(Box<Flac>),
    Wav(hound::WavWriter<BufWriter<File>>, File),
}

struct Flac {
    config: Verified<Encoder>,
    /// Its head, which is written once all is known.
    stream: Stream,
    frame: FrameBuf,
    counted: Context,
    /// Samples of a frame that is not full yet.
    waiting: Vec<i32>,
    out: BufWriter<File>,
}

impl SoundEncoder {
    /// Begins a sound at the rate given.
    ///
    /// # Errors
    /// [`AudioError::Write`] where there is no room for a temporary file.
    pub fn new(rate: SampleRate) -> Result<Self, AudioError> {
        let file = tempfile::tempfile().map_err(fail)?;
        if let Some(flac) = file.try_clone().ok().and_then(|f| Flac::new(rate, f)) {
            return Ok(Self(To::Flac(Box::new(flac))));
        }
        let spec = hound::WavSpec {
            channels: 1,
            sample_rate: rate.hz(),
            bits_per_sample: 16,
            sample_format: hound::SampleFormat::Int,
        };
        let out = BufWriter::with_capacity(1 << 16, file.try_clone().map_err(fail)?);
        let wav = hound::WavWriter::new(out, spec).map_err(|e| fail(io::Error::other(e.to_string())))?;
        Ok(Self(To::Wav(wav, file)))
    }

    /// Takes the next samples; beyond full scale they are clipped, NaN becomes 0.
    ///
    /// # Errors
    /// [`AudioError::Write`]: no room, or more than a WAV file can hold.
    pub fn push(&mut self, samples: &[f32]) -> Result<(), AudioError> {
        // `as` saturates, and takes NaN to 0.
        let whole = samples.iter().map(|x| (x * 32_767.0).round() as i16);
        match &mut self.0 {
            To::Flac(flac) => {
                for x in whole {
                    flac.waiting.push(i32::from(x));
                    if flac.waiting.len() == flac.config.block_size {
                        flac.write_frame().map_err(fail)?;
                    }
                }
                Ok(())
            }
            To::Wav(wav, _) => {
                for x in whole {
                    wav.write_sample(x).map_err(|e| fail(io::Error::other(e.to_string())))?;
                }
                Ok(())
            }
        }
    }

    /// The whole file.
    ///
    /// # Errors
    /// [`AudioError::Write`].
    pub fn finish(self) -> Result<EmbeddedSound, AudioError> {
        match self.0 {
            To::Flac(flac) => Ok(EmbeddedSound { file: flac.finish().map_err(fail)?, media_type: "audio/flac" }),
            To::Wav(wav, file) => {
                wav.finalize().map_err(|e| fail(io::Error::other(e.to_string())))?;
                Ok(EmbeddedSound { file, media_type: "audio/wav" })
            }
        }
    }
}

impl Flac {
    fn new(rate: SampleRate, file: File) -> Option<Self> {
        let config = Encoder::default().into_verified().ok()?;
        let mut stream = Stream::new(rate.hz() as usize, 1, 16).ok()?;
        // RFC 9639 section 8.2: the smallest block size does not count the last block; decoders stumble over it
        // otherwise.
        stream.stream_info_mut().set_block_sizes(config.block_size, config.block_size).ok()?;
        let mut out = BufWriter::with_capacity(1 << 16, file);
        out.write_all(&bytes(&stream).ok()?).ok()?;
        let frame = FrameBuf::with_size(1, config.block_size).ok()?;
        Some(Self { config, stream, frame, counted: Context::new(16, 1), waiting: Vec::new(), out })
    }

    fn write_frame(&mut self) -> io::Result<()> {
        let other = |e: &dyn std::fmt::Display| io::Error::other(e.to_string());
        self.frame.fill_interleaved(&self.waiting).map_err(|e| other(&e))?;
        self.counted.fill_interleaved(&self.waiting).map_err(|e| other(&e))?;
        self.waiting.clear();
        let number = self.counted.current_frame_number().unwrap_or(0);
        let frame = encode_fixed_size_frame(&self.config, &self.frame, number, self.stream.stream_info())
            .map_err(|e| other(&e))?;
        self.stream.stream_info_mut().update_frame_info(&frame);
        self.out.write_all(&bytes(&frame)?)
    }

    fn finish(mut self) -> io::Result<File> {
        if !self.waiting.is_empty() {
            self.write_frame()?;
        }
        let other = |e: &dyn std::fmt::Display| io::Error::other(e.to_string());
        let size = self.config.block_size;
        let info = self.stream.stream_info_mut();
        info.set_block_sizes(size, size).map_err(|e| other(&e))?;
        info.set_md5_digest(&self.counted.md5_digest());
        info.set_total_samples(self.counted.total_samples());
        self.out.seek(SeekFrom::Start(0))?;
        self.out.write_all(&bytes(&self.stream)?)?;
        self.out.into_inner().map_err(io::IntoInnerError::into_error)
    }
}

fn bytes(part: &impl BitRepr) -> io::Result<Vec<u8>> {
    let mut sink = ByteSink::new();
    part.write(&mut sink).map_err(|e| io::Error::other(e.to_string()))?;
    Ok(sink.as_slice().to_vec())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn made(samples: &[f32], hz: u32) -> (Vec<u8>, &'static str) {
        let mut encoder = SoundEncoder::new(SampleRate::new(hz).unwrap()).unwrap();
        // In pieces as odd as they come.
        for piece in samples.chunks(1237) {
            encoder.push(piece).unwrap();
        }
        let mut sound = encoder.finish().unwrap();
        let mut bytes = Vec::new();
        sound.reader().unwrap().read_to_end(&mut bytes).unwrap();
        (bytes, sound.media_type)
    }

    #[test]
    fn the_sound_comes_back_as_it_went_in() {
        let samples: Vec<f32> = (0..20_000).map(|n| (n as f32 * 0.05).sin() * 0.5).collect();
        let (bytes, media_type) = made(&samples, 44_100);
        assert_eq!(media_type, "audio/flac");
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("sound.flac");
        std::fs::write(&path, &bytes).unwrap();
        let (back, summary) = crate::read_all(&path, crate::ChannelChoice::Auto).unwrap();
        assert_eq!((summary.info.sample_rate_hz.hz(), summary.warnings.len()), (44_100, 0));
        assert_eq!(back.len(), samples.len());
        assert!(back.iter().zip(&samples).all(|(a, b)| (a - b).abs() < 1e-4));
    }

    #[test]
    fn nothing_and_odd_rates_still_make_a_file() {
        assert!(made(&[], 44_100).0.len() >= 42);
        for hz in [8_000, 11_025, 96_000, 192_000] {
            assert!(made(&[0.1; 5000], hz).0.len() > 42, "{hz}");
        }
    }
}
