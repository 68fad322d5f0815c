//! Codecs by name, and the ones that are refused although a decoder would start on them.

use symphonia::core::codecs::audio::well_known::*;
use symphonia::core::codecs::audio::{AudioCodecId, AudioCodecParameters, CODEC_ID_NULL_AUDIO};

/// A codec's name as exporters show it.
pub(crate) fn name(id: AudioCodecId) -> String {
    match id {
        CODEC_ID_OPUS => "Opus",
        CODEC_ID_SPEEX => "Speex",
        CODEC_ID_MUSEPACK => "Musepack",
        CODEC_ID_AC3 => "AC-3 (Dolby Digital)",
        CODEC_ID_EAC3 => "E-AC-3 (Dolby Digital Plus)",
        CODEC_ID_AC4 => "AC-4",
        CODEC_ID_DCA => "DTS",
        CODEC_ID_TRUEHD => "TrueHD",
        CODEC_ID_WMA => "Windows Media Audio",
        CODEC_ID_WAVPACK => "WavPack",
        CODEC_ID_MONKEYS_AUDIO => "Monkey's Audio",
        CODEC_ID_TTA => "True Audio (TTA)",
        CODEC_ID_AAC => "a form of AAC other than AAC-LC",
        CODEC_ID_MP1 => "MPEG layer I",
        CODEC_ID_NULL_AUDIO => "a codec unknown here",
        other => return format!("a codec not read here ({other})"),
    }
    .to_owned()
}

/// The name of a codec that must not be decoded although it could be begun: HE-AAC decodes, without its upper half
/// and its stereo, as plain AAC; a take without its upper half has no sharp attacks.
pub(crate) fn refused(params: &AudioCodecParameters) -> Option<String> {
    if params.codec != CODEC_ID_AAC {
        return None;
    }
    let config = params.extra_data.as_deref().unwrap_or_default();
    match object_type(config) {
        Some(5) => return Some("HE-AAC (AAC with SBR)".to_owned()),
        Some(29) => return Some("HE-AAC v2 (AAC with SBR and PS)".to_owned()),
        Some(42) => return Some("xHE-AAC (USAC)".to_owned()),
        _ => {}
    }
    backward_compatible_sbr(config).then(|| "HE-AAC (AAC with SBR)".to_owned())
}

/// The audio object type that opens an AudioSpecificConfig (ISO/IEC 14496-3, 1.6.2.1).
fn object_type(config: &[u8]) -> Option<u8> {
    let first = *config.first()?;
    match first >> 3 {
        31 => Some(32 + ((first & 7) << 3 | config.get(1)? >> 5)),
        kind => Some(kind),
    }
}

/// SBR signalled behind a plain AAC-LC configuration: the sync extension 0x2b7, object type 5 and the flag
/// (ISO/IEC 14496-3, 1.6.2.1), at the bit offset that GASpecificConfig without extras ends at.
fn backward_compatible_sbr(config: &[u8]) -> bool {
    let bits: Vec<bool> = config.iter().take(16).flat_map(|b| (0..8).rev().map(move |i| b >> i & 1 == 1)).collect();
    let value = |from: usize, n: usize| {
        bits.get(from..from + n).map(|b| b.iter().fold(0u32, |v, bit| v << 1 | u32::from(*bit)))
    };
    // 5 object type, 4 rate index (15: 24 more bits follow), 4 channels, 3 of GASpecificConfig.
    let after_rate = if value(5, 4) == Some(15) { 33 } else { 9 };
    let at = after_rate + 4 + 3;
    value(at, 11) == Some(0x2b7) && value(at + 11, 5) == Some(5) && value(at + 16, 1) == Some(1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn aac(config: &[u8]) -> Option<String> {
        let mut p = AudioCodecParameters::new();
        p.for_codec(CODEC_ID_AAC).with_extra_data(config.into());
        refused(&p)
    }

    /// Configurations by ISO/IEC 14496-3, 1.6: 12 10 is AAC-LC, 44.1 kHz, two channels.
    #[test]
    fn plain_aac_passes_and_its_extended_forms_are_named() {
        assert_eq!(aac(&[0x12, 0x10]), None);
        assert_eq!(aac(&[0x12, 0x10, 0x56, 0xe5, 0x00]), None);
        assert!(aac(&[0x13, 0x90, 0x56, 0xe5, 0xa0]).unwrap().contains("HE-AAC"));
        assert!(aac(&[0x2b, 0x92, 0x08, 0x00]).unwrap().contains("SBR"));
        assert!(aac(&[0xeb, 0x8a, 0x08, 0x00]).unwrap().contains("v2"));
        assert!(aac(&[0xf9, 0x46, 0x40]).unwrap().contains("xHE"));
        assert_eq!(aac(&[]), None);
    }
}
