//! Takes in folders: which files are recordings, and which drill goes with one.

use crate::args::ScoreInputs;
use crate::commands::inputs::{open_drill, restart};
use crate::commands::which::{Recognised, recognise};
use crate::fault::Outcome;
use std::path::{Path, PathBuf};
use takegauge_audio::ending_of_recording;

/// How far down folders are looked through.
const DEEPEST: usize = 8;

/// Whether a file's name is a recording's; hidden files are being written or somebody else's.
pub(crate) fn is_take(path: &Path) -> bool {
    let hidden = path.file_name().is_none_or(|n| n.to_string_lossy().starts_with('.'));
    !hidden && ending_of_recording(path).is_some()
}

/// The recordings in a folder and `depth` folders below it, sorted by path. Folders below that cannot be read are
/// passed over.
pub(crate) fn takes_in(folder: &Path, depth: usize) -> std::io::Result<Vec<PathBuf>> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(folder)?.flatten() {
        let path = entry.path();
        let Ok(kind) = entry.file_type() else { continue };
        if kind.is_dir() {
            if depth > 0 && !entry.file_name().to_string_lossy().starts_with('.') {
                found.extend(takes_in(&path, depth - 1).unwrap_or_default());
            }
        } else if is_take(&path) {
            found.push(path);
        }
    }
    found.sort();
    Ok(found)
}

/// All recordings in a folder, however deep.
pub(crate) fn all_takes_in(folder: &Path) -> std::io::Result<Vec<PathBuf>> {
    takes_in(folder, DEEPEST)
}

fn words(text: &str) -> Vec<String> {
    text.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty()).map(str::to_lowercase).collect()
}

/// The drill of a take in a folder: `--drill`; else the drill file in its folder, or the built-in drill, whose name the
/// take's begins with, the longest first; else a drill.toml in its folder or the one above; else it is told from the take.
pub(crate) fn drill_of(inputs: &ScoreInputs, take: &Path, journal: Option<&Path>) -> Outcome<Recognised> {
    if inputs.drill.is_some() {
        return recognise(inputs, take, journal, &());
    }
    let named = by_name(take).or_else(|| {
        let above = take.parent()?.parent()?.join("drill.toml");
        (!take.with_file_name("drill.toml").is_file() && above.is_file()).then_some(above)
    });
    match named {
        Some(drill) => Ok(Recognised::named(restart(open_drill(&drill)?, inputs.first_stroke))),
        None => recognise(inputs, take, journal, &()),
    }
}

fn by_name(take: &Path) -> Option<PathBuf> {
    let name = words(&take.file_stem()?.to_string_lossy());
    let beside = std::fs::read_dir(take.parent()?).ok()?.flatten().map(|e| e.path());
    let files = beside
        .filter(|p| p.extension().is_some_and(|e| e.eq_ignore_ascii_case("toml")))
        .filter_map(|p| Some((words(&p.file_stem()?.to_string_lossy()), p)));
    let built_in = takegauge_drill::built_in().map(|b| (words(b.name), PathBuf::from(b.name)));
    files
        .chain(built_in)
        .filter(|(drill, _)| !drill.is_empty() && name.starts_with(drill))
        .max_by(|a, b| a.0.len().cmp(&b.0.len()).then_with(|| b.1.cmp(&a.1)))
        .map(|(_, path)| path)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn recordings_are_known_by_their_endings() {
        for good in ["a.wav", "b/take 2.FLAC", "c.m4a", "d.mkv", "e.webm", "f.mka"] {
            assert!(is_take(Path::new(good)), "{good}");
        }
        for bad in [".a.wav.12.part", ".hidden.wav", "a.txt", "wav", "a.wav.report.json", "a.wav.tmp"] {
            assert!(!is_take(Path::new(bad)), "{bad}");
        }
    }

    #[test]
    fn the_longest_name_that_a_take_begins_with_is_its_drill() {
        let dir = tempfile::tempdir().unwrap();
        for name in ["rolls.toml", "rolls-slow.toml", "drill.toml"] {
            std::fs::write(dir.path().join(name), "").unwrap();
        }
        let of =
            |take: &str| by_name(&dir.path().join(take)).map(|p| p.file_name().unwrap().to_string_lossy().into_owned());
        assert_eq!(of("Rolls slow 120 take 3.wav").as_deref(), Some("rolls-slow.toml"));
        assert_eq!(of("rolls_140.wav").as_deref(), Some("rolls.toml"));
        assert_eq!(of("rollsy.wav"), None);
        let built_in = takegauge_drill::built_in().next().unwrap().name;
        assert_eq!(of(&format!("{built_in} 160.wav")).as_deref(), Some(built_in));
    }
}
