//! Players, trend, ladder, comparison, plan.

use super::{page, there};
use crate::ask::{self, Whose};
use crate::state::App;
use crate::trouble::Trouble;
use crate::views;
use axum::extract::{Query, State};
use axum::response::Response;
use serde::Deserialize;
use std::sync::Arc;
use takegauge_journal::{Day, DrillRow, Filter, Journal};
use takegauge_review::GroupKey;
use takegauge_review::history::Metric;

/// What a question about weeks of practice is about.
#[derive(Debug, Clone, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Asked {
    pub(crate) player: String,
    pub(crate) drill: String,
    pub(crate) group: String,
    pub(crate) figure: String,
    pub(crate) first: String,
    pub(crate) second: String,
}

/// What the form's lists offer.
pub(crate) struct Offer {
    pub(crate) players: Vec<String>,
    pub(crate) drills: Vec<DrillRow>,
    /// Names and labels of the groups of the chosen takes.
    pub(crate) groups: Vec<(String, String)>,
}

impl Asked {
    pub(crate) fn metric(&self) -> Metric {
        Metric::named(&self.figure).unwrap_or(Metric::SPREAD)
    }

    fn drill(&self) -> Result<Option<i64>, Trouble> {
        let unknown = |_| Trouble::NotFound("The journal has no such drill.".into());
        if self.drill.is_empty() { Ok(None) } else { self.drill.parse().map(Some).map_err(unknown) }
    }

    /// Fills in the only player and the drill of the latest take, where nothing was chosen.
    fn complete(&mut self, j: &Journal, player: Option<&str>) -> Result<Offer, Trouble> {
        let (players, drills) = (j.players()?, j.drills()?);
        if self.player.is_empty() {
            let usual = player.filter(|p| players.iter().any(|q| q == p)).map(str::to_owned);
            self.player = usual.or_else(|| players.first().cloned()).unwrap_or_default();
        }
        let of_player = Filter { player: Some(self.player.clone()), ..Filter::default() };
        if self.drill()?.is_none()
            && let Some(last) = j.list(&of_player)?.last()
            && let Some(drill) = drills.iter().find(|d| d.hash.starts_with(&last.drill_id))
        {
            self.drill = drill.id.to_string();
        }
        if self.group.is_empty() {
            self.group = GroupKey::Change.to_string();
        }
        let which = Filter { drills: self.drill()?.map(|d| vec![d]), ..of_player };
        let groups = j.groups(&which)?.into_iter().filter(|(g, _)| g.is_lasting());
        Ok(Offer { groups: groups.map(|(g, label)| (g.to_string(), label)).collect(), players, drills })
    }
}

pub(super) async fn players(State(app): State<Arc<App>>) -> Result<Response, Trouble> {
    let rows = app.journal(|j| Ok(j.list(&Filter::default())?)).await?;
    Ok(page(views::players(&app, rows.as_deref())))
}

pub(super) async fn trend(State(app): State<Arc<App>>, Query(mut asked): Query<Asked>) -> Result<Response, Trouble> {
    let player = app.player.clone();
    let found = app
        .journal(move |j| {
            let offer = asked.complete(j, player.as_deref())?;
            let report = match asked.drill()? {
                Some(drill) => {
                    let whose = Whose { player: &asked.player, drill };
                    Some(ask::trend_of(j, whose, &asked.group, asked.metric())?)
                }
                None => None,
            };
            Ok((offer, asked, report))
        })
        .await?;
    Ok(page(views::trend(&app, found.as_ref())))
}

pub(super) async fn ladder(State(app): State<Arc<App>>, Query(mut asked): Query<Asked>) -> Result<Response, Trouble> {
    let player = app.player.clone();
    let found = app
        .journal(move |j| {
            let offer = asked.complete(j, player.as_deref())?;
            let report = match asked.drill()? {
                Some(drill) => Some(ask::ladder_of(j, Whose { player: &asked.player, drill })?),
                None => None,
            };
            Ok((offer, asked, report))
        })
        .await?;
    Ok(page(views::ladder(&app, found.as_ref())))
}

pub(super) async fn compare(State(app): State<Arc<App>>, Query(asked): Query<Asked>) -> Result<Response, Trouble> {
    if asked.first.trim().is_empty() && asked.second.trim().is_empty() {
        return Ok(page(views::compare(&app, &asked, None)));
    }
    let (first, second) = (ask::numbers(&asked.first)?, ask::numbers(&asked.second)?);
    let report = there(app.journal(move |j| Ok(j.compare(&first, &second)?)).await?)?;
    Ok(page(views::compare(&app, &asked, Some(&report))))
}

pub(super) async fn plan(State(app): State<Arc<App>>, Query(asked): Query<Asked>) -> Result<Response, Trouble> {
    let player = (!asked.player.is_empty()).then(|| asked.player.clone());
    let which = Filter { player, ..Filter::default() };
    let found = app.journal(move |j| Ok((j.players()?, j.plan(&which, Day::today())?))).await?;
    Ok(page(views::plan(&app, &asked, found.as_ref())))
}
