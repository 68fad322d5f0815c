//! Plain text tables whose columns fit their contents, and whose lines fit the terminal.

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
    rows: Vec<Row>,
}

#[derive(Debug, Clone)]
enum Row {
    /// A cell a column.
    Cells(Vec<String>),
    /// A line over the rows that follow it; no column is as wide as it.
    Title(String),
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
        self.rows.push(Row::Cells(cells));
    }

    /// Adds a line over the rows that follow it.
    pub fn title(&mut self, text: &str) {
        self.rows.push(Row::Title(text.to_owned()));
    }

    /// Whether it has no row.
    pub fn is_empty(&self) -> bool {
        self.rows.is_empty()
    }

    /// The table's lines, each with `indent` spaces before it, no spaces at line ends. Columns that are empty in
    /// every row are left out.
    pub fn text(&self, indent: usize) -> String {
        self.fitted(indent, usize::MAX)
    }

    /// The same in at most `width` columns of the terminal: what does not fit follows below under its own head, the
    /// first column beside it again.
    pub fn fitted(&self, indent: usize, width: usize) -> String {
        let used: Vec<usize> =
            (0..self.columns.len()).filter(|c| self.cells(*c).any(|cell| !cell.trim().is_empty())).collect();
        let Some((&first, others)) = used.split_first() else { return String::new() };
        let mut out = String::new();
        let mut block = vec![first];
        let mut reach = indent + self.width(first);
        for &column in others {
            let more = 2 + self.width(column);
            if block.len() > 1 && reach.saturating_add(more) > width {
                self.write(&block, indent, &mut out);
                out.push('\n');
                block = vec![first];
                reach = indent + self.width(first);
            }
            block.push(column);
            reach += more;
        }
        self.write(&block, indent, &mut out);
        out
    }

    /// Whether [`Table::fitted`] needs no second block.
    pub fn fits(&self, indent: usize, width: usize) -> bool {
        let used = (0..self.columns.len()).filter(|c| self.cells(*c).any(|cell| !cell.trim().is_empty()));
        let widths: Vec<usize> = used.map(|c| self.width(c)).collect();
        indent + widths.iter().sum::<usize>() + 2 * widths.len().saturating_sub(1) <= width
    }

    fn cells(&self, column: usize) -> impl Iterator<Item = &str> {
        self.rows.iter().filter_map(move |row| match row {
            Row::Cells(cells) => cells.get(column).map(String::as_str),
            Row::Title(_) => None,
        })
    }

    fn width(&self, column: usize) -> usize {
        let head = self.columns[column].0.chars().count();
        self.cells(column).map(|cell| cell.chars().count()).max().unwrap_or(0).max(head)
    }

    /// The head and all rows of some columns.
    fn write(&self, columns: &[usize], indent: usize, out: &mut String) {
        let widths: Vec<usize> = columns.iter().map(|c| self.width(*c)).collect();
        let mut line = |cells: &dyn Fn(usize) -> String| {
            let mut line = " ".repeat(indent);
            for (&c, width) in columns.iter().zip(&widths) {
                let cell = cells(c);
                let pad = " ".repeat(width.saturating_sub(cell.chars().count()));
                match self.columns[c].1 {
                    Align::Left => line.extend([cell.as_str(), pad.as_str(), "  "]),
                    Align::Right => line.extend([pad.as_str(), cell.as_str(), "  "]),
                }
            }
            out.push_str(line.trim_end());
            out.push('\n');
        };
        line(&|c| self.columns[c].0.clone());
        for row in &self.rows {
            match row {
                Row::Cells(cells) => line(&|c| cells[c].clone()),
                Row::Title(text) => line(&|c| if c == columns[0] { text.clone() } else { String::new() }),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn table() -> Table {
        let mut t = Table::new(&[("group", Align::Left), ("n", Align::Right), ("never", Align::Right)]);
        t.row(["inside".into(), "8".into(), String::new()]);
        t.row(["from string 3 to 2".into(), "112".into(), String::new()]);
        t
    }

    #[test]
    fn columns_fit_and_empty_ones_go() {
        let wanted = " group                 n\n inside                8\n from string 3 to 2  112\n";
        assert_eq!((table().text(1).as_str(), table().fitted(1, 24).as_str()), (wanted, wanted));
        assert_eq!(Table::new(&[("a", Align::Left)]).text(0), "");
    }

    #[test]
    fn what_does_not_fit_follows_below() {
        let mut t = Table::new(&[("take", Align::Right), ("one", Align::Right), ("two", Align::Left)]);
        t.title("a line that is longer than all");
        t.row(["7".into(), "1.5".into(), "words".into()]);
        let wanted = "take  one\na line that is longer than all\n   7  1.5\n\n\
            take  two\na line that is longer than all\n   7  words\n";
        assert_eq!(t.fitted(0, 15), wanted);
        // A line is never narrower than two columns.
        assert_eq!(t.fitted(0, 1), wanted);
        assert!(!t.fits(0, 15) && !t.fits(2, 17) && t.fits(0, 16) && t.fits(2, 18));
        assert_eq!(t.fitted(2, 18).lines().count(), 3);
    }
}
