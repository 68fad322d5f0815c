//! Drills to choose from: those that come with the program, those of the journal, those sent here.

use crate::answer::there;
use crate::state::App;
use crate::trouble::Trouble;
use std::sync::Arc;
use takegauge_drill::Drill;

/// A drill to choose: what stands in the form, what is read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Choice {
    /// "ready", "journal" or "own".
    pub(crate) kind: &'static str,
    pub(crate) key: String,
    pub(crate) name: String,
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

/// Which drill is meant: "ready:NAME", "journal:ROW" or "own:NUMBER".
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum DrillChoice {
    /// One that comes with the program.
    Ready(String),
    /// A row of the journal.
    Journal(i64),
    /// Sent in this start.
    Own(u64),
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
            _ => Err(unknown()),
        }
    }

    pub(crate) async fn drill(&self, app: &Arc<App>) -> Result<Drill, Trouble> {
        let unknown = || Trouble::NotFound("There is no such drill. Choose one of the list.".into());
        match self {
            Self::Ready(name) => takegauge_drill::named(name).ok_or_else(unknown),
            Self::Own(number) => app.own_drill(*number).ok_or_else(unknown),
            Self::Journal(row) => {
                let row = *row;
                let drills = there(app.journal(|j| Ok(j.drills()?)).await?)?;
                let found = drills.into_iter().find(|d| d.id == row).ok_or_else(unknown)?;
                Drill::parse(&found.toml, "the journal").map_err(|e| Trouble::Inside(e.to_string()))
            }
        }
    }
}
