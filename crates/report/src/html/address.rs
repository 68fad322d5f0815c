//! How a file is addressed from another one.

use std::path::{Component, Path};

/// The address of `file` as seen from the page `page`, percent-encoded (RFC 3986); `None` where the two share no root, as on
/// two drives. Both paths are absolute.
pub fn address_from(page: &Path, file: &Path) -> Option<String> {
    let folder: Vec<Component> = page.parent()?.components().collect();
    let parts: Vec<Component> = file.components().collect();
    let common = folder.iter().zip(&parts).take_while(|(a, b)| a == b).count();
    if common == 0 {
        return None;
    }
    let up = folder[common..].iter().map(|_| Some("..".to_owned()));
    let down = parts[common..].iter().map(|c| match c {
        Component::Normal(name) => name.to_str().map(encoded),
        _ => None,
    });
    let address = up.chain(down).collect::<Option<Vec<String>>>()?.join("/");
    // A name with a colon would read as a scheme.
    Some(if address.starts_with("..") { address } else { format!("./{address}") })
}

fn encoded(name: &str) -> String {
    let plain = |b: u8| b.is_ascii_alphanumeric() || b"-._~".contains(&b);
    name.bytes().map(|b| if plain(b) { char::from(b).to_string() } else { format!("%{b:02X}") }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_found_from_a_page_beside_above_and_below_it() {
        let from = |file: &str| address_from(Path::new("/a/b/report.html"), Path::new(file));
        assert_eq!(from("/a/b/clip.mp4").as_deref(), Some("./clip.mp4"));
        assert_eq!(from("/a/films/take 1#.mp4").as_deref(), Some("../films/take%201%23.mp4"));
        assert_eq!(from("/a/b/c/\u{e9}:.webm").as_deref(), Some("./c/%C3%A9%3A.webm"));
        assert_eq!(from("/x.mp4").as_deref(), Some("../../x.mp4"));
        assert_eq!(address_from(Path::new("report.html"), Path::new("/a/x.mp4")), None);
    }
}
