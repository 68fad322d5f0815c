//! `journal export`, `import`, `delete`, `undo`, `compact`, `check` and `backup`.

use super::{ask, fault, filter, numbers};
use crate::args::{Common, DeleteArgs, ExportArgs, ExportFormat};
use crate::fault::{Fault, Outcome};
use crate::output;
use std::io::{BufRead, BufReader, BufWriter, ErrorKind, Write};
use std::path::Path;
use takegauge_audio::write_whole;
use takegauge_journal::{Added, FigureRow, Filter, Journal, JournalError, salvage};
use takegauge_report::{csv_line, jams};

pub(crate) fn export(args: &ExportArgs, journal: &Journal) -> Outcome {
    let which = filter(&args.filter, journal)?;
    let wrong = |e| fault(e, journal.path());
    match args.format {
        ExportFormat::Jsonl => lines(&which, &args.out, journal),
        ExportFormat::Csv => {
            let rows = journal.figure_rows(&which).map_err(wrong)?;
            output::write(&args.out, csv(&rows).as_bytes())
        }
        #[cfg(feature = "parquet")]
        ExportFormat::Parquet => {
            if output::is_stdout(&args.out) {
                return Err(Fault::usage("a Parquet file is not text").advise("name a file with --out"));
            }
            let rows = journal.figure_rows(&which).map_err(wrong)?;
            let mut bytes = Vec::new();
            takegauge_journal::takes_parquet(&rows, &mut bytes).map_err(wrong)?;
            output::write(&args.out, &bytes)
        }
        ExportFormat::Jams => {
            if output::is_stdout(&args.out) {
                return Err(Fault::usage("JAMS is a file a take").advise("name a folder with --out"));
            }
            std::fs::create_dir_all(&args.out)
                .map_err(|e| Fault::usage(format!("cannot make {}: {e}", args.out.display())))?;
            for row in journal.list(&which).map_err(wrong)? {
                let (_, _, report) = journal.take(row.take).map_err(wrong)?;
                output::write(&args.out.join(format!("take-{}.jams", row.take)), jams(&report).as_bytes())?;
            }
            Ok(())
        }
    }
}

fn lines(which: &Filter, out: &Path, journal: &Journal) -> Outcome {
    let mut stop = None;
    let mut write = |to: &mut dyn Write| -> std::io::Result<()> {
        match journal.export_lines(which, to) {
            Ok(_) => Ok(()),
            Err(Err(e)) => Err(e),
            Err(Ok(e)) => {
                let text = e.to_string();
                stop = Some(e);
                Err(std::io::Error::other(text))
            }
        }
    };
    let done = if output::is_stdout(out) {
        let mut to = BufWriter::new(std::io::stdout().lock());
        write(&mut to).and_then(|()| to.flush())
    } else {
        write_whole(out, |to| write(to)).map_err(std::io::Error::other)
    };
    match (stop, done) {
        (Some(e), _) => Err(fault(e, journal.path())),
        (None, Err(e)) if e.kind() == ErrorKind::BrokenPipe => Err(Fault::BrokenPipe),
        (None, Err(e)) => Err(Fault::usage(e)),
        (None, Ok(())) => Ok(()),
    }
}

fn csv(rows: &[FigureRow]) -> String {
    let head = "take,player,drill,drill_id,recorded_at,day,path,tempo_bpm,picked,guitar,microphone,tags,note,group,label,n,\
        bias_ms,bias_low_ms,bias_high_ms,spread_ms,spread_low_ms,spread_high_ms,slips,reached,missed,wrong_pitch,extra,\
        smear_ms,smear_n,evenness_ms,margin,margin_se,limit_ms\r\n";
    let number = |x: Option<f64>| x.map(|x| x.to_string()).unwrap_or_default();
    let mut out = head.to_owned();
    for FigureRow { take: t, group, label, figures: f } in rows {
        let bias = f.bias_ci95_ms.map_or([None, None], |c| c.map(Some));
        let spread = f.spread_ci95_ms.unwrap_or([None, None]);
        let picked =
            serde_json::to_value(t.picked).ok().and_then(|v| v.as_str().map(str::to_owned)).unwrap_or_default();
        out.push_str(&csv_line(&[
            t.take.to_string(),
            t.player.clone(),
            t.drill.clone(),
            t.drill_id.clone(),
            t.recorded_at.to_string(),
            t.day.to_string(),
            t.path.clone(),
            t.tempo_bpm.to_string(),
            picked,
            t.guitar.clone(),
            t.microphone.clone(),
            t.tags.join(","),
            t.note.clone(),
            group.clone(),
            label.clone(),
            f.n.to_string(),
            number(f.bias_ms),
            number(bias[0]),
            number(bias[1]),
            number(f.spread_ms),
            number(spread[0]),
            number(spread[1]),
            f.slips.to_string(),
            f.reached.to_string(),
            f.missed.to_string(),
            f.wrong_pitch.to_string(),
            f.extra.to_string(),
            number(f.smear_ms),
            f.smear_n.to_string(),
            number(f.evenness_ms),
            number(f.margin),
            number(f.margin_se),
            number(f.limit_ms),
        ]));
    }
    out
}

