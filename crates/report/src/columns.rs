//! The columns of the tables of groups, from the figures' declarations.

use crate::words::{few, rings, signed, spread};
use takegauge_review::declared::{Cell, GroupFigure, MARGIN_SE, SMEAR_N, Shown, declared};
use takegauge_review::{Figures, ringing};

/// Where a table stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Layout {
    /// A terminal with room.
    Wide,
    /// One of 100 columns.
    Narrow,
    /// HTML.
    Page,
}

impl Layout {
    fn head(self, shown: Shown) -> &'static str {
        match self {
            Self::Wide => shown.wide,
            Self::Narrow => shown.narrow,
            Self::Page => shown.page,
        }
    }
}

/// A column: figures under one head, counts added up.
pub(crate) struct Column {
    pub(crate) head: &'static str,
    figures: Vec<&'static GroupFigure>,
    cell: Cell,
    /// The interval of a figure that has the column before.
    interval: bool,
    layout: Layout,
}

/// The columns of a layout, in the figures' order.
pub(crate) fn columns(layout: Layout) -> Vec<Column> {
    let mut all: Vec<Column> = Vec::new();
    for figure in declared() {
        let Some(shown) = figure.shown.filter(|s| !layout.head(*s).is_empty()) else { continue };
        let (head, cell) = (layout.head(shown), shown.cell);
        match all.last_mut().filter(|c| c.head == head) {
            Some(column) => column.figures.push(figure),
            None => all.push(Column { head, figures: vec![figure], cell, interval: false, layout }),
        }
        if cell == Cell::Signed {
            all.push(Column { head: "95 %", figures: vec![figure], cell, interval: true, layout });
        }
    }
    all
}

impl Column {
    /// What stands in it for a group; empty where there is nothing to say.
    pub(crate) fn cell(&self, of: &Figures) -> String {
        let Some(figure) = self.figures.first() else { return String::new() };
        let v = of.get(figure);
        let narrow = self.layout == Layout::Narrow;
        let told = |text: fn(f64) -> String| v.value.map(text).unwrap_or_default();
        match self.cell {
            Cell::Count => of.count(figure).to_string(),
            Cell::Events => {
                let n: usize = self.figures.iter().map(|f| of.count(f)).sum();
                if n == 0 { String::new() } else { n.to_string() }
            }
            Cell::Signed if self.interval => {
                let range = |[low, high]: [f64; 2]| format!("{} to {}", signed(low), signed(high));
                of.interval(figure).map(range).unwrap_or_default()
            }
            Cell::Signed => told(signed),
            Cell::Scatter => {
                let text = spread(v.value, of.ends(figure));
                if narrow { text.replace(" to ", "-") } else { text }
            }
            Cell::Ringing => {
                let tell = if narrow { rings_narrow } else { rings };
                v.value.map(|ms| tell(ms, of.count(&SMEAR_N))).unwrap_or_default()
            }
            Cell::Margin => match (v.value, of.value(&MARGIN_SE)) {
                (Some(m), Some(se)) if narrow => format!("{m:.1}+-{se:.1}"),
                (Some(m), Some(se)) if self.layout == Layout::Wide => format!("{m:.1} +-{se:.1}"),
                (m, _) => m.map(|m| format!("{m:.1}")).unwrap_or_default(),
            },
            Cell::Limit => told(|ms| format!("+-{ms:.0}")),
            Cell::Plain => told(|x| format!("{x:.1}")),
        }
    }
}

/// "68", "<=33" where no shorter time can be told, "68 (n 3)" where it rests on 3 notes.
fn rings_narrow(ms: f64, notes: usize) -> String {
    let text = ringing(ms);
    let text = text.strip_suffix(" or less").map_or(text.clone(), |least| format!("<={least}"));
    if few(notes) { format!("{text} (n {notes})") } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_notes_are_told_beside_their_ringing() {
        assert_eq!((rings_narrow(68.2, 3), rings_narrow(33.0, 60)), ("68 (n 3)".to_owned(), "<=33".to_owned()));
    }
}
