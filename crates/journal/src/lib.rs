//! The practice history: takes over weeks in one SQLite file. It stores and fetches; the review room computes.
//!
//! - A take is in the journal once [`Journal::add`] has returned: committed and synced to the disk.
//! - The same recording of the same drill is one take ([`file_hash`], [`drill_hash`]).
//! - Nothing is dropped in silence: what is deleted or scored anew stays on a shelf until [`Journal::compact`].
//! - A file of an earlier format is brought up to date when it is opened; one of a later format is left alone.

mod annotate;
mod ask;
mod care;
mod error;
mod figures;
mod file;
mod journal;
mod lines;
mod model;
mod pack;
#[cfg(feature = "parquet")]
mod parquet_file;
mod query;
mod record;
mod remove;
mod restore;
mod schema;
mod seal;
mod sheets;
mod takes;
#[cfg(test)]
mod testing;
#[cfg(test)]
mod tests;
mod when;

pub use ask::{DrillAsked, like_tempo, take_numbers};
pub use care::{Salvaged, salvage};
pub use error::{JournalError, Result};
pub use journal::{Added, Journal};
pub use lines::{Exported, TAKE_SCHEMA};
pub use model::{DrillRow, Filter, Picked, TakeList, TakeRecord, TakeRow, drill_hash, file_hash, step_hash};
#[cfg(feature = "parquet")]
pub use parquet_file::{SheetFile, takes_parquet};
pub use query::FigureRow;
pub use remove::{Compacted, Undone};
pub use restore::{Restored, restore};
pub use sheets::{figure_sheet, take_sheet};
pub use when::{Day, RecordedAt};
