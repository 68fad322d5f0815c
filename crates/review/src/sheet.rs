//! Tables of numbers, column by column: what CSV, Parquet and data frames are written from.

use crate::declared::flat_columns;
use crate::figures::Figures;

/// Rows were to be added to a table of other columns.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("rows of the columns {} do not go into a table of {}", .rows.join(", "), .table.join(", "))]
pub struct OtherColumns {
    /// Names of the table's columns.
    pub table: Vec<String>,
    /// Names of the columns of the rows.
    pub rows: Vec<String>,
}

/// A table of numbers. Every column has a value, or none, a row.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sheet {
    /// In the order written.
    pub columns: Vec<Column>,
}

/// A column of a [`Sheet`].
#[derive(Debug, Clone, PartialEq)]
pub struct Column {
    /// Its head; ends in its unit.
    pub name: String,
    /// Whether rows may have nothing in it.
    pub nullable: bool,
    /// One a row.
    pub values: Values,
}

/// The values of a column.
#[derive(Debug, Clone, PartialEq)]
pub enum Values {
    /// Words.
    Text(Vec<Option<String>>),
    /// Yes or no.
    Flag(Vec<Option<bool>>),
    /// Whole numbers that stay small.
    Count(Vec<Option<i32>>),
    /// Numbers of rows of other tables.
    Long(Vec<Option<i64>>),
    /// Any other number.
    Number(Vec<Option<f64>>),
    /// Milliseconds since 1970, UTC.
    Instant(Vec<Option<i64>>),
    /// Days since 1970.
    Day(Vec<Option<i32>>),
}

/// A type of value that columns have.
pub trait Held: Sized {
    /// A column of them.
    fn column(values: Vec<Option<Self>>) -> Values;
}

macro_rules! held {
    ($($type:ty => $kind:ident),*) => {
        $(impl Held for $type {
            fn column(values: Vec<Option<Self>>) -> Values {
                Values::$kind(values)
            }
        })*
    };
}
held!(String => Text, bool => Flag, i32 => Count, i64 => Long, f64 => Number);

/// Counts as columns have them; what is beyond them, which no take reaches, is their largest.
impl Held for usize {
    fn column(values: Vec<Option<Self>>) -> Values {
        Values::Count(values.into_iter().map(|v| v.map(|n| i32::try_from(n).unwrap_or(i32::MAX))).collect())
    }
}

impl Held for u8 {
    fn column(values: Vec<Option<Self>>) -> Values {
        Values::Count(values.into_iter().map(|v| v.map(i32::from)).collect())
    }
}

impl Sheet {
    /// Adds a column in which every row has a value.
    #[must_use]
    pub fn with<R, T: Held>(self, name: &str, rows: &[R], of: impl Fn(&R) -> T) -> Self {
        self.put(name, false, T::column(rows.iter().map(|r| Some(of(r))).collect()))
    }

    /// Adds a column in which rows may have none.
    #[must_use]
    pub fn with_some<R, T: Held>(self, name: &str, rows: &[R], of: impl Fn(&R) -> Option<T>) -> Self {
        self.put(name, true, T::column(rows.iter().map(of).collect()))
    }

    /// Adds the figures as they are declared, each followed by the ends of its interval.
    #[must_use]
    pub fn with_figures<R>(mut self, rows: &[R], of: impl Fn(&R) -> &Figures) -> Self {
        for c in flat_columns() {
            let figures = rows.iter().map(|r| of(r).flat(c));
            // `as` saturates; a count was a whole number before.
            let values = if c.is_count() {
                Values::Count(figures.map(|v| v.map(|n| n as i32)).collect())
            } else {
                Values::Number(figures.collect())
            };
            self = self.put(&c.name(), true, values);
        }
        self
    }

    /// Adds a column.
    #[must_use]
    pub fn put(mut self, name: &str, nullable: bool, values: Values) -> Self {
        self.columns.push(Column { name: name.to_owned(), nullable, values });
        self
    }

    /// Rows.
    pub fn rows(&self) -> usize {
        self.columns.first().map_or(0, |c| c.values.len())
    }

    /// Adds the rows of a table of the same columns.
    ///
    /// # Errors
    /// [`OtherColumns`] where a name or a type of value differs; nothing is added then.
    pub fn append(&mut self, rows: Self) -> Result<(), OtherColumns> {
        let alike = |(a, b): (&Column, &Column)| a.name == b.name && a.values.is_of_kind(&b.values);
        if self.columns.len() != rows.columns.len() || !self.columns.iter().zip(&rows.columns).all(alike) {
            let names = |sheet: &Self| sheet.columns.iter().map(|c| c.name.clone()).collect();
            return Err(OtherColumns { table: names(self), rows: names(&rows) });
        }
        for (column, more) in self.columns.iter_mut().zip(rows.columns) {
            column.nullable |= more.nullable;
            column.values.append(more.values);
        }
        Ok(())
    }
}

impl Values {
    /// How many.
    pub fn len(&self) -> usize {
        match self {
            Self::Text(v) => v.len(),
            Self::Flag(v) => v.len(),
            Self::Count(v) | Self::Day(v) => v.len(),
            Self::Long(v) | Self::Instant(v) => v.len(),
            Self::Number(v) => v.len(),
        }
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Whether both hold values of one type.
    fn is_of_kind(&self, other: &Self) -> bool {
        std::mem::discriminant(self) == std::mem::discriminant(other)
    }

    /// Adds values of the same type.
    fn append(&mut self, more: Self) {
        match (self, more) {
            (Self::Text(v), Self::Text(more)) => v.extend(more),
            (Self::Flag(v), Self::Flag(more)) => v.extend(more),
            (Self::Count(v), Self::Count(more)) | (Self::Day(v), Self::Day(more)) => v.extend(more),
            (Self::Long(v), Self::Long(more)) | (Self::Instant(v), Self::Instant(more)) => v.extend(more),
            (Self::Number(v), Self::Number(more)) => v.extend(more),
            (_, more) => debug_assert!(more.is_empty(), "the types were compared before"),
        }
    }

    /// The value of a row as text; empty where it has none.
    pub fn text(&self, row: usize) -> String {
        fn at<T: ToString>(values: &[Option<T>], row: usize) -> String {
            values.get(row).and_then(Option::as_ref).map(T::to_string).unwrap_or_default()
        }
        match self {
            Self::Text(v) => at(v, row),
            Self::Flag(v) => at(v, row),
            Self::Count(v) | Self::Day(v) => at(v, row),
            Self::Long(v) | Self::Instant(v) => at(v, row),
            Self::Number(v) => at(v, row),
        }
    }
}
