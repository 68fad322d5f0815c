//! Many takes over days and weeks, as plain data: trends, comparisons of two sets of takes, and what to practise next.
//!
//! Pure functions: the caller brings the figures of each take ([`TakePoint`]) and today's day; nothing is stored or
//! looked up here. Days are whole days of the player's own calendar, counted from 1970-01-01.

mod apart;
mod changed;
mod compare;
mod days;
mod found;
mod metric;
mod plan;
mod player;
mod point;
mod reached;
mod tasks;
#[cfg(test)]
mod tests;
mod trend;

pub use apart::came_apart;
pub use changed::{asked_about, what_changed};
pub use compare::{COMPARE_SCHEMA, CompareReport, CompareRow, GroupHistory, compare, compared};
pub use days::{DayValue, LIKE_TEMPO, by_day, is_like, usual_tempo};
pub use found::{FindingOverDays, Found, FoundTake};
pub use metric::Metric;
pub use plan::{PLAN_SCHEMA, PlanLine, PlanReport, Practised, plan};
pub use player::{LastTake, PLAYER_SCHEMA, PlayedDrill, PlayerReport, player};
pub use point::{TakePoint, figures_of, whole_take};
pub use reached::TempoReached;
pub use tasks::{Dated, SetTask, TASKS_SCHEMA, TaskLine, TaskList, TaskState, tasks};
pub use trend::{LineFit, Series, TREND_SCHEMA, TrendReport, TrendRow, Verdict, trend};
