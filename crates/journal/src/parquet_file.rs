//! Tables of numbers as Parquet files (zstd, no nested columns), and the journal as one.

use crate::error::{JournalError, Result};
use crate::query::FigureRow;
use crate::sheets::figure_sheet;
use parquet::basic::{Compression, LogicalType, Repetition, TimeUnit, Type as Physical};
use parquet::column::writer::ColumnWriter;
use parquet::data_type::ByteArray;
use parquet::errors::ParquetError;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedColumnWriter, SerializedFileWriter};
use parquet::schema::types::Type;
use std::io::Write;
use std::sync::Arc;
use takegauge_review::sheet::{Column, Sheet, Values};

/// Rows held in memory at once, by the writer and by a reader: some 30 MB of notes.
const ROWS_A_GROUP: usize = 100_000;

/// Writes rows as a Parquet file.
///
/// # Errors
/// [`JournalError::Record`] with the writer's own words.
pub fn takes_parquet(rows: &[FigureRow], out: &mut (dyn Write + Send)) -> Result<()> {
    let mut file = SheetFile::new(out, "takes", &figure_sheet(&[]))?;
    for chunk in rows.chunks(ROWS_A_GROUP) {
        file.push(figure_sheet(chunk))?;
    }
    file.finish()
}

/// A Parquet file that is written bit by bit. No more rows are held in memory than one group of them has.
pub struct SheetFile<W: Write + Send> {
    file: SerializedFileWriter<W>,
    /// What the next row group is made from.
    held: Sheet,
}

fn told(e: impl std::fmt::Display) -> JournalError {
    JournalError::Record(format!("the Parquet file cannot be written: {e}"))
}

impl<W: Write + Send> SheetFile<W> {
    /// A table called `name`, of the columns of `like`; the rows of `like` are not written.
    ///
    /// # Errors
    /// [`JournalError::Record`] with the writer's own words, as of every call here.
    pub fn new(out: W, name: &str, like: &Sheet) -> Result<Self> {
        let fields = like.columns.iter().map(|c| field(c).map(Arc::new)).collect::<std::result::Result<_, _>>();
        let fields = fields.map_err(told)?;
        let schema = Type::group_type_builder(name).with_fields(fields).build().map_err(told)?;
        let properties = WriterProperties::builder().set_compression(Compression::ZSTD(Default::default())).build();
        let file = SerializedFileWriter::new(out, Arc::new(schema), Arc::new(properties)).map_err(told)?;
        Ok(Self { file, held: Sheet::default() })
    }

    /// Adds rows of the same columns.
    ///
    /// # Errors
    /// As [`Self::new`]; rows of other columns.
    pub fn push(&mut self, rows: Sheet) -> Result<()> {
        if self.held.columns.is_empty() {
            self.held = rows;
        } else {
            self.held.append(rows).map_err(told)?;
        }
        if self.held.rows() >= ROWS_A_GROUP { self.write_group().map_err(told) } else { Ok(()) }
    }

    fn write_group(&mut self) -> std::result::Result<(), ParquetError> {
        let sheet = std::mem::take(&mut self.held);
        let mut group = self.file.next_row_group()?;
        for column in &sheet.columns {
            if let Some(mut writer) = group.next_column()? {
                fill(&mut writer, column)?;
                writer.close()?;
            }
        }
        group.close()?;
        Ok(())
    }

    /// Completes the file.
    ///
    /// # Errors
    /// As [`Self::new`].
    pub fn finish(mut self) -> Result<()> {
        if self.held.rows() > 0 {
            self.write_group().map_err(told)?;
        }
        self.file.close().map(drop).map_err(told)
    }
}

fn field(column: &Column) -> std::result::Result<Type, ParquetError> {
    let (physical, logical) = match column.values {
        Values::Long(_) => (Physical::INT64, None),
        Values::Instant(_) => (Physical::INT64, Some(LogicalType::timestamp(true, TimeUnit::MILLIS))),
        Values::Count(_) => (Physical::INT32, None),
        Values::Day(_) => (Physical::INT32, Some(LogicalType::Date)),
        Values::Text(_) => (Physical::BYTE_ARRAY, Some(LogicalType::String)),
        Values::Flag(_) => (Physical::BOOLEAN, None),
        Values::Number(_) => (Physical::DOUBLE, None),
    };
    let repetition = if column.nullable { Repetition::OPTIONAL } else { Repetition::REQUIRED };
    Type::primitive_type_builder(&column.name, physical).with_logical_type(logical).with_repetition(repetition).build()
}

fn fill(writer: &mut SerializedColumnWriter<'_>, column: &Column) -> std::result::Result<(), ParquetError> {
    fn split<T: Clone>(values: &[Option<T>]) -> (Vec<T>, Vec<i16>) {
        (values.iter().flatten().cloned().collect(), values.iter().map(|v| i16::from(v.is_some())).collect())
    }
    macro_rules! write {
        ($writer:expr, $values:expr) => {{
            let (values, there) = split($values);
            $writer.write_batch(&values, column.nullable.then_some(there.as_slice()), None)?;
        }};
    }
    match (&column.values, writer.untyped()) {
        (Values::Long(v) | Values::Instant(v), ColumnWriter::Int64ColumnWriter(w)) => write!(w, v),
        (Values::Count(v) | Values::Day(v), ColumnWriter::Int32ColumnWriter(w)) => write!(w, v),
        (Values::Flag(v), ColumnWriter::BoolColumnWriter(w)) => write!(w, v),
        (Values::Number(v), ColumnWriter::DoubleColumnWriter(w)) => write!(w, v),
        (Values::Text(v), ColumnWriter::ByteArrayColumnWriter(w)) => {
            let v: Vec<_> = v.iter().map(|t| t.as_ref().map(|t| ByteArray::from(t.as_bytes().to_vec()))).collect();
            write!(w, &v);
        }
        _ => return Err(ParquetError::General("a column's writer does not fit its schema".to_owned())),
    }
    Ok(())
}
