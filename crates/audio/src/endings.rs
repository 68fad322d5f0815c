//! The endings by which files are known as recordings: the one list, for folders, uploads and players alike. What a
//! file really is, its first bytes say when it is opened.

use std::path::Path;

/// Ending in lower case, and the media type (RFC 6838 and the registrations after it) where web browsers commonly play
/// the file.
const KNOWN: [(&str, Option<&str>); 21] = [
    ("wav", Some("audio/wav")),
    ("wave", Some("audio/wav")),
    ("aif", None),
    ("aiff", None),
    ("aifc", None),
    ("flac", Some("audio/flac")),
    ("mp3", Some("audio/mpeg")),
    ("m4a", Some("audio/mp4")),
    ("mp4", Some("audio/mp4")),
    ("mov", Some("audio/mp4")),
    ("3gp", Some("audio/mp4")),
    ("3g2", Some("audio/mp4")),
    ("aac", Some("audio/aac")),
    ("ogg", Some("audio/ogg")),
    ("opus", Some("audio/ogg")),
    ("oga", Some("audio/ogg")),
    ("caf", None),
    ("mka", Some("audio/webm")),
    ("mkv", None),
    ("webm", Some("audio/webm")),
    ("weba", Some("audio/webm")),
];

fn known(path: &Path) -> Option<(&'static str, Option<&'static str>)> {
    let ending = path.extension()?.to_str()?.to_ascii_lowercase();
    KNOWN.into_iter().find(|(e, _)| *e == ending)
}

/// The ending of a recording's name in lower case; `None` where the name is no recording's.
pub fn ending_of_recording(path: &Path) -> Option<&'static str> {
    known(path).map(|(ending, _)| ending)
}

/// The media type of a recording that web browsers commonly play; `None` for every other file.
pub fn media_type(path: &Path) -> Option<&'static str> {
    known(path)?.1
}

/// The media type of a film (RFC 4337, RFC 9559); `None` for names that no film has.
pub fn film_type(path: &Path) -> Option<&'static str> {
    match path.extension()?.to_str()?.to_ascii_lowercase().as_str() {
        "mp4" | "m4v" | "mov" | "3gp" | "3g2" => Some("video/mp4"),
        "webm" => Some("video/webm"),
        "mkv" => Some("video/matroska"),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_recordings_are_known_in_any_case() {
        for (name, ending, media) in [
            ("a.wav", "wav", Some("audio/wav")),
            ("b/take 2.FLAC", "flac", Some("audio/flac")),
            ("clip.MKV", "mkv", None),
            ("c.webm", "webm", Some("audio/webm")),
        ] {
            assert_eq!(ending_of_recording(Path::new(name)), Some(ending));
            assert_eq!(media_type(Path::new(name)), media);
        }
        assert_eq!(film_type(Path::new("clip.MOV")), Some("video/mp4"));
        assert_eq!(film_type(Path::new("take.wav")), None);
        for bad in ["a.wav.part", "a.txt", "wav", "a"] {
            assert_eq!(ending_of_recording(Path::new(bad)), None, "{bad}");
        }
    }
}
