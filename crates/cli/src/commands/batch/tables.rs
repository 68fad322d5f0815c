//! Two tables, Parquet: one row a take, with those that have no score among them, and one row a note. Both files appear
//! whole, once the last take is done, or not at all; neither takes the place of another.

use super::spread::{Counted, Done, score_all};
use crate::args::BatchArgs;
use crate::commands::folder::drill_of;
use crate::commands::inputs::request;
use crate::fault::{Fault, Outcome};
use indicatif::ProgressBar;
use std::io::Error;
use std::path::{Path, PathBuf};
use takegauge_audio::{WholeFile, path_text, write_whole};
use takegauge_journal::SheetFile;
use takegauge_review::many::{TakeOutcome, Unscored};
use takegauge_review::sheet::Sheet;
use takegauge_take::NoTap;

/// The rows of one take.
struct Rows {
    take: Sheet,
    notes: Sheet,
}

/// What makes a take's rows.
type Work<'a> = &'a (dyn Fn(&Path) -> Done<Rows> + Sync);

/// Scores takes into the table `out`, and all their notes into the table `notes` where one is named.
pub(super) fn write(
    args: &BatchArgs,
    (out, notes): (&Path, Option<&Path>),
    takes: impl Iterator<Item = PathBuf> + Send,
    journal: Option<&Path>,
    bar: &ProgressBar,
) -> Outcome<Counted> {
    let work = |path: &Path| one(args, path, journal);
    if notes.is_some_and(|notes| place(notes) == place(out)) {
        return Err(Fault::usage(format!("{}: both tables would go into this file", out.display()))
            .advise("give --out and --notes two names"));
    }
    for path in [Some(out), notes].into_iter().flatten() {
        free(path)?;
    }
    let mut counted = None;
    let written = whole(out, |take_file| match notes {
        None => fill((args, &work), take_file, None, takes, bar, &mut counted),
        Some(notes) => {
            whole(notes, |note_file| fill((args, &work), take_file, Some(note_file), takes, bar, &mut counted))
                .map_err(said)
        }
    });
    match counted {
        // Of what went wrong with the takes the words stand here.
        Some(Err(fault)) => Err(fault),
        Some(Ok((0, failures))) if failures.is_empty() => Ok((0, failures)),
        Some(Ok(counted)) => written.map(|()| counted),
        None => written.map(|()| (0, Vec::new())),
    }
}

/// A file by its folder and name, however it is written.
fn place(path: &Path) -> (Option<PathBuf>, Option<std::ffi::OsString>) {
    let folder = path.parent().filter(|f| !f.as_os_str().is_empty()).unwrap_or(Path::new("."));
    (std::fs::canonicalize(folder).ok(), path.file_name().map(ToOwned::to_owned))
}

/// Writes a file that is not there yet; that is looked at once more after the work, when it takes the name.
fn whole(path: &Path, fill: impl FnOnce(&mut WholeFile) -> std::io::Result<()>) -> Outcome {
    write_whole(path, |file| {
        fill(file)?;
        free(path).map_err(said)
    })
    .map_err(Fault::usage)
}

/// A fault among the errors of writing.
fn said(fault: Fault) -> Error {
    Error::other(fault.to_string())
}

fn free(path: &Path) -> Outcome {
    if !path.exists() {
        return Ok(());
    }
    Err(Fault::usage(format!("{} is there already", path.display())).advise("name another file"))
}

fn fill(
    (args, work): (&BatchArgs, Work<'_>),
    take_file: &mut WholeFile,
    note_file: Option<&mut WholeFile>,
    takes: impl Iterator<Item = PathBuf> + Send,
    bar: &ProgressBar,
    counted: &mut Option<Outcome<Counted>>,
) -> std::io::Result<()> {
    let like = TakeOutcome { path: "", score: Err((Unscored::NoDrill, "")) };
    let mut take_table = SheetFile::new(take_file, "takes", &like.take_sheet()).map_err(Error::other)?;
    let note_table = note_file.map(|file| SheetFile::new(file, "notes", &like.note_sheet()));
    let mut note_table = note_table.transpose().map_err(Error::other)?;
    let put = |rows: Rows| {
        take_table.push(rows.take).map_err(Error::other)?;
        note_table.as_mut().map_or(Ok(()), |table| table.push(rows.notes)).map_err(Error::other)
    };
    match counted.insert(score_all(args, takes, work, put, bar)) {
        Ok((0, failures)) if failures.is_empty() => return Err(Error::other("there is no take")),
        Ok(_) => {}
        Err(fault) => return Err(Error::other(fault.to_string())),
    }
    take_table.finish().map_err(Error::other)?;
    note_table.map_or(Ok(()), SheetFile::finish).map_err(Error::other)
}

/// The rows of a take. The kind of failure is told here, where it happens; `journal` holds drills that it may be of.
fn one(args: &BatchArgs, path: &Path, journal: Option<&Path>) -> Done<Rows> {
    let named = path_text(path);
    let mut taken_for = None;
    let told = drill_of(&args.inputs, path, journal).map_err(|fault| (Unscored::NoDrill, fault));
    let score = told.and_then(|told| {
        let request = request(&args.inputs, path, &told.drill).map_err(|fault| (Unscored::Unreadable, fault))?;
        let score = told.score(&request, &(), &mut NoTap).map_err(|e| (e.kind(), Fault::from(e)));
        let score = score.and_then(|report| {
            let borne_out = told.borne_out(path, &report).map_err(|fault| (Unscored::NoDrill, fault));
            borne_out.map(|()| report)
        });
        taken_for = told.said.filter(|_| score.is_ok());
        score
    });
    let why = score.as_ref().err().map(|(_, fault)| fault.to_string()).unwrap_or_default();
    let outcome = TakeOutcome { path: &named, score: score.as_ref().map_err(|(kind, _)| (*kind, why.as_str())) };
    let rows = Rows { take: outcome.take_sheet(), notes: outcome.note_sheet() };
    Done { written: Some(rows), failed: score.err().map(|(_, why)| why), said: taken_for }
}
