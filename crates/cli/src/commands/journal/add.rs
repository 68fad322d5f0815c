//! `journal add`, and keeping takes that other commands score.

use super::{ask, fault, one_player};
use crate::args::{AddArgs, Common, KeepArgs, PickedArg};
use crate::commands::score::{drill_for, request};
use crate::config::Config;
use crate::fault::{Fault, Outcome};
use crate::{output, pipeline};
use std::path::Path;
use takegauge_drill::Drill;
use takegauge_journal::{Added, Journal, Picked, RecordedAt, TakeRecord, file_hash};
use takegauge_review::ScoreReport;

pub(crate) fn run(args: &AddArgs, common: &Common, config: &Config, path: &Path) -> Outcome {
    let mut keeper = Keeper::open(path, args.inputs.player.as_deref(), config)?;
    let picked = picked(&args.keep, args.takes.len(), common);
    let mut failures = 0;
    for take in &args.takes {
        match one(args, common, &mut keeper, take, picked) {
            Ok(line) => output::print(&line)?,
            Err(fault @ Fault::BrokenPipe) => return Err(fault),
            Err(fault) if args.takes.len() == 1 => return Err(fault),
            Err(fault) => {
                failures += 1;
                fault.tell();
            }
        }
    }
    if failures > 0 {
        let n = args.takes.len();
        return Err(Fault::not_scored(format!(
            "{failures} of {n} takes were not added; the others are in the journal"
        )));
    }
    Ok(())
}

/// "All tries or only the best?" is asked where it is not given and somebody can be asked.
fn picked(keep: &KeepArgs, takes: usize, common: &Common) -> Picked {
    match keep.picked {
        Some(PickedArg::All) => Picked::All,
        Some(PickedArg::Best) => Picked::Best,
        None if common.quiet => Picked::Unknown,
        None => {
            let what = if takes == 1 { "Is this take" } else { "Are these takes" };
            match ask(&format!("{what} all your tries of the day, or only the best? [all/best, or return]")).as_deref()
            {
                Some("all" | "a") => Picked::All,
                Some("best" | "b") => Picked::Best,
                _ => Picked::Unknown,
            }
        }
    }
}

fn one(args: &AddArgs, common: &Common, keeper: &mut Keeper, take: &Path, picked: Picked) -> Outcome<String> {
    let drill = drill_for(&args.inputs, take).map_err(|f| f.about(take.display()))?;
    let hash = hash(take)?;
    if !args.again
        && let Some(id) = keeper.journal.find(&hash, &drill).map_err(|e| fault(e, keeper.journal.path()))?
    {
        return Ok(format!("{}: already take {id}; --again scores it anew\n", take.display()));
    }
    let bar = output::progress(0, "listening", common.quiet);
    let report = pipeline::score(&request(&args.inputs, take, &drill)?, &bar)?;
    bar.finish_and_clear();
    for w in &report.warnings {
        eprintln!("takegauge: {}: {w}", take.display());
    }
    let added = keeper.add(take, hash, &drill, &report, &args.keep, picked)?;
    Ok(said(take, &report, added, &keeper.player))
}

/// One line about a take that is now in the journal.
pub(crate) fn said(take: &Path, report: &ScoreReport, added: Added, player: &str) -> String {
    let state = match added {
        Added::New(_) => "",
        Added::Same(_) => " (it was there already)",
        Added::Rescored(_) => " (scored anew; `journal undo` brings the old score back)",
    };
    let head = report.summary.headline.first().map_or("", String::as_str);
    format!("{}: take {} of {player}{state}. {head}\n", take.display(), added.take())
}

fn hash(take: &Path) -> Outcome<String> {
    file_hash(take).map_err(|e| Fault::usage(format!("{}: {e}", take.display())))
}

/// An open journal and whose takes go into it.
pub(crate) struct Keeper {
    pub(crate) journal: Journal,
    pub(crate) player: String,
}

impl Keeper {
    /// Opens or makes the journal.
    pub(crate) fn open(path: &Path, player: Option<&str>, config: &Config) -> Outcome<Self> {
        // Whose it is must be known before a new file is made.
        if player.is_none() && config.player.is_none() && !path.exists() {
            return Err(Fault::usage("whose playing is it?")
                .advise("give --player NAME, or put player = \"NAME\" in the settings"));
        }
        let journal = Journal::open_or_create(path).map_err(|e| fault(e, path))?;
        let problems = journal.quick_check().map_err(|e| fault(e, path))?;
        if let Some(first) = problems.first() {
            let why = format!("{first} ({} such remarks)", problems.len());
            return Err(fault(takegauge_journal::JournalError::Damaged { path: path.to_path_buf(), why }, path));
        }
        let player = one_player(player, config, &journal)?;
        Ok(Self { journal, player })
    }

    /// Keeps a scored take; when this returns it is on the disk.
    pub(crate) fn add(
        &mut self,
        take: &Path,
        hash: String,
        drill: &Drill,
        report: &ScoreReport,
        keep: &KeepArgs,
        picked: Picked,
    ) -> Outcome<Added> {
        let recorded_at: RecordedAt = match &keep.recorded_at {
            Some(text) => text.parse().map_err(|e: String| Fault::usage(format!("--recorded-at: {e}")))?,
            None => {
                std::fs::metadata(take).and_then(|m| m.modified()).ok().and_then(RecordedAt::of_file).ok_or_else(
                    || Fault::usage(format!("{}: the file has no time; give --recorded-at", take.display())),
                )?
            }
        };
        let record = TakeRecord {
            player: self.player.clone(),
            drill: drill.to_toml(),
            audio_sha256: hash,
            path: take.display().to_string(),
            recorded_at,
            picked,
            guitar: keep.guitar.clone(),
            microphone: keep.microphone.clone(),
            tags: keep.tags.clone(),
            note: keep.note.clone(),
        };
        let path = self.journal.path().to_path_buf();
        self.journal.add(&record, report).map_err(|e| fault(e, &path))
    }
}

/// Keeps a take that another command scored, with nothing said beside it; the line that tells so.
pub(crate) fn keep(keeper: &mut Keeper, take: &Path, drill: &Drill, report: &ScoreReport) -> Outcome<String> {
    let nothing = KeepArgs {
        recorded_at: None,
        picked: None,
        guitar: String::new(),
        microphone: String::new(),
        tags: Vec::new(),
        note: String::new(),
    };
    let added = keeper.add(take, hash(take)?, drill, report, &nothing, Picked::Unknown)?;
    Ok(said(take, report, added, &keeper.player))
}
