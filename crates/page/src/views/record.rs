//! The page that records, and its tries.

use crate::choice::Choice;
use crate::frame::{layout, select};
use crate::jobs::{HELD, Job, Stage};
use crate::state::App;
use maud::{Markup, html};
use takegauge_report::score_brief;
use takegauge_review::ScoreReport;

/// `asked` are the drill and the tempo to begin with.
pub(crate) fn record(
    app: &App,
    drills: &[Choice],
    asked: (&str, &str),
    players: &[String],
    tries: &[(u64, Job)],
) -> String {
    let body = html! {
        form id="set" data-limit=(app.upload_limit) {
            (choices(drills, asked))
            pre id="line" tabindex="0" aria-label="The line to play" {}
            div.go {
                button.main type="button" id="go" { "Turn the microphone on" }
                meter id="level" min="-60" max="0" low="-40" high="-6" optimum="-12" value="-60" aria-label="Level of the microphone" aria-describedby="level-text" {}
                span id="level-text" { "microphone off" }
                span.clock id="clock" {}
            }
            p.about id="said" role="status" { "Put headphones on: a click that the microphone hears is taken for playing." }
            p.warn id="warned" role="alert" hidden {}
            label.key { input type="checkbox" id="by-key" checked; " The key R records and stops from anywhere on this page" }
        }
        (set_up())
        h2 { "Tries" }
        @if app.may_keep() {
            p.quiet { "A try that you keep goes to the journal, and its sound as it is (WAV, 24 bits) to the folder \"recordings\" beside it. "
                "The other tries are held until the program stops, the last " (HELD) " of them." }
            (keeping(app, players))
        } @else { p.quiet { "No journal is in use: tries can be looked at, but not kept." } }
        ol.tries id="tries" reversed { @for (number, job) in tries { (one_try(app, *number, job)) } }
        p.quiet id="no-tries" hidden[!tries.is_empty()] { "None yet." }
        p.caution { (takegauge_review::caution()) }
        noscript { p { "Recording needs JavaScript; any recording of your own can be dropped on the first page or scored with `takegauge score`." } }
    };
    layout(Some(app.token()), "/record", "Record", &["theme.js", "record.js"], body)
}

fn choices(drills: &[Choice], (drill, tempo): (&str, &str)) -> Markup {
    let numbers = |name: &str, many: &str, all: &[u8]| -> Vec<(String, String)> {
        all.iter().map(|n| (n.to_string(), format!("{n} {}", if *n == 1 { name } else { many }))).collect()
    };
    html! { div.controls {
        label { "Drill " select id="drill" {
            @for c in drills { option value=(c.value()) selected[c.value() == drill] { (c.label()) } }
        } }
        label { "Tempo " input type="number" id="tempo" min="20" max="400" step="any" size="5" value=(tempo); " bpm" }
        (select("Count-in", "count-in", "1", &numbers("bar", "bars", &[1, 2, 4])))
        (select("Click", "per-beat", "1", &numbers("a beat", "a beat", &[1, 2, 3, 4])))
        label { "Input " select id="input" { option value="" { "the browser's own" } } }
    } }
}

fn set_up() -> Markup {
    html! {
        details id="set-up" { summary { "Delay of the set-up: " span id="delay" { "turn the microphone on to see it" } }
            p { "A click takes a while from the program to your ears, and the guitar from the microphone back to the program. Measured once, this delay is taken off, so that \"late against the click\" is your playing and nothing else." }
            p { "Lay one side of the headphones on the microphone, or join output and input with a cable. Turn the click up until the level moves. Then keep still for ten seconds." }
            p { button type="button" id="measure" disabled { "Measure the delay" } }
            p.quiet { "It is remembered for this input. Measure again after another device, driver or browser, and where the average matters to a few milliseconds: a browser may start by so much sooner or later each time the microphone is turned on, or under load. How notes lie to each other does not hang on it." }
        }
    }
}

fn keeping(app: &App, players: &[String]) -> Markup {
    let usual = app.player.as_deref().or(players.first().map(String::as_str)).unwrap_or_default();
    html! {
        form.controls id="keeping" {
            label { "Player " input type="text" name="player" value=(usual) list="players" maxlength="100"; }
            datalist id="players" { @for p in players { option value=(p) {} } }
            label { "Guitar " input type="text" name="guitar" maxlength="200"; }
            label { "Recorded with " input type="text" name="microphone" maxlength="200"; }
            (select("Of several tries", "picked", "", &[
                (String::new(), "not said".into()), ("all".into(), "all are kept".into()), ("best".into(), "only the best is kept".into()),
            ]))
        }
    }
}

/// A try as a row of the list.
pub(crate) fn one_try(app: &App, number: u64, job: &Job) -> Markup {
    let sent = &job.sent;
    let bpm = sent.played.tempo.unwrap_or(sent.drill.tempo).0;
    let title = format!("Try {}", sent.try_number.unwrap_or_default());
    html! {
        li id={ "try-" (number) } data-number=(number) data-over[job.over()] value=(sent.try_number.unwrap_or_default()) {
            p { b { (title) } ": " (sent.drill.name) ", " (bpm) " bpm, " (sent.recorded_at.to_the_minute()) }
            @match &job.stage {
                Stage::Waiting => p { "Waiting for its turn." },
                Stage::Working(share) => p { progress max="1" value=(format!("{share:.2}")) aria-label={ (title) ", share scored" } {} },
                Stage::Failed(why) => p { "It could not be scored: " (why) },
                Stage::Stopped => p { "Its scoring was stopped." },
                Stage::Done(report) => { (told(report)) },
            }
            div.buttons { (buttons(app, number, job, &title)) }
        }
    }
}

/// The three lines, and how the take lies against the click.
fn told(report: &ScoreReport) -> Markup {
    let brief = score_brief(report);
    let against = match report.timebase.from_click_ms {
        Some(ms) if ms.abs() < 0.05 => "On the click on average.".to_owned(),
        Some(ms) => format!("{:.1} ms {} the click on average.", ms.abs(), if ms > 0.0 { "after" } else { "before" }),
        None => {
            "How the take lies against the click is not told before the delay of the set-up is measured.".to_owned()
        }
    };
    html! {
        @for line in brief.lines() { p { (line) } }
        p.against { (against) }
        pre.message hidden { (report.drill.name) "\n" (brief) }
    }
}

fn buttons(app: &App, number: u64, job: &Job, title: &str) -> Markup {
    let of = |what: &str| format!("{what}: {title}");
    html! {
        @if matches!(job.stage, Stage::Done(_)) {
            a href={ "/results/" (number) } aria-label=(of("Report")) { "Report" }
            @match job.kept_as {
                Some(take) => {
                    span { "Kept as " a href={ "/takes/" (take) } { "take " (take) } "." }
                    a href={ "/takes/" (take) "/student" } aria-label=(of("Page for the student")) { "Page for the student" }
                }
                None if app.may_keep() => button type="button" data-do="keep" aria-label=(of("Keep")) { "Keep" },
                None => {}
            }
            button type="button" data-do="copy" aria-label=(of("Copy as a message")) { "Copy as a message" }
        }
        @if job.kept_as.is_none() { button type="button" data-do="throw-away" aria-label=(of("Throw away")) { "Throw away" } }
        span.quiet role="status" {}
    }
}
