//! The first page.

use crate::state::App;
use crate::trouble::Trouble;
use crate::{answer, choice, views};
use axum::extract::State;
use axum::response::Response;
use std::sync::Arc;
use takegauge_journal::Filter;

pub(crate) async fn page(State(app): State<Arc<App>>) -> Result<Response, Trouble> {
    let rows = app.journal(|j| Ok(j.list(&Filter::default())?)).await?;
    let drills = choice::choices(&app).await?;
    Ok(answer::page(views::home(&app, rows.as_deref(), &drills)))
}
