//! `journal add`, and keeping takes that other commands score.

use super::asked::{ask, one_player};
use super::told::{fault, faults};
use crate::args::{AddArgs, Common, KeepArgs, PickedArg};
use crate::commands::inputs::request;
use crate::commands::which::recognise;
use crate::config::Config;
use crate::fault::{Fault, Outcome};
use crate::output::{self, TakeBar};
use serde_json::json;
use std::path::Path;
use takegauge_drill::Drill;
use takegauge_journal::{Added, Journal, Picked, RecordedAt, TakeRecord, file_hash, step_hash, tidy_name};
use takegauge_review::ScoreReport;
use takegauge_take::{NoTap, StepScore};

pub(crate) fn run(args: &AddArgs, common: &Common, config: &Config, path: &Path) -> Outcome {
    let mut keeper = Keeper::open(path, args.inputs.player.as_deref(), args.keep.picked, config, common)?;
    let told_apart = args.done.json.as_deref().is_some_and(output::is_stdout);
    let (mut rows, mut failures) = (Vec::new(), 0);
    for take in &args.takes {
        let path = take.display().to_string();
        match one(args, common, &mut keeper, take) {
            Ok((id, state, line)) => {
                rows.push(json!({ "path": path, "take": id, "state": state, "why": null }));
                if !told_apart {
                    output::print(&line)?;
                }
            }
            Err(fault @ Fault::BrokenPipe) => return Err(fault),
            Err(fault) if args.takes.len() == 1 => return Err(fault),
            Err(fault) => {
                rows.push(json!({ "path": path, "take": null, "state": "not added", "why": fault.to_string() }));
                failures += 1;
                fault.tell();
            }
        }
    }
    if let Some(to) = &args.done.json {
        let shape = json!({ "schema": "takegauge/journal-add/1", "player": keeper.called(), "takes": rows });
        output::write(to, takegauge_report::json(&shape).as_bytes())?;
    }
    if failures > 0 {
        let n = args.takes.len();
        return Err(Fault::not_scored(format!(
            "{failures} of {n} takes could not be added, listed above; the others are in the journal"
        )));
    }
    Ok(())
}

/// "All tries or only the best?": asked where it is not given and somebody can be asked, said where nobody can.
fn picked(given: Option<PickedArg>, common: &Common) -> Picked {
    match given {
        Some(PickedArg::All) => return Picked::All,
        Some(PickedArg::Best) => return Picked::Best,
        None if common.quiet => return Picked::Unknown,
        None => {}
    }
    match ask("Do you keep all your tries in the journal, or only the best? [all/best, or return]").as_deref() {
        Some("all" | "a") => Picked::All,
        Some("best" | "b") => Picked::Best,
        Some(_) => Picked::Unknown,
        None => {
            output::remark(
                "whether these are all tries or the best is not known; --picked all or --picked best says it, and trends mind it",
            );
            Picked::Unknown
        }
    }
}

/// The take's number, what became of it, and a line that says so.
fn one(args: &AddArgs, common: &Common, keeper: &mut Keeper, take: &Path) -> Outcome<(i64, &'static str, String)> {
    let bar = TakeBar::new(common.quiet);
    // Most of what goes wrong here names the take itself.
    let named =
        |f: Fault| if f.to_string().starts_with(&take.display().to_string()) { f } else { f.about(take.display()) };
    let told = recognise(&args.inputs, take, Some(keeper.journal.path()), &bar).map_err(named)?;
    let drill = &told.drill;
    let hash = hash(take)?;
    if !args.again
        && let Some(id) = keeper.journal.find(&hash, drill).map_err(|e| fault(e, keeper.journal.path()))?
    {
        let tagged = keeper.tag(id, &args.keep.tags)?;
        let left =
            if tagged.is_empty() { "left as it is".to_owned() } else { format!("now also {}", tagged.join(", ")) };
        return Ok((
            id,
            "there already",
            format!("{}: already take {id}, {left}; --again scores it anew\n", take.display()),
        ));
    }
    if let Some(said) = &told.said {
        output::remark(format_args!("{}: {said}", take.display()));
    }
    let report = told.score(&request(&args.inputs, take, drill)?, &bar, &mut NoTap)?;
    told.borne_out(take, &report)?;
    bar.finish();
    for w in &report.warnings {
        output::remark(format_args!("{}: {w}", take.display()));
    }
    let added = keeper.add(take, hash, drill, &report, &args.keep)?;
    let state = match added {
        Added::New(_) => "new",
        Added::Same(_) => "there already",
        Added::Rescored(_) => "new score",
    };
    Ok((added.take(), state, said(take, &report, added, &keeper.called())))
}

/// One line about a take that is now in the journal.
pub(crate) fn said(take: &Path, report: &ScoreReport, added: Added, player: &str) -> String {
    let state = match added {
        Added::New(_) => "",
        Added::Same(_) => " (it was there already)",
        Added::Rescored(_) => " (anew; `journal undo` brings back what was there)",
    };
    let head = report.summary.headline.first().map_or("", String::as_str);
    format!("{}: take {} of {player}{state}. {head}\n", take.display(), added.take())
}

fn hash(take: &Path) -> Outcome<String> {
    file_hash(take).map_err(|e| Fault::unread(take, &e))
}

/// An open journal, whose takes go into it, and which of several tries.
pub(crate) struct Keeper {
    pub(crate) journal: Journal,
    pub(crate) player: String,
    picked: Picked,
}

