//! Plain text tables whose columns fit their contents.

/// Which side a column's cells lean on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Align {
    /// Words.
    Left,
    /// Figures.
    Right,
}

/// A table: a head, rows of the same length, two spaces between columns.
#[derive(Debug, Clone)]
pub struct Table {
    columns: Vec<(String, Align)>,
    rows: Vec<Vec<String>>,
}

impl Table {
    /// A table with these columns.
    pub fn new(columns: &[(&str, Align)]) -> Self {
        Self { columns: columns.iter().map(|(n, a)| ((*n).to_owned(), *a)).collect(), rows: Vec::new() }
    }

    /// Adds a row; missing cells are empty, cells too many are left out.
    pub fn row(&mut self, cells: impl IntoIterator<Item = String>) {
        let mut cells: Vec<String> = cells.into_iter().take(self.columns.len()).collect();
        cells.resize(self.columns.len(), String::new());
        self.rows.push(cells);
    }

    /// Whether it has no row.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The table's lines, each with `indent` spaces before it, no spaces at line ends. Columns that are empty in
    /// every row are left out.
    pub fn text(&self, indent: usize) -> String {
        let used: Vec<usize> =
            (0..self.columns.len()).filter(|c| self.rows.iter().any(|r| !r[*c].trim().is_empty())).collect();
        let width = |c: usize| {
            let cells = self.rows.iter().map(|r| r[c].chars().count());
            cells.chain([self.columns[c].0.chars().count()]).max().unwrap_or(0)
        };
        let widths: Vec<usize> = used.iter().map(|c| width(*c)).collect();
        let mut out = String::new();
        let head: Vec<&str> = used.iter().map(|c| self.columns[*c].0.as_str()).collect();
        let body = self.rows.iter().map(|r| used.iter().map(|c| r[*c].as_str()).collect::<Vec<_>>());
        for cells in std::iter::once(head).chain(body) {
            let mut line = " ".repeat(indent);
            for ((cell, width), c) in cells.iter().zip(&widths).zip(&used) {
                let pad = " ".repeat(width.saturating_sub(cell.chars().count()));
                match self.columns[*c].1 {
                    Align::Left => line.extend([cell, pad.as_str(), "  "]),
                    Align::Right => line.extend([pad.as_str(), cell, "  "]),
                }
            }
            out.push_str(line.trim_end());
            out.push('\n');
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_fit_and_empty_ones_go() {
        let mut t = Table::new(&[("group", Align::Left), ("n", Align::Right), ("never", Align::Right)]);
        t.row(["inside".into(), "8".into(), String::new()]);
        t.row(["from string 3 to 2".into(), "112".into(), String::new()]);
        assert_eq!(t.text(1), " group                 n\n inside                8\n from string 3 to 2  112\n");
    }
}
