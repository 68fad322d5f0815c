//! Addresses and what answers them. Everything in an address is a number or a text to look up; none is a path.

use crate::state::{App, no_journal};
use crate::trouble::Trouble;
use crate::{guard, upload, views};
use axum::Router;
use axum::extract::State;
use axum::http::header;
use axum::response::{IntoResponse, Redirect, Response};
use axum::routing::{get, post};
use std::sync::Arc;
use takegauge_drill::Drill;

pub(crate) use drills::Choice;
pub(crate) use history::{Asked, Offer as HistoryOffer};
pub(crate) use takes::{ON_A_PAGE, Offer as TakesOffer, Wanted};

mod drills;
mod history;
mod results;
mod takes;

pub(crate) fn router(app: Arc<App>) -> Router {
    Router::new()
        .route("/", get(home))
        .route("/takes", get(takes::list))
        .route("/takes/{take}", get(takes::one))
        .route("/takes/{take}/score.json", get(takes::json))
        .route("/takes/{take}/report.html", get(takes::file))
        .route("/takes/{take}/sound", get(takes::sound))
        .route("/takes/{take}/notes", post(takes::annotate))
        .route("/takes/{take}/delete", post(takes::delete))
        .route("/undo", post(takes::undo))
        .route("/players", get(history::players))
        .route("/drills", get(drills::list).post(drills::add))
        .route("/drills/{kind}/{name}", get(drills::one))
        .route("/results/{number}", get(results::one))
        .route("/results/{number}/state", get(results::state))
        .route("/results/{number}/score.json", get(results::json))
        .route("/results/{number}/sound", get(results::sound))
        .route("/results/{number}/keep", post(results::keep))
        .route("/results/{number}/stop", post(results::stop))
        .route("/trend", get(history::trend))
        .route("/ladder", get(history::ladder))
        .route("/compare", get(history::compare))
        .route("/plan", get(history::plan))
        .route(guard::UPLOADS, post(upload::take_in))
        .route("/assets/{name}", get(asset))
        .fallback(nowhere)
        .with_state(app)
}

async fn nowhere() -> Trouble {
    Trouble::NotFound("There is no such page.".into())
}

async fn home(State(app): State<Arc<App>>) -> Result<Response, Trouble> {
    let rows = app.journal(|j| Ok(j.list(&takegauge_journal::Filter::default())?)).await?;
    let drills = drills::choices(&app).await?;
    Ok(page(views::home(&app, rows.as_deref(), &drills)))
}

/// Script and style files; the name is looked up here, not on the disk.
async fn asset(axum::extract::Path(name): axum::extract::Path<String>) -> Result<Response, Trouble> {
    const SCRIPT: &str = "text/javascript; charset=utf-8";
    let (kind, text) = match name.as_str() {
        "report.css" => ("text/css; charset=utf-8", takegauge_report::STYLE.to_owned()),
        "page.css" => ("text/css; charset=utf-8", include_str!("assets/page.css").to_owned()),
        "report.js" => (SCRIPT, takegauge_report::report_script()),
        "theme.js" => (SCRIPT, takegauge_report::theme_script()),
        "send.js" => (SCRIPT, include_str!("assets/send.js").to_owned()),
        "wait.js" => (SCRIPT, include_str!("assets/wait.js").to_owned()),
        _ => return Err(Trouble::NotFound("There is no such file.".into())),
    };
    Ok(([(header::CONTENT_TYPE, kind), (header::CACHE_CONTROL, "no-cache")], text).into_response())
}

pub(crate) fn page(text: String) -> Response {
    axum::response::Html(text).into_response()
}

fn to(address: &str) -> Response {
    Redirect::to(address).into_response()
}

/// What was found in the journal, or that there is none.
fn there<T>(found: Option<T>) -> Result<T, Trouble> {
    found.ok_or_else(no_journal)
}

/// A text as one line of at most `most` characters, without control characters.
pub(crate) fn one_line(text: &str, most: usize) -> String {
    text.chars().filter(|c| !c.is_control()).take(most).collect::<String>().trim().to_owned()
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

    fn of(kind: &str, name: &str) -> Result<Self, Trouble> {
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
