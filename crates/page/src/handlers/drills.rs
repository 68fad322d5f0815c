//! Drills: those that come with the program, those of the journal, those sent here.

use super::{DrillChoice, page};
use crate::state::App;
use crate::trouble::Trouble;
use crate::views;
use axum::Json;
use axum::body::Bytes;
use axum::extract::{Path, State};
use axum::response::{IntoResponse, Response};
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

pub(super) async fn list(State(app): State<Arc<App>>) -> Result<Response, Trouble> {
    Ok(page(views::drills(&app, &choices(&app).await?)))
}

pub(super) async fn one(
    State(app): State<Arc<App>>,
    Path((kind, name)): Path<(String, String)>,
) -> Result<Response, Trouble> {
    let drill = DrillChoice::of(&kind, &name)?.drill(&app).await?;
    let all = choices(&app).await?;
    let chosen = all.iter().find(|c| c.kind == kind && c.key == name);
    Ok(page(views::drill(&app, &drill, &all, chosen)))
}

/// Takes the text of a drill file; answers with its number and name, or says where it is wrong.
pub(super) async fn add(State(app): State<Arc<App>>, body: Bytes) -> Result<Response, Trouble> {
    let text = std::str::from_utf8(&body).map_err(|_| Trouble::Wrong("A drill is a text file in UTF-8.".into()))?;
    let drill = Drill::parse(text, "your drill").map_err(|e| Trouble::Wrong(e.to_string()))?;
    let name = drill.name.clone();
    let number = app.add_drill(drill);
    Ok(Json(serde_json::json!({ "drill": format!("own:{number}"), "name": name })).into_response())
}
