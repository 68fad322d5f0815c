//! Players, one player, and what is set for them.

use crate::answer::{page, there, to};
use crate::choice::{DrillChoice, choices_and};
use crate::forms::{Roster, TaskAsked, note, one_line, roster};
use crate::frame::address;
use crate::state::App;
use crate::trouble::Trouble;
use crate::views;
use axum::Form;
use axum::extract::{Path, Query, State};
use axum::response::Response;
use serde::Deserialize;
use std::sync::Arc;
use takegauge_journal::{Day, Journal, TaskRecord};

/// Characters of a player's name.
pub(crate) const NAME: usize = 100;
/// Characters of a task's words.
const WORDS: usize = 2000;

pub(crate) async fn all(State(app): State<Arc<App>>) -> Result<Response, Trouble> {
    let all: Option<Vec<Roster>> = app.journal(|j| roster(j, Day::today())).await?;
    Ok(page(views::players(&app, all.as_deref())))
}

/// The page of a player: also of one who has no take yet, so that the first task can be set.
pub(crate) async fn one(State(app): State<Arc<App>>, Query(mut asked): Query<TaskAsked>) -> Result<Response, Trouble> {
    let name = one_line(&asked.name, NAME);
    if name.is_empty() {
        return Ok(to("/players"));
    }
    let drills = choices_and(&app, &asked.drill).await?;
    if !asked.drill.is_empty() && asked.tempo.is_empty() {
        asked.tempo = DrillChoice::read(&asked.drill)?.drill(&app).await?.tempo.0.to_string();
    }
    let report = app.journal(move |j| Ok((j.player(&name, Day::today())?, j.last_change()?))).await?;
    let (report, last_change) = there(report)?;
    let beside = views::Beside { drills: &drills, asked: &asked, last_change: last_change.as_deref() };
    Ok(page(views::player(&app, &report, &beside)))
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct NewTask {
    player: String,
    words: String,
    drill: String,
    tempo: String,
    due: String,
}

fn to_player(name: &str) -> Response {
    to(&format!("{}#set", address("/player", &[("name", name)])))
}

pub(crate) async fn set(State(app): State<Arc<App>>, Form(form): Form<NewTask>) -> Result<Response, Trouble> {
    let player = one_line(&form.player, NAME);
    if player.is_empty() {
        return Err(Trouble::Wrong("For whom? Write the player's name.".into()));
    }
    let drill = match form.drill.as_str() {
        "" => None,
        value => Some(DrillChoice::read(value)?.drill(&app).await?),
    };
    let tempo = match form.tempo.trim() {
        "" => None,
        text => {
            let read = text.parse().ok().filter(|t: &f64| (20.0..=400.0).contains(t));
            Some(read.ok_or_else(|| Trouble::Wrong("A tempo lies between 20 and 400 bpm.".into()))?)
        }
    };
    let due = match form.due.trim() {
        "" => None,
        text => Some(text.parse::<Day>().map_err(|e| Trouble::Wrong(format!("When it is due: {e}.")))?),
    };
    let task = TaskRecord {
        player: player.clone(),
        what: note(&form.words).chars().take(WORDS).collect(),
        drill: drill.map(|d| d.to_toml()),
        tempo_bpm: tempo,
        set: Day::today(),
        due,
        done: None,
    };
    if task.what.is_empty() && task.drill.is_none() {
        return Err(Trouble::Wrong("What is to be done? Write it, or choose a drill.".into()));
    }
    app.journal_or_new(move |j| Ok(j.set_task(&task)?)).await?;
    Ok(to_player(&player))
}

/// Changes a task, and goes on to its player's page.
async fn change(
    app: &Arc<App>,
    task: i64,
    work: impl FnOnce(&mut Journal) -> Result<(), Trouble> + Send + 'static,
) -> Result<Response, Trouble> {
    let work = move |j: &mut Journal| {
        let of = j.tasks(None)?.into_iter().find(|t| t.task == task);
        let of = of.ok_or_else(|| Trouble::NotFound(format!("The journal holds no task {task}.")))?;
        work(j).map(|()| of.record.player)
    };
    Ok(to_player(&there(app.change(work).await?)?))
}

pub(crate) async fn done(State(app): State<Arc<App>>, Path(task): Path<i64>) -> Result<Response, Trouble> {
    change(&app, task, move |j| Ok(j.tick_tasks(&[task], Some(Day::today())).map(drop)?)).await
}

pub(crate) async fn open(State(app): State<Arc<App>>, Path(task): Path<i64>) -> Result<Response, Trouble> {
    change(&app, task, move |j| Ok(j.tick_tasks(&[task], None).map(drop)?)).await
}

pub(crate) async fn delete(State(app): State<Arc<App>>, Path(task): Path<i64>) -> Result<Response, Trouble> {
    change(&app, task, move |j| Ok(j.delete_tasks(&[task])?)).await
}

#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Back {
    /// Whose page to go back to.
    player: String,
}

/// Takes the last change back.
pub(crate) async fn undo(State(app): State<Arc<App>>, Form(back): Form<Back>) -> Result<Response, Trouble> {
    let undone = there(app.change(|j| Ok(j.undo()?)).await?)?;
    let player = one_line(&back.player, NAME);
    match undone {
        None => Err(Trouble::Wrong("There is nothing to take back.".into())),
        Some(_) if !player.is_empty() => Ok(to_player(&player)),
        Some(u) => match (u.takes.as_slice(), u.tasks.is_empty()) {
            ([only], _) => Ok(to(&format!("/takes/{only}"))),
            ([], false) => Ok(to("/players")),
            _ => Ok(to("/takes")),
        },
    }
}
