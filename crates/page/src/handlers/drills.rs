//! Drills: those that come with the program, those of the journal, those sent here.

use crate::answer::page;
use crate::choice::{DrillChoice, choices, choices_and};
use crate::state::App;
use crate::trouble::Trouble;
use crate::views;
use axum::Json;
use axum::body::Bytes;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};
use std::sync::Arc;
use takegauge_drill::Drill;

pub(crate) async fn list(State(app): State<Arc<App>>) -> Result<Response, Trouble> {
    Ok(page(views::drills(&app, &choices(&app).await?)))
}

pub(crate) async fn one(
    State(app): State<Arc<App>>,
    Path((kind, name)): Path<(String, String)>,
) -> Result<Response, Trouble> {
    let drill = DrillChoice::of(&kind, &name)?.drill(&app).await?;
    let all = choices_and(&app, &format!("{kind}:{name}")).await?;
    let chosen = all.iter().find(|c| c.kind == kind && c.key == name);
    Ok(page(views::drill(&app, &drill, &all, chosen)))
}

/// Takes the text of a drill file; answers with its number and name, or says where it is wrong.
pub(crate) async fn add(State(app): State<Arc<App>>, body: Bytes) -> Result<Response, Trouble> {
    let text = std::str::from_utf8(&body).map_err(|_| Trouble::Wrong("A drill is a text file in UTF-8.".into()))?;
    let drill = Drill::parse(text, "your drill").map_err(|e| Trouble::Wrong(e.to_string()))?;
    let name = drill.name.clone();
    let number = app.add_drill(drill);
    Ok(Json(serde_json::json!({ "drill": format!("own:{number}"), "name": name })).into_response())
}
