//! Trend, ladder, plan.

use crate::answer::page;
use crate::ask::{self, Whose};
use crate::forms::Asked;
use crate::state::App;
use crate::trouble::Trouble;
use crate::views;
use axum::extract::{Query, State};
use axum::response::Response;
use std::sync::Arc;
use takegauge_journal::{Day, Filter, Journal};

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

pub(crate) async fn plan(State(app): State<Arc<App>>, Query(mut asked): Query<Asked>) -> Result<Response, Trouble> {
    let name = asked.player.clone();
    let work = move |j: &mut Journal| {
        let player = if name.is_empty() { None } else { Some(j.player_name(&name)?) };
        let which = Filter { player: player.clone(), ..Filter::default() };
        Ok((player.unwrap_or_default(), (j.players_and_students()?, j.plan(&which, Day::today())?)))
    };
    let found = app.journal(work).await?.map(|(player, found)| {
        asked.player = player;
        found
    });
    Ok(page(views::plan(&app, &asked, found.as_ref())))
}
