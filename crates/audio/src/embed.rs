//! A take's sound as a file in memory that every current browser plays.

use crate::AudioError;
use flacenc::component::BitRepr;
use flacenc::error::Verify;
use std::io::Cursor;
use std::path::PathBuf;
use takegauge_units::SampleRate;

/// A sound file in memory.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct EmbeddedSound {
    /// The file.
    pub bytes: Vec<u8>,
    /// Its media type (IANA): `audio/flac` or `audio/wav`.
    pub media_type: &'static str,
}

/// 16-bit mono FLAC, or WAV where the encoder will not take the rate or length. Samples beyond full scale are
/// clipped, NaN becomes 0.
///
/// # Errors
/// [`AudioError::Write`] where neither can be made (more than 4 GiB).
pub fn embed(samples: &[f32], rate: SampleRate) -> Result<EmbeddedSound, AudioError> {
    // `as` saturates, and takes NaN to 0.
    let whole: Vec<i16> = samples.iter().map(|x| (x * 32_767.0).round() as i16).collect();
    if let Some(bytes) = flac(&whole, rate) {
        return Ok(EmbeddedSound { bytes, media_type: "audio/flac" });
    }
    let bytes = wav(&whole, rate).map_err(|e| AudioError::Write {
        path: PathBuf::from("sound in the report"),
        source: std::io::Error::other(e.to_string()),
    })?;
    Ok(EmbeddedSound { bytes, media_type: "audio/wav" })
}

fn flac(samples: &[i16], rate: SampleRate) -> Option<Vec<u8>> {
    if samples.is_empty() {
        return None;
    }
    let wide: Vec<i32> = samples.iter().map(|x| i32::from(*x)).collect();
    let source = flacenc::source::MemSource::from_samples(&wide, 1, 16, rate.hz() as usize);
    let config = flacenc::config::Encoder::default().into_verified().ok()?;
    let mut stream = flacenc::encode_with_fixed_block_size(&config, source, config.block_size).ok()?;
    // RFC 9639 section 8.2: the smallest block size does not count the last block; decoders stumble over it otherwise.
    stream.stream_info_mut().set_block_sizes(config.block_size, config.block_size).ok()?;
    let mut sink = flacenc::bitsink::ByteSink::new();
    stream.write(&mut sink).ok()?;
    Some(sink.as_slice().to_vec())
}

fn wav(samples: &[i16], rate: SampleRate) -> Result<Vec<u8>, hound::Error> {
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: rate.hz(),
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut bytes = Cursor::new(Vec::new());
    let mut out = hound::WavWriter::new(&mut bytes, spec)?;
    for x in samples {
        out.write_sample(*x)?;
    }
    out.finalize()?;
    Ok(bytes.into_inner())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_sound_comes_back_as_it_went_in() {
        let rate = SampleRate::new(44_100).unwrap();
        let samples: Vec<f32> = (0..20_000).map(|n| (n as f32 * 0.05).sin() * 0.5).collect();
        let sound = embed(&samples, rate).unwrap();
        assert_eq!(sound.media_type, "audio/flac");
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("sound.flac");
        std::fs::write(&path, &sound.bytes).unwrap();
        let (back, summary) = crate::read_all(&path, crate::ChannelChoice::Auto).unwrap();
        assert_eq!(summary.info.sample_rate_hz, rate);
        assert_eq!(back.len(), samples.len());
        assert!(back.iter().zip(&samples).all(|(a, b)| (a - b).abs() < 1e-4));
    }

    #[test]
    fn nothing_and_odd_rates_still_make_a_file() {
        assert_eq!(embed(&[], SampleRate::new(44_100).unwrap()).unwrap().media_type, "audio/wav");
        for hz in [8_000, 11_025, 96_000, 192_000] {
            assert!(!embed(&[0.1; 5000], SampleRate::new(hz).unwrap()).unwrap().bytes.is_empty());
        }
    }
}
