//! Text from files, names and notes on a terminal: shown, never obeyed. A terminal takes control characters for orders
//! (to move, to erase, to rename the window, to answer), and turned text for what it is not.

use std::borrow::Cow;

/// The text with every control character but line ends and tabs written out, and with those that turn the direction of
/// writing; colours (ECMA-48, 8.3.117: SGR), which this program sets itself, stay.
pub(crate) fn shown(text: &str) -> Cow<'_, str> {
    if !text.chars().any(is_order) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    let mut rest = text;
    while let Some(c) = rest.chars().next() {
        let colour = colour(rest);
        if colour > 0 {
            out.push_str(&rest[..colour]);
            rest = &rest[colour..];
            continue;
        }
        if is_order(c) {
            out.extend(c.escape_unicode());
        } else {
            out.push(c);
        }
        rest = &rest[c.len_utf8()..];
    }
    Cow::Owned(out)
}

fn is_order(c: char) -> bool {
    (c.is_control() && !matches!(c, '\n' | '\t')) || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
}

/// Bytes of a colour order at the beginning of the text, 0 if there is none.
fn colour(text: &str) -> usize {
    let Some(body) = text.strip_prefix("\u{1b}[") else { return 0 };
    let digits = body.bytes().take_while(|b| b.is_ascii_digit() || *b == b';').count();
    if digits <= 16 && body.as_bytes().get(digits) == Some(&b'm') { 2 + digits + 1 } else { 0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn orders_to_the_terminal_are_written_out() {
        let title = "a\u{1b}]0;owned\u{7}b";
        assert_eq!(shown(title), "a\\u{1b}]0;owned\\u{7}b");
        assert_eq!(shown("\u{1b}[2J\u{1b}[6n\r\u{9b}31m\u{7f}"), "\\u{1b}[2J\\u{1b}[6n\\u{d}\\u{9b}31m\\u{7f}");
        assert_eq!(shown("x\u{202e}gpj"), "x\\u{202e}gpj");
        for plain in ["plain\ttext\n", "Größe ♪ 日本", "\u{1b}[1mbold\u{1b}[0m", ""] {
            assert_eq!(shown(plain), plain);
        }
        assert_eq!(shown("\u{1b}[1;2"), "\\u{1b}[1;2");
    }
}
