//! From measured notes to what a report says: pure functions from an aligned, measured take to data.

mod advice;
mod along;
mod apart;
mod assumed;
mod basis;
mod caution;
mod curious;
mod cut;
pub mod declared;
mod estimates;
mod figure_row;
mod figures;
mod findings;
mod gates;
mod group_key;
mod groups;
mod headline;
pub mod history;
mod instrument;
mod ladder;
mod levels;
pub mod many;
mod members;
mod plan;
mod rank;
mod reliability;
mod report;
mod residuals;
mod ringing_time;
mod round;
mod scatter;
#[cfg(feature = "schemas")]
mod schema;
mod score;
mod search;
mod session;
pub mod sheet;
mod sheets;
mod swing;
mod tab;
mod tables;
mod take;
mod tell;
#[cfg(test)]
mod testing;
mod told;
mod value;
mod words;

pub use apart::apart;
pub use caution::caution;
pub use estimates::LEAST_FOR_ESTIMATES;
pub use figures::Figures;
pub use group_key::{GroupKey, NoSuchGroup};
pub use ladder::*;
pub use members::Members;
pub use report::{STROKES_NOTE, score};
#[cfg(feature = "schemas")]
pub use schema::schemas;
pub use score::*;
pub use session::*;
pub use take::{AfterSlip, Input};
pub use takegauge_align::{Status, TempoFrom};
pub use takegauge_audio::Health;
pub use takegauge_measure::SHORTEST_SMEAR;
pub use tell::ringing;
pub use value::Value;
