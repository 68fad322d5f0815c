//! `journal mend`: what stands beside takes, put right.

use super::asked::numbers;
use super::told::{done, fault};
use crate::args::{MendArgs, PickedArg};
use crate::fault::{Fault, Outcome};
use crate::output::takes;
use serde_json::json;
use takegauge_journal::{Journal, Picked, RecordedAt, TakeRecord};

pub(crate) fn run(args: &MendArgs, journal: &mut Journal) -> Outcome {
    if nothing_said(args) {
        return Err(Fault::usage("nothing to mend")
            .advise("say what: --player, --recorded-at, --picked, --guitar, --microphone, --tag, --untag, --note"));
    }
    // Read once before anything is changed, so that a mistake is told as one.
    let when = args.recorded_at.as_deref();
    if let Some(text) = when {
        text.parse::<RecordedAt>().map_err(|e| Fault::usage(format!("--recorded-at: {e}")))?;
    }
    let which = numbers(&args.takes.join(","))?;
    let path = journal.path().to_path_buf();
    let mended = journal.mend(&which, |record| change(args, record)).map_err(|e| fault(e, &path))?;
    let shape = json!({ "schema": "takegauge/journal-mend/1", "takes": mended.takes, "what": mended.what });
    let words = match mended.takes.as_slice() {
        [] => "Nothing is other than it was.\n".to_owned(),
        these => {
            let them = takes(these.len());
            format!("Mended {them}: {}; `journal undo` takes it back.\n", mended.what.join(", "))
        }
    };
    done(&args.done, &shape, &words)
}

fn nothing_said(args: &MendArgs) -> bool {
    let texts = [&args.player, &args.recorded_at, &args.guitar, &args.microphone, &args.note];
    texts.iter().all(|t| t.is_none()) && args.picked.is_none() && args.tags.is_empty() && args.untag.is_empty()
}

fn change(args: &MendArgs, record: &mut TakeRecord) {
    let put = |to: &mut String, text: &Option<String>| {
        if let Some(text) = text {
            *to = text.trim().to_owned();
        }
    };
    put(&mut record.player, &args.player);
    put(&mut record.guitar, &args.guitar);
    put(&mut record.microphone, &args.microphone);
    put(&mut record.note, &args.note);
    if let Some(text) = &args.recorded_at {
        record.recorded_at = record.recorded_at.mended(text).unwrap_or(record.recorded_at);
    }
    match args.picked {
        Some(PickedArg::All) => record.picked = Picked::All,
        Some(PickedArg::Best) => record.picked = Picked::Best,
        None => {}
    }
    record.tags.extend(args.tags.iter().cloned());
    record.tags.retain(|tag| args.untag.iter().all(|not| not.trim() != tag.trim()));
}
