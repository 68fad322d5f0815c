//! How text is set on a terminal.

/// How text is set.
#[derive(Debug, Clone, Copy)]
pub struct Style {
    /// Columns.
    pub width: usize,
    /// Whether headings may be set bold with terminal codes; figures never differ by it.
    pub bold: bool,
    /// Whether tables hold every group of notes, not only those that a player looks at first.
    pub every_group: bool,
}

impl Style {
    pub(crate) fn heading(self, text: &str) -> String {
        if self.bold { format!("\n\x1b[1m{text}\x1b[0m\n") } else { format!("\n{text}\n") }
    }

    /// `text` broken at spaces to lines of at most `width` columns; `first` and `rest` stand before the lines.
    pub fn wrap(self, text: &str, first: &str, rest: &str) -> String {
        let mut out = first.to_owned();
        let mut column = first.chars().count();
        let mut fresh = true;
        for word in text.split_whitespace() {
            let length = word.chars().count();
            if !fresh && column + 1 + length > self.width {
                out.push('\n');
                out.push_str(rest);
                column = rest.chars().count();
                fresh = true;
            }
            if !fresh {
                out.push(' ');
                column += 1;
            }
            out.push_str(word);
            column += length;
            fresh = false;
        }
        out.push('\n');
        out
    }

    pub(crate) fn paragraph(self, text: &str) -> String {
        self.wrap(text, "", "")
    }

    /// One item of a list.
    pub fn item(self, text: &str) -> String {
        self.wrap(text, "  - ", "    ")
    }
}
