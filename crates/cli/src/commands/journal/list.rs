//! `journal list` and `journal show`.

use super::asked::filter;
use super::told::fault;
use crate::args::{ListArgs, ShowArgs};
use crate::fault::Outcome;
use crate::output;
use crate::output::text_style;
use takegauge_journal::{Journal, Picked, TakeList, TakeRow};
use takegauge_report::{Align, Style, Table, json, score_html, score_text};
use takegauge_review::GroupKey;

pub(crate) fn list(args: &ListArgs, journal: &Journal) -> Outcome {
    let rows = journal.list(&filter(&args.filter, journal)?).map_err(|e| fault(e, journal.path()))?;
    match &args.json {
        Some(path) => output::write(path, json(&TakeList::new(&rows)).as_bytes()),
        None => output::print(&text(&rows, text_style())),
    }
}

fn text(rows: &[TakeRow], style: Style) -> String {
    let width = style.width;
    if rows.is_empty() {
        return "No take passes these filters, or the journal is empty.\n".to_owned();
    }
    let several = rows.iter().any(|r| r.player != rows[0].player);
    let widest = |f: fn(&TakeRow) -> String| rows.iter().map(|r| f(r).chars().count()).max().unwrap_or(0);
    // The time of day and the number of notes give way first, then names are cut, then tags are left out.
    let narrow = width < 80;
    let player_width = if several { widest(|r| r.player.clone()).clamp(6, if narrow { 8 } else { 14 }) } else { 0 };
    // What is left of the line once the columns of fixed width are set.
    let fixed = if narrow { 43 } else { 58 } + if several { player_width + 2 } else { 0 };
    let left = width.saturating_sub(fixed).max(10);
    let drill_width = widest(|r| r.drill.clone()).min(left.saturating_sub(10).max(12)).min(left);
    let rest = left.saturating_sub(drill_width + 2);
    let mut table = Table::new(&[
        ("take", Align::Right),
        ("recorded", Align::Left),
        ("player", Align::Left),
        ("drill", Align::Left),
        ("bpm", Align::Right),
        ("notes", Align::Right),
        ("errors", Align::Right),
        (if narrow { "scatter" } else { "scatter ms" }, Align::Right),
        ("tags", Align::Left),
    ]);
    for r in rows {
        let mark = if r.picked == Picked::Best { "best of several" } else { "" };
        let tags: Vec<&str> =
            r.tags.iter().map(String::as_str).chain([mark].into_iter().filter(|m| !m.is_empty())).collect();
        table.row([
            r.take.to_string(),
            if narrow { r.day.to_string() } else { r.recorded_at.to_the_minute() },
            if several { clip(&r.player, player_width) } else { String::new() },
            clip(&r.drill, drill_width),
            format!("{:.0}", r.tempo_bpm),
            if narrow { String::new() } else { r.notes.to_string() },
            r.errors.to_string(),
            r.spread_ms.map(|s| format!("{s:.1}")).unwrap_or_default(),
            if rest >= 6 { clip(&tags.join(", "), rest) } else { String::new() },
        ]);
    }
    let of = if rows.iter().any(|r| r.spread_of == GroupKey::Change) { "the string changes" } else { "all notes" };
    let told = format!("{}; scatter in ms is of {of}, within places of the line", output::takes(rows.len()));
    format!("{}\n{}", table.fitted(0, width), style.wrap(&told, "", ""))
}

/// `text` in at most `width` characters.
fn clip(text: &str, width: usize) -> String {
    if text.chars().count() <= width {
        return text.to_owned();
    }
    let mut short: String = text.chars().take(width.saturating_sub(1)).collect();
    short.push('…');
    short
}

pub(crate) fn show(args: &ShowArgs, journal: &Journal) -> Outcome {
    let (record, _, report) = journal.take(args.take).map_err(|e| fault(e, journal.path()))?;
    if let Some(path) = &args.html {
        output::write(path, score_html(&report).as_bytes())?;
    }
    if let Some(path) = &args.json {
        output::write(path, json(&report).as_bytes())?;
        if output::is_stdout(path) {
            return Ok(());
        }
    }
    let picked = match record.picked {
        Picked::All => "one of all tries",
        Picked::Best => "kept as the best of several tries",
        Picked::Unknown => "not said whether all tries were kept",
    };
    let (style, at) = (Style { every_group: true, ..text_style() }, record.recorded_at.to_the_minute());
    let player = journal.player_name(&record.player).map_err(|e| fault(e, journal.path()))?;
    let mut head = style.wrap(&format!("Take {} of {player}, recorded {at}; {picked}", args.take), "", "");
    let tags = record.tags.join(", ");
    for (what, text) in
        [("Guitar", &record.guitar), ("Sound", &record.microphone), ("Tags", &tags), ("Note", &record.note)]
    {
        if !text.is_empty() {
            head.push_str(&style.wrap(&format!("{what}: {text}"), "", "  "));
        }
    }
    output::print(&format!("{head}\n{}", score_text(&report, style)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_texts_are_cut_at_the_width() {
        assert_eq!(clip("abcdef", 6), "abcdef");
        assert_eq!(clip("abcdefg", 6), "abcde…");
    }
}
