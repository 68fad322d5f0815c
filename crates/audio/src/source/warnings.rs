//! What is said of a file that is damaged, cut short, or silent about where its time begins.

use super::Source;
use crate::sniff::ChunkHeader;
use symphonia::core::codecs::audio::well_known::{CODEC_ID_FLAC, CODEC_ID_MP3};
use symphonia::core::formats::well_known::FORMAT_ID_OGG;

impl Source {
    /// The warnings, once everything was read.
    pub(crate) fn finish(mut self) -> (u64, Option<bool>, Vec<String>) {
        let mut complete = None;
        let rate = self.rate.as_f64();
        if self.lost.packets > 0 {
            self.warnings.push(format!(
                "{} damaged packet(s) could not be decoded, the first at {:.3} s; silence stands in their place",
                self.lost.packets,
                self.lost.first_at as f64 / rate
            ));
        }
        if let Some(declared) = self.declared.filter(|_| self.declared_exact && self.ended) {
            let slack = match self.codec {
                _ if self.layout.is_some() => 0,
                CODEC_ID_FLAC => 0,
                // Some encoders count the frame that holds the tag.
                CODEC_ID_MP3 => 1152,
                // Other coders' last packets may rightly be short.
                _ => (0.1 * rate) as u64,
            };
            complete = Some(self.given + slack >= declared);
            if self.given + slack < declared {
                self.warnings.push(format!(
                    "decoded {:.2} s of {:.2} s; the file ends early or is damaged{}",
                    self.given as f64 / rate,
                    declared as f64 / rate,
                    // MP3 frames carry no place: one lost in the middle moves all that follows.
                    if self.codec == CODEC_ID_MP3 {
                        ", and where sound is lost in the middle all later times are early"
                    } else {
                        ""
                    }
                ));
            }
        }
        if self.declared.is_none() && self.ended && self.format.format_info().format == FORMAT_ID_OGG {
            complete = Some(false);
            self.warnings.push(format!(
                "decoded {:.2} s; the file lacks its closing page, so it was cut there",
                self.given as f64 / rate
            ));
        }
        (self.given, complete, self.warnings)
    }

    /// Nothing states the encoder's delay.
    pub(super) fn warn_uncertain(&mut self, why: &str, by: &str) {
        self.warnings.push(format!(
            "{why}, so nothing says how much the encoder put before the first sample: all times may be late by the \
             same {by}; distances between notes are not affected"
        ));
    }

    /// Where a WAV file's header and its length disagree.
    pub(super) fn note_wav_header(&mut self, wav: Option<ChunkHeader>) {
        let Some(wav) = wav else { return };
        let rate = self.rate.as_f64();
        if wav.left_open() {
            self.warnings.push(
                "the header does not say how long the recording is (a recorder that stopped without closing the \
                 file); all of it was read"
                    .to_owned(),
            );
        } else if wav.frames_beyond() > 0 {
            self.warnings.push(format!(
                "the header promises {:.1} s, but {:.1} s more follow it and were not read; export the take again",
                self.declared.unwrap_or(0) as f64 / rate,
                wav.frames_beyond() as f64 / rate
            ));
        }
    }
}
