//! Which of several drills a take is of.
//!
//! Two steps. [`resemblance`] looks at pitches alone, a few in a row: it costs next to nothing, and leaves a handful of
//! drills. [`evidence`] then explains the whole take by each, in natural-log units against pitches at random, which is
//! one reference for all of them.

use crate::align::explained;
use crate::cost::Costs;
use crate::line::Line;
use crate::model::Options;
use crate::pitch::transpositions;
use crate::tuning::which::{ANYTHING, OFF_PITCH, ROW, SAMPLE};
use takegauge_drill::{Drill, GridNote};
use takegauge_units::{Attack, SampleRate};

/// How much likelier a take's attacks are, a few in a row, by the drill's notes than by any: natural-log units a row.
/// `None` where the drill has no picked note or too little was heard.
pub fn resemblance(attacks: &[Attack], grid: &[GridNote], drill: &Drill) -> Option<f64> {
    let line = Line::fold(grid, drill)?;
    let strong: Vec<Attack> = attacks.iter().filter(|a| a.strength >= 1.0).take(SAMPLE).cloned().collect();
    let rows = strong.len().checked_sub(ROW - 1).filter(|n| *n > 0)?;
    let best = transpositions(&strong, &line).into_iter().map(|by| {
        let costs = Costs::new(&strong, vec![0.0; strong.len()], &line, by);
        let slots = line.slots.len();
        let row = |i: usize| -> f64 {
            let at = |s: usize| -> f64 { (0..ROW).map(|k| costs.likelier(i + k, line.slot(s + k))).product() };
            (0..slots).map(at).sum::<f64>() / slots as f64
        };
        (0..rows).map(|i| (ANYTHING + (1.0 - ANYTHING) * row(i)).ln()).sum::<f64>() / rows as f64
    });
    best.max_by(f64::total_cmp)
}

/// How much likelier the whole take is by the drill than by notes at random, in natural-log units; `None` where it does
/// not fit the drill at all.
pub fn evidence(
    attacks: &[Attack],
    rate: SampleRate,
    grid: &[GridNote],
    drill: &Drill,
    options: &Options,
) -> Option<f64> {
    let (cost, transpose) = explained(attacks, rate, grid, drill, options)?;
    let line = Line::fold(grid, drill)?;
    let seconds = attacks.iter().map(|a| a.at.seconds(rate).0).collect();
    let any_order = Costs::new(attacks, seconds, &line, transpose).any_order();
    Some(any_order - cost - if transpose == 0 { 0.0 } else { OFF_PITCH })
}
