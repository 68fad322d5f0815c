//! The order of findings: by what matters to a listener and a player.
//!
//! A difference in time weighs its size against the hearing limit and against the limit of the line (a quarter of the
//! distance between notes), times how many notes it is in. Everything else is weighed on the same scale: a note not
//! heard, wrong or extra like one shifted by both limits twice over; ringing over far below timing unless it reaches the
//! next note. The weights order findings and are shown nowhere (chosen by us).

use crate::score::{FindingRow, Measure};
use crate::told::Told;

/// A note not as written, in notes shifted by both limits.
const NOTE_WRONG: f64 = 4.0;
/// Share of the take's notes that a change of the whole take weighs with.
const OF_THE_TAKE: f64 = 0.25;
/// Ringing over that ends before the next note weighs this share of one that does not.
const RINGING_SHORT: f64 = 0.2;

/// Puts the weightiest first; what weighs the same keeps its order.
pub(crate) fn by_weight(told: &mut [Told], hearing_limit: Option<f64>, apart_ms: f64, spread_ms: Option<f64>) {
    let scale = Scale {
        hearing: hearing_limit.unwrap_or(6.0).max(1e-3),
        limit: (0.25 * apart_ms).max(1e-3),
        apart: apart_ms.max(1e-3),
        spread: spread_ms.unwrap_or(4.0),
    };
    told.sort_by(|a, b| scale.weight(&b.row).total_cmp(&scale.weight(&a.row)));
}

struct Scale {
    hearing: f64,
    limit: f64,
    apart: f64,
    spread: f64,
}

impl Scale {
    fn time(&self, ms: f64) -> f64 {
        ms.abs() / self.hearing + ms.abs() / self.limit
    }

    fn weight(&self, row: &FindingRow) -> f64 {
        let (n, value) = (row.n as f64, row.value);
        let weight = match row.measure {
            Measure::Bias => n * self.time(value),
            Measure::Spread => n * self.time(self.spread * (value * value - 1.0).max(0.0).sqrt()),
            Measure::Missed | Measure::WrongPitch | Measure::Extra => NOTE_WRONG * n * value / 100.0,
            Measure::Smear => {
                let reach = value / self.apart;
                n * reach * if reach < 1.0 { RINGING_SHORT } else { 1.0 }
            }
            Measure::Level => n * value.abs() / 6.0,
            Measure::Swing => n * self.time(self.apart * (value / 100.0 - 0.5)),
            Measure::Tempo | Measure::TempoChange => OF_THE_TAKE * n * value.abs() / 2.0,
            Measure::ChangeInTake => {
                OF_THE_TAKE * n * self.time(self.spread * (value.max(1.0 / value.max(1e-3)) - 1.0))
            }
        };
        if weight.is_finite() { weight } else { 0.0 }
    }
}
