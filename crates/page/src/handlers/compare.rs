//! Two takes, or two sets of takes: ticked in their list or named by their numbers.

use crate::answer::{page, there, to};
use crate::ask;
use crate::forms::{Asked, Ticked};
use crate::frame::address;
use crate::state::App;
use crate::trouble::Trouble;
use crate::views::{self, Compared};
use crate::{handlers, sound};
use axum::extract::{Query, RawQuery, State};
use axum::response::Response;
use std::sync::Arc;
use takegauge_journal::{Filter, TakeRecord};
use takegauge_report::{Side, pair_sections};
use takegauge_review::ScoreReport;

pub(crate) async fn compare(
    State(app): State<Arc<App>>,
    Query(asked): Query<Asked>,
    RawQuery(query): RawQuery,
) -> Result<Response, Trouble> {
    let ticked = Ticked::read(query.as_deref())?;
    if !ticked.is_empty() {
        return ticks(&app, ticked).await;
    }
    if asked.first.trim().is_empty() && asked.second.trim().is_empty() {
        return Ok(page(views::compare(&app, &asked, None)));
    }
    let (first, second) = (ask::numbers(&asked.first)?, ask::numbers(&asked.second)?);
    let single = if let ([a], [b]) = (first.as_slice(), second.as_slice()) { Some((*a, *b)) } else { None };
    let work = move |j: &mut takegauge_journal::Journal| {
        let report = j.compare(&first, &second)?;
        let rows = j.list(&Filter { takes: Some([first, second].concat()), ..Filter::default() })?;
        let takes = match single {
            Some((a, b)) => {
                let one = |take| j.take(take).map(|(record, _, report)| (take, record, report));
                Some([one(a)?, one(b)?])
            }
            None => None,
        };
        Ok((report, rows, takes))
    };
    let (report, rows, takes) = there(app.journal(work).await?)?;
    let pair = match takes {
        Some([a, b]) => Some(pair(&app, &a, &b).await?),
        None => None,
    };
    Ok(page(views::compare(&app, &asked, Some(&Compared { report, rows, pair }))))
}

/// Ticks become numbers, in an address that can be kept.
async fn ticks(app: &Arc<App>, ticked: Ticked) -> Result<Response, Trouble> {
    let which = Filter { takes: Some(ticked.all()), ..Filter::default() };
    let rows = there(app.journal(move |j| Ok(j.list(&which)?)).await?)?;
    let recorded: Vec<i64> = rows.iter().map(|r| r.take).collect();
    let (first, second) = ticked.sets(&recorded)?;
    let list = |set: &[i64]| set.iter().map(i64::to_string).collect::<Vec<_>>().join(", ");
    Ok(to(&address("/compare", &[("first", &list(&first)), ("second", &list(&second))])))
}

type Taken = (i64, TakeRecord, ScoreReport);

/// The same step of two takes, to hear and to see.
async fn pair(app: &Arc<App>, a: &Taken, b: &Taken) -> Result<String, Trouble> {
    let (one, two) = (part(app, a).await?, part(app, b).await?);
    Ok(pair_sections(&one.side(&a.2), &two.side(&b.2)))
}

/// What a page knows of a take beside its report.
struct Part {
    name: String,
    /// The address, or why it cannot be heard.
    sound: Result<String, String>,
    film: Option<String>,
}

impl Part {
    fn side<'a>(&'a self, report: &'a ScoreReport) -> Side<'a> {
        let sound = self.sound.as_deref().map_err(String::as_str);
        Side { name: &self.name, report, sound, film: self.film.as_deref() }
    }
}

async fn part(app: &Arc<App>, (take, record, report): &Taken) -> Result<Part, Trouble> {
    let at = format!("/takes/{take}");
    let sound = match handlers::takes::recording(&record.path) {
        None => Err(format!("the recording of take {take} is no longer where it was, or no browser plays its kind.")),
        Some(file) if sound::is_same(app, file.clone(), record.audio_sha256.clone()).await? => {
            Ok(format!("{at}/sound"))
        }
        Some(_) => Err(format!("what stands at the place of take {take}'s recording is another recording now.")),
    };
    let name = format!("take {take}, {}, {:.0} bpm", record.recorded_at.day(), report.timebase.tempo_bpm);
    Ok(Part { name, sound, film: handlers::film::address(&at, report) })
}
