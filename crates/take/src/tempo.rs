//! The tempo that a file's name tells.

use std::path::Path;
use takegauge_units::Bpm;

/// The last number from 40 to 320 in a file's name, which may be its tempo.
pub(crate) fn tempo_in_name(path: &Path) -> Option<Bpm> {
    let name = path.file_stem()?.to_string_lossy().into_owned();
    let mut numbers = name.split(|c: char| !c.is_ascii_digit() && c != '.').filter_map(|s| s.parse::<f64>().ok());
    numbers.rfind(|n| (40.0..=320.0).contains(n)).map(Bpm)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_tempo_in_the_name_is_found_and_a_year_or_a_take_number_is_not() {
        let find = |n: &str| tempo_in_name(Path::new(n)).map(|b| b.0);
        assert_eq!(find("ladder_160.wav"), Some(160.0));
        assert_eq!(find("2026-11-25 take 3.wav"), None);
        assert_eq!(find("rolls 132.5 bpm.flac"), Some(132.5));
        assert_eq!(find("48000.wav"), None);
    }
}
