//! Pages as HTML. Every text from outside is escaped by the template; none stands in a script or a style.

mod compare;
mod drills;
mod history;
mod loops;
mod mend;
mod players;
mod record;
mod send;
mod takes;
mod tasks;

pub(crate) use compare::{Compared, compare};
pub(crate) use drills::{Shown, drill, drills};
pub(crate) use history::{ladder, plan, trend};
pub(crate) use loops::loop_actions;
pub(crate) use mend::mend;
pub(crate) use players::{Beside, player, players};
pub(crate) use record::{one_try, record};
pub(crate) use send::{home, waiting};
pub(crate) use takes::{result, student, take, takes};
