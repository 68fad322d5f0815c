//! From measured notes to what a report says: pure functions from an aligned, measured take to data.

mod advice;
mod along;
mod caution;
mod curious;
mod cut;
pub mod declared;
mod figures;
mod findings;
mod group_key;
mod groups;
pub mod history;
mod ladder;
mod plan;
mod reliability;
mod report;
mod residuals;
mod round;
mod scatter;
mod schema;
mod score;
mod search;
mod session;
mod tables;
mod take;
mod tell;
#[cfg(test)]
mod testing;
mod value;

pub use caution::caution;
pub use figures::{LEAST_FOR_ESTIMATES, Members};
pub use group_key::{GroupKey, NoSuchGroup};
pub use ladder::*;
pub use report::{STROKES_NOTE, score};
pub use schema::schemas;
pub use score::*;
pub use session::*;
pub use take::Input;
pub use takegauge_align::{Status, TempoFrom};
pub use takegauge_audio::Health;
pub use takegauge_measure::SHORTEST_SMEAR;
pub use tell::ringing;
pub use value::{Figures, Value};
