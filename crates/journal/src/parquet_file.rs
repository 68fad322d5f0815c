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

/// Rows held in memory at once by a reader.
const ROWS_A_GROUP: usize = 100_000;

/// Writes rows as a Parquet file.
///
/// # Errors
/// [`JournalError::Record`] with the writer's own words.
pub fn takes_parquet(rows: &[FigureRow], out: &mut (dyn Write + Send)) -> Result<()> {
    let told = |e| JournalError::Record(format!("the Parquet file cannot be written: {e}"));
    let mut file = SheetFile::new(out, "takes", &figure_sheet(&[])).map_err(told)?;
    for chunk in rows.chunks(ROWS_A_GROUP) {
        file.write(&figure_sheet(chunk)).map_err(told)?;
    }
    file.finish().map_err(told)
}

/// A Parquet file that is written a table at a time, all of the same columns; each becomes a row group.
struct SheetFile<W: Write + Send>(SerializedFileWriter<W>);

impl<W: Write + Send> SheetFile<W> {
    fn new(out: W, name: &str, like: &Sheet) -> std::result::Result<Self, ParquetError> {
        let fields = like.columns.iter().map(|c| field(c).map(Arc::new)).collect::<std::result::Result<_, _>>()?;
        let schema = Type::group_type_builder(name).with_fields(fields).build()?;
        let properties = WriterProperties::builder().set_compression(Compression::ZSTD(Default::default())).build();
        SerializedFileWriter::new(out, Arc::new(schema), Arc::new(properties)).map(Self)
    }

    fn write(&mut self, sheet: &Sheet) -> std::result::Result<(), ParquetError> {
        let mut group = self.0.next_row_group()?;
        for column in &sheet.columns {
            if let Some(mut writer) = group.next_column()? {
                fill(&mut writer, column)?;
                writer.close()?;
            }
        }
        group.close()?;
        Ok(())
    }

    fn finish(self) -> std::result::Result<(), ParquetError> {
        self.0.close().map(|_| ())
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
