//! Prints the plain spectral fluxes of a take as JSON, for checks against other programs.

use serde::Serialize;
use std::error::Error;
use takegauge_audio::{ChannelChoice, read_all};
use takegauge_listen::plain;

#[derive(Serialize)]
struct Figures {
    sample_rate_hz: u32,
    /// Magnitudes and power in mel bands, a list a frame, and the strength, each as librosa's own settings have them.
    spectra: plain::Frames,
    mel: plain::Frames,
    onset_strength: Vec<f64>,
    superflux: Vec<f64>,
    superflux_attacks_s: Vec<f64>,
}

fn main() -> Result<(), Box<dyn Error>> {
    let path = std::env::args_os().nth(1).ok_or("which take? plain_flux TAKE")?;
    let (samples, summary) = read_all(path.as_ref(), ChannelChoice::Auto)?;
    let rate = summary.info.sample_rate_hz;
    let plain::OnsetStrength { spectra, mel, strength } = plain::onset_strength(&samples, rate);
    let superflux = plain::superflux(&samples, rate);
    let figures = Figures {
        sample_rate_hz: rate.hz(),
        spectra,
        mel,
        onset_strength: strength,
        superflux_attacks_s: plain::superflux_attacks(&superflux).iter().map(|s| s.0).collect(),
        superflux,
    };
    serde_json::to_writer(std::io::stdout().lock(), &figures)?;
    Ok(())
}
