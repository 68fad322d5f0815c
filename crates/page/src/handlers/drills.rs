//! Drills: those that come with the program, those of the journal, those sent here.

use crate::answer::page;
use crate::choice::{DrillChoice, choices, choices_and};
use crate::practised::practised;
use crate::state::App;
use crate::trouble::Trouble;
use crate::views::{self, Shown};
use crate::work::blocking;
use axum::Json;
use axum::body::Bytes;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};
use std::collections::BTreeMap;
use std::sync::Arc;
use takegauge_drill::Drill;
use takegauge_journal::{Filter, TakeRow, lines_of};

pub(crate) async fn list(State(app): State<Arc<App>>) -> Result<Response, Trouble> {
    let own = choices(&app).await?.into_iter().filter(|c| c.kind == "own");
    let own = own.filter_map(|c| Some(Shown::plain("own", &c.key, app.own_drill(c.key.parse().ok()?)?)));
    let (own, kept) = (own.collect::<Vec<_>>(), kept(&app, None).await?);
    let ready = takegauge_drill::built_in().filter_map(|b| Some(Shown::plain("ready", b.name, b.drill().ok()?)));
    let all: Vec<Shown> = own.into_iter().chain(kept).chain(ready).collect();
    blocking(move || Ok(page(views::drills(&app, &all)))).await
}

/// The lines of the journal, the one played last first; drills that differ in tempo, name or repeats alone are one. `only`
/// this line, where one is asked for.
async fn kept(app: &Arc<App>, only: Option<&str>) -> Result<Vec<Shown>, Trouble> {
    let found = app.journal(|j| Ok((j.drills()?, j.list(&Filter::default())?))).await?;
    let Some((drills, rows)) = found else { return Ok(Vec::new()) };
    let lines = lines_of(&drills);
    let mut by_line: BTreeMap<&str, Vec<(usize, &TakeRow)>> = BTreeMap::new();
    for (place, row) in rows.iter().enumerate() {
        if let Some(line) = lines.get(row.drill_id.as_str()).filter(|line| only.is_none_or(|o| o == *line)) {
            by_line.entry(line).or_default().push((place, row));
        }
    }
    let mut shown: Vec<(usize, Shown)> = Vec::new();
    for takes in by_line.into_values() {
        let Some((place, last)) = takes.last() else { continue };
        let Some(row) = drills.iter().find(|d| d.short_id() == last.drill_id) else { continue };
        let Ok(drill) = Drill::parse(&row.toml, "the journal") else { continue };
        let history = practised(takes.iter().map(|(_, row)| *row));
        shown.push((*place, Shown { history, ..Shown::plain("journal", &row.id.to_string(), drill) }));
    }
    shown.sort_by_key(|(place, _)| std::cmp::Reverse(*place));
    Ok(shown.into_iter().map(|(_, shown)| shown).collect())
}

pub(crate) async fn one(
    State(app): State<Arc<App>>,
    Path((kind, name)): Path<(String, String)>,
) -> Result<Response, Trouble> {
    let drill = DrillChoice::of(&kind, &name)?.drill(&app).await?;
    let all = choices_and(&app, &format!("{kind}:{name}")).await?;
    let chosen = all.iter().find(|c| c.kind == kind && c.key == name);
    let played = kept(&app, Some(&drill.played_toml())).await?.pop();
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
