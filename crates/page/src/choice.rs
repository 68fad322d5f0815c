//! Drills to choose from: those that come with the program, those of the journal, those sent here.

use crate::answer::there;
use crate::state::App;
use crate::trouble::Trouble;
use std::sync::Arc;
use takegauge_drill::Drill;

/// A drill to choose: what stands in the form, what is read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Choice {
    /// "ready", "journal", "own", "loop" or "task".
    pub(crate) kind: &'static str,
    pub(crate) key: String,
    pub(crate) name: String,
}

impl Choice {
    /// As forms send it and [`DrillChoice::read`] reads it.
    pub(crate) fn value(&self) -> String {
        format!("{}:{}", self.kind, self.key)
    }

    /// Its name and where it is from.
    pub(crate) fn label(&self) -> String {
        let from = match self.kind {
            "own" => " (sent here)",
            "journal" => " (journal)",
            "loop" => " (practice loop)",
            "task" => " (task)",
            _ => "",
        };
        format!("{}{from}", self.name)
    }
}

/// All drills that may be chosen, those that were sent or played before first.
pub(crate) async fn choices(app: &Arc<App>) -> Result<Vec<Choice>, Trouble> {
    let own = app.own_drills().into_iter().rev().map(|(n, name)| Choice { kind: "own", key: n.to_string(), name });
    let kept = app.journal(|j| Ok(j.drills()?)).await?.unwrap_or_default().into_iter();
    let kept = kept.map(|d| Choice { kind: "journal", key: d.id.to_string(), name: d.name });
    let ready = takegauge_drill::built_in().filter_map(|b| {
        let name = b.drill().ok()?.name;
        Some(Choice { kind: "ready", key: b.name.to_owned(), name })
    });
    Ok(own.chain(kept).chain(ready).collect())
}

/// The same with a practice loop or a task's drill before them, if `value` names one: these stand in no list of their own.
pub(crate) async fn choices_and(app: &Arc<App>, value: &str) -> Result<Vec<Choice>, Trouble> {
    let mut all = choices(app).await?;
    for kind in ["loop", "task"] {
        if let Some(key) = value.strip_prefix(kind).and_then(|rest| rest.strip_prefix(':')) {
            let name = DrillChoice::read(value)?.drill(app).await?.name;
            all.insert(0, Choice { kind, key: key.to_owned(), name });
        }
    }
    Ok(all)
}

/// Which drill is meant: "ready:NAME", "journal:ROW", "own:NUMBER", or a practice loop of a score, "loop:result.5.0" or
/// "loop:take.12.0", or the drill of a task, "task:3".
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum DrillChoice {
    /// One that comes with the program.
    Ready(String),
    /// A row of the journal.
    Journal(i64),
    /// Sent in this start.
    Own(u64),
    /// What a score says to practise next.
    Loop(Scored, usize),
    /// What was set for a player.
    Task(i64),
}

/// Where a score is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Scored {
    /// A result of this start.
    Result(u64),
    /// A take of the journal.
    Take(i64),
}

impl std::fmt::Display for Scored {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Result(number) => write!(f, "result.{number}"),
            Self::Take(number) => write!(f, "take.{number}"),
        }
    }
}

impl Scored {
    /// "result.5.0": the first loop of result 5.
    fn read_loop(text: &str) -> Option<(Self, usize)> {
        let (scored, place) = text.rsplit_once('.')?;
        let (kind, number) = scored.split_once('.')?;
        let scored = match kind {
            "result" => Self::Result(number.parse().ok()?),
            "take" => Self::Take(number.parse().ok()?),
            _ => return None,
        };
        Some((scored, place.parse().ok()?))
    }

    /// The drill of a loop, as a file.
    async fn loop_toml(self, app: &Arc<App>, place: usize) -> Result<String, Trouble> {
        let gone = || Trouble::NotFound("This practice loop is no longer there. Go back to its report.".into());
        let plan = match self {
            Self::Result(number) => app.jobs.get(number)?.report()?.plan.clone(),
            Self::Take(take) => there(app.journal(move |j| Ok(j.take(take)?.2.plan)).await?)?,
        };
        plan.into_iter().nth(place).map(|p| p.drill_toml).ok_or_else(gone)
    }
}

impl DrillChoice {
    pub(crate) fn read(text: &str) -> Result<Self, Trouble> {
        let (kind, name) = text.split_once(':').unwrap_or((text, ""));
        Self::of(kind, name)
    }

    pub(crate) fn of(kind: &str, name: &str) -> Result<Self, Trouble> {
        let unknown = || Trouble::NotFound("There is no such drill. Choose one of the list.".into());
        match kind {
            "ready" => Ok(Self::Ready(name.to_owned())),
            "journal" => name.parse().map(Self::Journal).map_err(|_| unknown()),
            "own" => name.parse().map(Self::Own).map_err(|_| unknown()),
            "task" => name.parse().map(Self::Task).map_err(|_| unknown()),
            "loop" => Scored::read_loop(name).map(|(scored, place)| Self::Loop(scored, place)).ok_or_else(unknown),
            _ => Err(unknown()),
        }
    }

    pub(crate) async fn drill(&self, app: &Arc<App>) -> Result<Drill, Trouble> {
        let unknown = || Trouble::NotFound("There is no such drill. Choose one of the list.".into());
        match self {
            Self::Ready(name) => takegauge_drill::named(name).ok_or_else(unknown),
            Self::Own(number) => app.own_drill(*number).ok_or_else(unknown),
            Self::Loop(scored, place) => {
                let text = scored.loop_toml(app, *place).await?;
                Drill::parse(&text, "the practice loop").map_err(|e| Trouble::Inside(e.to_string()))
            }
            Self::Task(task) => {
                let task = *task;
                let tasks = there(app.journal(|j| Ok(j.tasks(None)?)).await?)?;
                let found = tasks.into_iter().find(|t| t.task == task).and_then(|t| t.record.drill);
                Drill::parse(&found.ok_or_else(unknown)?, "the task").map_err(|e| Trouble::Inside(e.to_string()))
            }
            Self::Journal(row) => {
                let row = *row;
                let drills = there(app.journal(|j| Ok(j.drills()?)).await?)?;
                let found = drills.into_iter().find(|d| d.id == row).ok_or_else(unknown)?;
                Drill::parse(&found.toml, "the journal").map_err(|e| Trouble::Inside(e.to_string()))
            }
        }
    }
}