impl Keeper {
    /// Opens or makes the journal; asks for what is not given.
    pub(crate) fn open(
        path: &Path,
        player: Option<&str>,
        tries: Option<PickedArg>,
        config: &Config,
        common: &Common,
    ) -> Outcome<Self> {
        // Whose it is must be known before a new file is made.
        if player.is_none() && config.player.is_none() && !path.exists() {
            return Err(Fault::usage("whose playing is it?")
                .advise("give --player NAME, or put player = \"NAME\" in the settings"));
        }
        let journal = Journal::open_or_create(path).map_err(|e| fault(e, path))?;
        let problems = journal.quick_check().map_err(|e| fault(e, path))?;
        if let Some(first) = problems.first() {
            let why = format!("{} in its structure, the first: {first}", faults(problems.len()));
            return Err(fault(takegauge_journal::JournalError::Damaged { path: path.to_path_buf(), why }, path));
        }
        // As it is typed: how a player is called follows from what most takes say.
        let player = match player.or(config.player.as_deref()) {
            Some(given) => tidy_name(given),
            None => one_player(None, config, &journal)?,
        };
        Ok(Self { journal, player, picked: picked(tries, common) })
    }

    /// How the journal calls the player.
    pub(crate) fn called(&self) -> String {
        self.journal.player_name(&self.player).unwrap_or_else(|_| self.player.clone())
    }

    /// Whether the journal's name still leads to the open file; where it does not, whatever is there now is opened.
    pub(crate) fn is_there(&mut self) -> bool {
        if !self.journal.is_current() {
            match Journal::open(self.journal.path()) {
                Ok(journal) => self.journal = journal,
                Err(_) => return false,
            }
        }
        true
    }

    /// Gives a take that is there the tags that it has not got; returns these.
    fn tag(&mut self, take: i64, tags: &[String]) -> Outcome<Vec<String>> {
        let wrong = |journal: &Journal, e| fault(e, journal.path());
        let (before, _) = self.journal.take_text(take).map_err(|e| wrong(&self.journal, e))?;
        let mut added: Vec<String> = tags.iter().map(|t| t.trim().to_owned()).collect();
        added.retain(|t| !t.is_empty() && !before.tags.contains(t));
        added.sort();
        added.dedup();
        if !added.is_empty() {
            let all: Vec<String> = before.tags.iter().chain(&added).cloned().collect();
            self.journal.annotate(take, &before.note, &all).map_err(|e| wrong(&self.journal, e))?;
        }
        Ok(added)
    }

    /// Keeps a scored take; when this returns it is on the disk.
    pub(crate) fn add(
        &mut self,
        take: &Path,
        hash: String,
        drill: &Drill,
        report: &ScoreReport,
        keep: &KeepArgs,
    ) -> Outcome<Added> {
        let file_time = || {
            let time = std::fs::metadata(take).and_then(|m| m.modified()).ok().and_then(RecordedAt::of_file);
            time.ok_or_else(|| Fault::usage(format!("{}: the file has no time; give --recorded-at", take.display())))
        };
        let mut record = TakeRecord {
            player: self.player.clone(),
            drill: drill.to_toml(),
            audio_sha256: hash,
            path: in_full(take),
            recorded_at: keep.recorded_at.map_or_else(file_time, Ok)?,
            picked: self.picked,
            guitar: keep.guitar.clone(),
            microphone: keep.microphone.clone(),
            tags: keep.tags.clone(),
            note: keep.note.clone(),
        };
        let wrong = |e| fault(e, self.journal.path());
        let mut report = report.clone();
        if let Some(id) = self.journal.find(&record.audio_sha256, drill).map_err(wrong)? {
            let (before, text) = self.journal.take_text(id).map_err(wrong)?;
            filled(&mut record, before, keep.recorded_at.is_some());
            // The film lies over the recording, whatever was made of that: it stays where no other is laid over it. A
            // score that cannot be read is what the new one is to replace.
            let film = || ScoreReport::from_json(&text).ok()?.camera;
            report.camera = report.camera.or_else(film);
        }
        let path = self.journal.path().to_path_buf();
        if let Some(camera) = &mut report.camera {
            camera.path = in_full(Path::new(&camera.path));
        }
        self.journal.add(&record, &report).map_err(|e| fault(e, &path))
    }
}

/// In full, so that the file is found from wherever the journal is opened.
fn in_full(path: &Path) -> String {
    std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf()).display().to_string()
}

/// What was said of a take stays where nothing else is said now.
fn filled(record: &mut TakeRecord, before: TakeRecord, dated: bool) {
    let fill = |now: &mut String, then: String| {
        if now.is_empty() {
            *now = then;
        }
    };
    fill(&mut record.guitar, before.guitar);
    fill(&mut record.microphone, before.microphone);
    fill(&mut record.note, before.note);
    record.tags.extend(before.tags);
    if record.picked == Picked::Unknown {
        record.picked = before.picked;
    }
    if !dated {
        record.recorded_at = before.recorded_at;
    }
}

/// Keeps one step of a longer recording as a take of its own; the line that tells so.
pub(crate) fn keep_step(keeper: &mut Keeper, take: &Path, step: &StepScore) -> Outcome<String> {
    let hash = step_hash(&hash(take)?, step.step, step.drill.tempo);
    let added = keeper.add(take, hash, &step.drill, &step.report, &KeepArgs::default())?;
    Ok(said(Path::new(&step.report.take.path), &step.report, added, &keeper.called()))
}

/// Keeps a take that another command scored, with nothing said beside it; the line that tells so.
pub(crate) fn keep(keeper: &mut Keeper, take: &Path, drill: &Drill, report: &ScoreReport) -> Outcome<(Added, String)> {
    let added = keeper.add(take, hash(take)?, drill, report, &KeepArgs::default())?;
    Ok((added, said(take, report, added, &keeper.called())))
}
