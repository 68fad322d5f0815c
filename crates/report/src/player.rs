//! One player at a glance, and tasks, for the terminal.

use crate::style::Style;
use takegauge_review::history::{FindingOverDays, PlanLine, PlayerReport, TaskLine, TaskState};

/// When a task is due and how far it is, in one line.
pub fn task_state(task: &TaskLine) -> String {
    match &task.so_far {
        Some(so_far) if task.state != TaskState::Done => format!("{}; {so_far}", task.when),
        _ => task.when.clone(),
    }
}

/// Since when a finding is told, and on how many days; or by when it had gone.
pub fn finding_state(f: &FindingOverDays) -> String {
    let s = if f.practice_days == 1 { "" } else { "s" };
    let told = format!("told on {} of {} practice day{s}", f.told_days, f.practice_days);
    match &f.gone {
        Some(gone) => format!("since {}, {told}; not told the last two times, gone by {gone}", f.since),
        None if f.last == f.since => format!("since {}, {told}", f.since),
        None => format!("since {}, {told}, last on {}", f.since, f.last),
    }
}

/// Tasks as items: the number, what to do, then when.
pub fn tasks_text(tasks: &[TaskLine], style: Style) -> String {
    if tasks.is_empty() {
        return "No tasks.\n".to_owned();
    }
    let several = tasks.iter().any(|t| t.player != tasks[0].player);
    tasks.iter().map(|t| item(t, several, style)).collect()
}

pub(crate) fn item(task: &TaskLine, several: bool, style: Style) -> String {
    let who = if several { format!("{}: ", task.player) } else { String::new() };
    let number = format!("  {:>3}  ", task.task);
    let below = " ".repeat(number.len());
    let first = style.wrap(&format!("{who}{}", task.what), &number, &below);
    first + &style.wrap(&task_state(task), &below, &below)
}

/// What a player's page tells: last take, tasks, what is open, the tempo reached, what is next.
pub fn player_text(report: &PlayerReport, style: Style) -> String {
    let mut out = style.paragraph(&format!("{}, as of {}", report.player, report.today));
    let days =
        |n: i32| if n == 0 { "today".to_owned() } else { format!("{n} day{} ago", if n == 1 { "" } else { "s" }) };
    match &report.last {
        None => out.push_str("No takes yet.\n"),
        Some(last) => {
            let s = if last.errors == 1 { "" } else { "s" };
            out.push_str(&style.paragraph(&format!(
                "Last take: {}, {} at {:.0} bpm, on {} ({}); {} error{s} in {} notes.",
                last.take,
                last.drill,
                last.tempo_bpm,
                last.day,
                days(last.days_since),
                last.errors,
                last.notes
            )));
            out.push_str(&style.wrap(last.finding.as_deref().unwrap_or("Nothing was found in it."), "  ", "  "));
        }
    }
    let heading = |out: &mut String, text: &str| out.push_str(&style.heading(text));
    if !report.tasks.is_empty() {
        heading(&mut out, "Set");
        out.push_str(&tasks_text(&report.tasks, style));
    }
    for (title, findings) in [("Open", &report.open), ("Gone in the last four weeks", &report.gone)] {
        if !findings.is_empty() {
            heading(&mut out, title);
            for f in findings {
                out.push_str(&style.item(&format!("{}: {}", f.drill, f.text)));
                out.push_str(&style.wrap(&finding_state(f), "    ", "    "));
            }
        }
    }
    if !report.reached.is_empty() {
        heading(&mut out, "Tempo reached");
        report.reached.iter().for_each(|r| out.push_str(&style.item(&format!("{}: {}", r.drill, r.text))));
    }
    if !report.next.is_empty() {
        heading(&mut out, "Next");
    }
    out + &next_text(&report.next, &report.cautions, false, style)
}

/// What is next, numbered, with whose it is where that is not one player's alone; then what to heed.
pub(crate) fn next_text(lines: &[PlanLine], cautions: &[String], several: bool, style: Style) -> String {
    let mut out = String::new();
    for (i, line) in lines.iter().enumerate() {
        let who = if several { format!("{}: ", line.player) } else { String::new() };
        let due = if line.due { " (due)" } else { "" };
        out.push_str(&style.wrap(&format!("{who}{}{due}", line.what), &format!("  {}. ", i + 1), "     "));
        out.push_str(&style.wrap(&line.why, "     ", "     "));
    }
    for caution in cautions {
        out.push('\n');
        out.push_str(&style.paragraph(caution));
    }
    out
}
