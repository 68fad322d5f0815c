//! The journal as a Parquet file: one row a take and group of notes.
//!
//! Columns: `take` int64; `player`, `drill`, `drill_id` string; `recorded_at` timestamp (ms, UTC); `utc_offset_s`
//! int32; `day` date (the player's own); `path` string; `tempo_bpm` double; `picked`, `guitar`, `microphone`, `tags`
//! (joined with a comma), `note`, `group`, `label` string; then the figures as they are
//! declared (`takegauge_review::declared`): counts int32, all else double, null where withheld or not known, each followed by
//! the ends of its interval.

use crate::error::{JournalError, Result};
use crate::query::FigureRow;
use parquet::basic::{Compression, LogicalType, Repetition, TimeUnit, Type as Physical};
use parquet::column::writer::ColumnWriter;
use parquet::data_type::ByteArray;
use parquet::errors::ParquetError;
use parquet::file::properties::WriterProperties;
use parquet::file::writer::{SerializedColumnWriter, SerializedFileWriter};
use parquet::schema::types::Type;
use std::io::Write;
use std::sync::Arc;
use takegauge_review::declared::FlatColumn;
use takegauge_review::declared::flat_columns;

/// Rows held in memory at once by a reader.
const ROWS_A_GROUP: usize = 100_000;

enum Column {
    Long(fn(&FigureRow) -> i64),
    Instant(fn(&FigureRow) -> i64),
    Int(fn(&FigureRow) -> i32),
    Date(fn(&FigureRow) -> i32),
    Text(fn(&FigureRow) -> String),
    Number(fn(&FigureRow) -> Option<f64>),
    /// int32 for a count, else double.
    Figure(FlatColumn),
}

fn columns() -> Vec<(String, Column)> {
    use Column::{Date, Figure, Instant, Int, Long, Number, Text};
    let take = [
        ("take", Long(|r| r.take.take)),
        ("player", Text(|r| r.take.player.clone())),
        ("drill", Text(|r| r.take.drill.clone())),
        ("drill_id", Text(|r| r.take.drill_id.clone())),
        ("recorded_at", Instant(|r| r.take.recorded_at.milliseconds())),
        ("utc_offset_s", Int(|r| r.take.recorded_at.offset_s())),
        ("day", Date(|r| r.take.day.0)),
        ("path", Text(|r| r.take.path.clone())),
        ("tempo_bpm", Number(|r| Some(r.take.tempo_bpm))),
        ("picked", Text(|r| r.take.picked.text().to_owned())),
        ("guitar", Text(|r| r.take.guitar.clone())),
        ("microphone", Text(|r| r.take.microphone.clone())),
        ("tags", Text(|r| r.take.tags.join(","))),
        ("note", Text(|r| r.take.note.clone())),
        ("group", Text(|r| r.group.to_string())),
        ("label", Text(|r| r.label.clone())),
    ];
    let columns = take.into_iter().map(|(name, column)| (name.to_owned(), column));
    columns.chain(flat_columns().map(|c| (c.name(), Figure(c)))).collect()
}

/// Writes rows as a Parquet file (zstd, no nested columns).
///
/// # Errors
/// [`JournalError::Record`] with the writer's own words.
pub fn takes_parquet(rows: &[FigureRow], out: &mut (dyn Write + Send)) -> Result<()> {
    write(rows, out).map_err(|e| JournalError::Record(format!("the Parquet file cannot be written: {e}")))
}

fn write(rows: &[FigureRow], out: &mut (dyn Write + Send)) -> std::result::Result<(), ParquetError> {
    let columns = columns();
    let fields = columns.iter().map(|(name, c)| field(name, c).map(Arc::new)).collect::<std::result::Result<_, _>>()?;
    let schema = Type::group_type_builder("takes").with_fields(fields).build()?;
    let properties = WriterProperties::builder().set_compression(Compression::ZSTD(Default::default())).build();
    let mut file = SerializedFileWriter::new(out, Arc::new(schema), Arc::new(properties))?;
    for chunk in rows.chunks(ROWS_A_GROUP) {
        let mut group = file.next_row_group()?;
        for (_, column) in &columns {
            if let Some(mut writer) = group.next_column()? {
                fill(&mut writer, column, chunk)?;
                writer.close()?;
            }
        }
        group.close()?;
    }
    file.close()?;
    Ok(())
}

fn field(name: &str, column: &Column) -> std::result::Result<Type, ParquetError> {
    let (physical, logical, repetition) = match column {
        Column::Long(_) => (Physical::INT64, None, Repetition::REQUIRED),
        Column::Instant(_) => {
            let ms = LogicalType::timestamp(true, TimeUnit::MILLIS);
            (Physical::INT64, Some(ms), Repetition::REQUIRED)
        }
        Column::Figure(c) if !c.is_count() => (Physical::DOUBLE, None, Repetition::OPTIONAL),
        Column::Figure(_) => (Physical::INT32, None, Repetition::OPTIONAL),
        Column::Int(_) => (Physical::INT32, None, Repetition::REQUIRED),
        Column::Date(_) => (Physical::INT32, Some(LogicalType::Date), Repetition::REQUIRED),
        Column::Text(_) => (Physical::BYTE_ARRAY, Some(LogicalType::String), Repetition::REQUIRED),
        Column::Number(_) => (Physical::DOUBLE, None, Repetition::OPTIONAL),
    };
    Type::primitive_type_builder(name, physical).with_logical_type(logical).with_repetition(repetition).build()
}

fn fill(
    writer: &mut SerializedColumnWriter<'_>,
    column: &Column,
    rows: &[FigureRow],
) -> std::result::Result<(), ParquetError> {
    match (column, writer.untyped()) {
        (Column::Long(get) | Column::Instant(get), ColumnWriter::Int64ColumnWriter(w)) => {
            w.write_batch(&rows.iter().map(get).collect::<Vec<_>>(), None, None)?;
        }
        (Column::Int(get) | Column::Date(get), ColumnWriter::Int32ColumnWriter(w)) => {
            w.write_batch(&rows.iter().map(get).collect::<Vec<_>>(), None, None)?;
        }
        (Column::Text(get), ColumnWriter::ByteArrayColumnWriter(w)) => {
            let values: Vec<ByteArray> = rows.iter().map(|r| ByteArray::from(get(r).into_bytes())).collect();
            w.write_batch(&values, None, None)?;
        }
        (Column::Figure(c), ColumnWriter::Int32ColumnWriter(w)) => {
            // `as` saturates; a count was a whole number before.
            let counts: Vec<Option<i32>> = rows.iter().map(|r| r.figures.flat(*c).map(|n| n as i32)).collect();
            let there: Vec<i16> = counts.iter().map(|n| i16::from(n.is_some())).collect();
            w.write_batch(&counts.into_iter().flatten().collect::<Vec<_>>(), Some(&there), None)?;
        }
        (column @ (Column::Number(_) | Column::Figure(_)), ColumnWriter::DoubleColumnWriter(w)) => {
            let value = |r: &FigureRow| match column {
                Column::Number(get) => get(r),
                Column::Figure(c) => r.figures.flat(*c),
                _ => None,
            };
            let values: Vec<Option<f64>> = rows.iter().map(value).collect();
            let there: Vec<i16> = values.iter().map(|v| i16::from(v.is_some())).collect();
            w.write_batch(&values.into_iter().flatten().collect::<Vec<_>>(), Some(&there), None)?;
        }
        _ => return Err(ParquetError::General("a column's writer does not fit its schema".to_owned())),
    }
    Ok(())
}