/// One line on standard output for each take once it is on the disk.
pub(crate) fn import(file: &Path, path: &Path, common: &Common) -> Outcome {
    let mut input: Box<dyn BufRead> = if output::is_stdout(file) {
        Box::new(std::io::stdin().lock())
    } else {
        let file_in = std::fs::File::open(file).map_err(|e| Fault::usage(format!("{}: {e}", file.display())))?;
        Box::new(BufReader::new(file_in))
    };
    let mut journal = Journal::open_or_create(path).map_err(|e| fault(e, path))?;
    let (mut new, mut same, mut rescored) = (0, 0, 0);
    let done = journal.import_lines(&mut input, &mut |added, record| {
        match added {
            Added::New(_) => new += 1,
            Added::Same(_) => same += 1,
            Added::Rescored(_) => rescored += 1,
        }
        if common.verbose {
            // A reader that went away stops nothing: the takes are what matters.
            let _ = output::print(&format!("take {} {}\n", added.take(), record.audio_sha256));
        }
    });
    let told = format!("{new} new, {same} there already, {rescored} with a new score");
    match done {
        Ok(_) => output::print(&format!("{told}\n")),
        Err(e @ JournalError::Line { .. }) => Err(Fault::usage(format!("{}, {e}", file.display()))
            .advise(format!("the lines before it are in the journal: {told}"))),
        Err(e) => Err(fault(e, path)),
    }
}

pub(crate) fn delete(args: &DeleteArgs, journal: &mut Journal) -> Outcome {
    let mut which = filter(&args.filter, journal)?;
    if !args.takes.is_empty() {
        which.takes = Some(numbers(&args.takes.join(","))?);
    }
    if which.is_empty() {
        return Err(Fault::usage("which takes?").advise("name their numbers, or all of a player with --player NAME"));
    }
    let n = journal.list(&which).map_err(|e| fault(e, journal.path()))?.len();
    if n == 0 {
        return Err(Fault::usage("no take passes").advise("`takegauge journal list` shows what there is"));
    }
    let what = format!("{n} take{}", if n == 1 { "" } else { "s" });
    if !args.yes {
        match ask(&format!("Delete {what}? [yes/no]")).as_deref() {
            Some("yes" | "y") => {}
            Some(_) => return output::print("Nothing was deleted.\n"),
            None => return Err(Fault::usage(format!("this would delete {what}")).advise("give --yes to do it")),
        }
    }
    let path = journal.path().to_path_buf();
    journal.delete(&which, &format!("deleting {what}")).map_err(|e| fault(e, &path))?;
    output::print(&format!(
        "Deleted {what}; `takegauge journal undo` brings them back until `takegauge journal compact`.\n"
    ))
}

pub(crate) fn undo(journal: &mut Journal) -> Outcome {
    let path = journal.path().to_path_buf();
    match journal.undo().map_err(|e| fault(e, &path))? {
        None => output::print("There is nothing to take back.\n"),
        Some(undone) => {
            let ids: Vec<String> = undone.takes.iter().take(20).map(i64::to_string).collect();
            let more = if undone.takes.len() > 20 { " ..." } else { "" };
            output::print(&format!("Taken back: {}. Here again: take {}{more}\n", undone.what, ids.join(", ")))
        }
    }
}

pub(crate) fn compact(journal: &mut Journal) -> Outcome {
    let path = journal.path().to_path_buf();
    let done = journal.compact().map_err(|e| fault(e, &path))?;
    output::print(&format!(
        "{} deleted or replaced scores are gone for good; {:.1} MB before, {:.1} MB now\n",
        done.forgotten,
        done.before as f64 / 1e6,
        done.after as f64 / 1e6
    ))
}

pub(crate) fn check(path: &Path, to: Option<&Path>) -> Outcome {
    if let Some(to) = to {
        let saved = salvage(path, to).map_err(|e| fault(e, path))?;
        output::print(&format!("{} takes are whole in {}\n", saved.takes, to.display()))?;
        for line in &saved.lost {
            output::print(&format!("not readable: {line}\n"))?;
        }
        return Ok(());
    }
    let journal = Journal::open(path).map_err(|e| fault(e, path))?;
    let problems = journal.check().map_err(|e| fault(e, path))?;
    if problems.is_empty() {
        let n = journal.list(&Filter::default()).map_err(|e| fault(e, path))?.len();
        return output::print(&format!("{}: {n} takes, no damage found\n", path.display()));
    }
    for p in &problems {
        output::print(&format!("{p}\n"))?;
    }
    let why = format!("{} problems, listed above", problems.len());
    Err(fault(JournalError::Damaged { path: path.to_path_buf(), why }, path))
}

pub(crate) fn backup(journal: &Journal, to: &Path) -> Outcome {
    journal.backup(to).map_err(|e| fault(e, journal.path()))?;
    output::print(&format!("copied to {}\n", to.display()))
}
