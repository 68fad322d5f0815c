//! Players, trend, ladder, plan.

use crate::answer::page;
use crate::ask::{self, Whose};
use crate::forms::Asked;
use crate::state::App;
use crate::trouble::Trouble;
use crate::views;
use axum::extract::{Query, State};
use axum::response::Response;
use std::sync::Arc;
use takegauge_journal::{Day, Filter};

pub(crate) async fn players(State(app): State<Arc<App>>) -> Result<Response, Trouble> {
    let rows = app.journal(|j| Ok(j.list(&Filter::default())?)).await?;
    Ok(page(views::players(&app, rows.as_deref())))
}

pub(crate) async fn trend(State(app): State<Arc<App>>, Query(mut asked): Query<Asked>) -> Result<Response, Trouble> {
    let player = app.player.clone();
    let found = app
        .journal(move |j| {
            let offer = asked.complete(j, player.as_deref())?;
            let report = match asked.drill()? {
                Some(drill) => {
                    let whose = Whose { player: &asked.player, drill };
                    Some(ask::trend_of(j, whose, (&asked.group, asked.metric()), asked.tempo())?)
                }
                None => None,
            };
            Ok((offer, asked, report))
        })
        .await?;
    Ok(page(views::trend(&app, found.as_ref())))
}

pub(crate) async fn ladder(State(app): State<Arc<App>>, Query(mut asked): Query<Asked>) -> Result<Response, Trouble> {
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

pub(crate) async fn plan(State(app): State<Arc<App>>, Query(asked): Query<Asked>) -> Result<Response, Trouble> {
    let player = (!asked.player.is_empty()).then(|| asked.player.clone());
    let which = Filter { player, ..Filter::default() };
    let found = app.journal(move |j| Ok((j.players()?, j.plan(&which, Day::today())?))).await?;
    Ok(page(views::plan(&app, &asked, found.as_ref())))
}
