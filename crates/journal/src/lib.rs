//! The practice history: takes over weeks in one SQLite file. It stores and fetches; the review room computes.
//!
//! - A take is in the journal once [`Journal::add`] has returned: committed and synced to the disk.
//! - The same recording of the same drill is one take ([`file_hash`], [`drill_hash`]).
//! - One player under several spellings is one ([`player_key`]).
//! - Nothing is dropped in silence: what is deleted or scored anew stays on a shelf until [`Journal::compact`].
//! - A file of an earlier format is brought up to date when it is opened; one of a later format is left alone.

mod ask;
mod care;
mod error;
mod figures;
mod file;
mod found;
mod journal;
mod lines;
mod mend;
mod model;
mod names;
mod pack;
#[cfg(feature = "parquet")]
mod parquet_file;
mod players;
mod query;
mod record;
mod remove;
mod restore;
mod salvage;
mod schema;
mod seal;
mod sheets;
mod student;
mod takes;
mod tasks;
#[cfg(test)]
mod testing;
#[cfg(test)]
mod tests;
mod when;

pub use ask::{DrillAsked, like_tempo, lines_of, take_numbers};
pub use error::{JournalError, Result};
pub use journal::{Added, Journal};
pub use lines::{Exported, Imported, TAKE_SCHEMA, TASK_SCHEMA};
pub use mend::Mended;
pub use model::{
    DrillRow, Filter, Picked, TakeList, TakeRecord, TakeRow, TaskRecord, TaskRow, drill_hash, file_hash, step_hash,
};
pub use names::{player_key, tidy_name};
#[cfg(feature = "parquet")]
pub use parquet_file::{SheetFile, takes_parquet};
pub use query::FigureRow;
pub use remove::{Compacted, Undone};
pub use restore::{Restored, restore};
pub use salvage::{Salvaged, salvage};
pub use sheets::{figure_sheet, take_sheet};
pub use tasks::TaskAdded;
pub use when::{Day, RecordedAt};
