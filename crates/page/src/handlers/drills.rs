//! Drills: those that come with the program, those of the journal, those sent here.

use crate::answer::page;
use crate::choice::{DrillChoice, choices, choices_and};
use crate::practised::practised;
use crate::state::App;
use crate::trouble::Trouble;
use crate::views::{self, Shown, line_of};
use crate::work::blocking;
use axum::Json;
use axum::body::Bytes;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};
use std::sync::Arc;
use takegauge_drill::Drill;
use takegauge_journal::{DrillRow, Filter, TakeRow};

pub(crate) async fn list(State(app): State<Arc<App>>) -> Result<Response, Trouble> {
    let own = choices(&app).await?.into_iter().filter(|c| c.kind == "own");
    let own = own.filter_map(|c| Some(Shown::plain("own", &c.key, app.own_drill(c.key.parse().ok()?)?)));
    let (own, kept) = (own.collect::<Vec<_>>(), kept(&app).await?);
    let ready = takegauge_drill::built_in().filter_map(|b| Some(Shown::plain("ready", b.name, b.drill().ok()?)));
    let all: Vec<Shown> = own.into_iter().chain(kept).chain(ready).collect();
    blocking(move || Ok(page(views::drills(&app, &all)))).await
}

/// The lines of the journal, the one played last first; drills that differ in tempo, name or repeats alone are one.
async fn kept(app: &Arc<App>) -> Result<Vec<Shown>, Trouble> {
    let found = app.journal(|j| Ok((j.drills()?, j.list(&Filter::default())?))).await?;
    let Some((drills, rows)) = found else { return Ok(Vec::new()) };
    let mut lines: Vec<(String, Vec<&DrillRow>)> = Vec::new();
    for d in &drills {
        let line = d.line();
        match lines.iter_mut().find(|(l, _)| *l == line) {
            Some((_, of)) => of.push(d),
            None => lines.push((line, vec![d])),
        }
    }
    let mut shown: Vec<(usize, Shown)> = Vec::new();
    for (_, of) in lines {
        let is_of = |r: &&TakeRow| of.iter().any(|d| d.short_id() == r.drill_id);
        let Some(last) = rows.iter().rposition(|r| is_of(&r)) else { continue };
        let row = of.iter().find(|d| d.short_id() == rows[last].drill_id).unwrap_or(&of[0]);
        let Ok(drill) = Drill::parse(&row.toml, "the journal") else { continue };
        let history = practised(rows.iter().filter(is_of));
        shown.push((last, Shown { history, ..Shown::plain("journal", &row.id.to_string(), drill) }));
    }
    shown.sort_by_key(|(last, _)| std::cmp::Reverse(*last));
    Ok(shown.into_iter().map(|(_, shown)| shown).collect())
}

pub(crate) async fn one(
    State(app): State<Arc<App>>,
    Path((kind, name)): Path<(String, String)>,
) -> Result<Response, Trouble> {
    let drill = DrillChoice::of(&kind, &name)?.drill(&app).await?;
    let all = choices_and(&app, &format!("{kind}:{name}")).await?;
    let chosen = all.iter().find(|c| c.kind == kind && c.key == name);
    let line = line_of(&drill);
    let played = kept(&app).await?.into_iter().find(|k| line_of(&k.drill) == line);
    Ok(page(views::drill(&app, &drill, &all, chosen, played.as_ref())))
}

/// Takes the text of a drill file; answers with its number and name, or says where it is wrong.
pub(crate) async fn add(State(app): State<Arc<App>>, body: Bytes) -> Result<Response, Trouble> {
    let text = std::str::from_utf8(&body).map_err(|_| Trouble::Wrong("A drill is a text file in UTF-8.".into()))?;
    let drill = Drill::parse(text, "your drill").map_err(|e| Trouble::Wrong(e.to_string()))?;
    let name = drill.name.clone();
    let number = app.add_drill(drill);
    Ok(Json(serde_json::json!({ "drill": format!("own:{number}"), "name": name })).into_response())
}
