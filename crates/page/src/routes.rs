//! Addresses and what answers them. Everything in an address is a number or a text to look up; none is a path.

use crate::handlers::{assets, clicks, compare, drills, film, history, home, players, record, results, takes};
use crate::state::App;
use crate::trouble::Trouble;
use crate::{guard, upload};
use axum::Router;
use axum::routing::{get, post};
use std::sync::Arc;

pub(crate) fn router(app: Arc<App>) -> Router {
    Router::new()
        .route("/", get(home::page))
        .route("/takes", get(takes::list))
        .route("/takes/{take}", get(takes::one))
        .route("/takes/{take}/score.json", get(takes::json))
        .route("/takes/{take}/report.html", get(takes::file))
        .route("/takes/{take}/student", get(takes::student))
        .route("/takes/{take}/sound", get(takes::sound))
        .route("/takes/{take}/film", get(film::of_take).post(film::lay_over_take))
        .route("/takes/{take}/notes", post(takes::annotate))
        .route("/takes/{take}/delete", post(takes::delete))
        .route("/undo", post(players::undo))
        .route("/players", get(players::all))
        .route("/player", get(players::one))
        .route("/player/tasks", post(players::set))
        .route("/tasks/{task}/done", post(players::done))
        .route("/tasks/{task}/open", post(players::open))
        .route("/tasks/{task}/delete", post(players::delete))
        .route("/drills", get(drills::list).post(drills::add))
        .route("/drills/{kind}/{name}", get(drills::one))
        .route("/results/{number}", get(results::one))
        .route("/results/{number}/state", get(results::state))
        .route("/results/{number}/score.json", get(results::json))
        .route("/results/{number}/sound", get(results::sound))
        .route("/results/{number}/film", get(film::of_result).post(film::lay_over_result))
        .route("/results/{number}/keep", post(results::keep))
        .route("/results/{number}/stop", post(results::stop))
        .route("/results/{number}/throw-away", post(record::throw_away))
        .route("/results/{number}/try", get(record::one_try))
        .route("/record", get(record::page))
        .route("/record/line", get(record::line))
        .route("/record/delay", get(record::delay))
        .route("/record/loopback.wav", get(clicks::loopback))
        .route(guard::LOOPBACK, post(record::loopback))
        .route("/clicks", get(clicks::of_drill))
        .route("/drills/{kind}/{name}/drill.toml", get(clicks::drill_file))
        .route("/trend", get(history::trend))
        .route("/ladder", get(history::ladder))
        .route("/compare", get(compare::compare))
        .route("/plan", get(history::plan))
        .route(guard::UPLOADS, post(upload::take_in))
        .route("/assets/{name}", get(assets::file))
        .fallback(nowhere)
        .with_state(app)
}

async fn nowhere() -> Trouble {
    Trouble::NotFound("There is no such page.".into())
}
