//! `journal export` and `import`.

use super::asked::filter;
use super::told::{done, fault};
use crate::args::{Common, DoneArgs, ExportArgs, ExportFormat};
use crate::fault::{Fault, Outcome};
use crate::output;
use serde_json::json;
use std::io::{BufRead, BufReader, BufWriter, ErrorKind, Write};
use std::path::Path;
use takegauge_journal::{Added, FigureRow, Filter, Imported, Journal, JournalError, TaskAdded};
use takegauge_report::{csv_line, figure_cells, figure_names, jams};

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
            output::make_folder(&args.out)?;
            let mut unreadable = Vec::new();
            for row in journal.list(&which).map_err(wrong)? {
                match journal.take(row.take) {
                    Ok((_, _, report)) => {
                        let file = args.out.join(format!("take-{}.jams", row.take));
                        output::write(&file, jams(&report).as_bytes())?;
                    }
                    Err(e) => unreadable.push(format!("take {}: {e}", row.take)),
                }
            }
            all_read(&unreadable, journal)
        }
    }
}

fn lines(which: &Filter, out: &Path, journal: &Journal) -> Outcome {
    let (mut stop, mut unreadable) = (None, Vec::new());
    let mut write = |to: &mut dyn Write| -> std::io::Result<()> {
        match journal.export_lines(which, to) {
            Ok(exported) => {
                unreadable = exported.unreadable;
                Ok(())
            }
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
        output::stream(out, |to| write(to)).map_err(|fault| std::io::Error::other(fault.to_string()))
    };
    match (stop, done) {
        (Some(e), _) => Err(fault(e, journal.path())),
        (None, Err(e)) if e.kind() == ErrorKind::BrokenPipe => Err(Fault::BrokenPipe),
        (None, Err(e)) => Err(Fault::usage(e)),
        (None, Ok(())) => all_read(&unreadable, journal),
    }
}

/// Names the takes that could not be read; the others were written.
fn all_read(unreadable: &[String], journal: &Journal) -> Outcome {
    for line in unreadable {
        tell!("takegauge: {line}");
    }
    if unreadable.is_empty() {
        return Ok(());
    }
    let why = format!("{} could not be read, see above; the others were written", output::takes(unreadable.len()));
    Err(Fault::not_scored(why)
        .advise(format!("`takegauge journal check --journal-file {}` looks for the damage", journal.path().display())))
}

fn csv(rows: &[FigureRow]) -> String {
    let of_take =
        "take,player,drill,drill_id,recorded_at,day,path,tempo_bpm,picked,guitar,microphone,tags,note,group,label";
    let mut out = format!("{of_take},{}\r\n", figure_names().join(","));
    for FigureRow { take: t, group, label, figures } in rows {
        let mut cells = vec![
            t.take.to_string(),
            t.player.clone(),
            t.drill.clone(),
            t.drill_id.clone(),
            t.recorded_at.to_string(),
            t.day.to_string(),
            t.path.clone(),
            t.tempo_bpm.to_string(),
            t.picked.text().to_owned(),
            t.guitar.clone(),
            t.microphone.clone(),
            t.tags.join(","),
            t.note.clone(),
            group.to_string(),
            label.clone(),
        ];
        cells.extend(figure_cells(figures));
        out.push_str(&csv_line(&cells));
    }
    out
}

/// With `--verbose` one line for each take once it is on the disk.
pub(crate) fn import(file: &Path, path: &Path, common: &Common, args: &DoneArgs) -> Outcome {
    let mut input: Box<dyn BufRead> = if output::is_stdout(file) {
        Box::new(std::io::stdin().lock())
    } else {
        if file.is_dir() {
            return Err(Fault::unread(file, &ErrorKind::IsADirectory.into()));
        }
        let file_in = std::fs::File::open(file).map_err(|e| Fault::unread(file, &e))?;
        Box::new(BufReader::new(file_in))
    };
    let mut journal = Journal::open_or_create(path).map_err(|e| fault(e, path))?;
    let (mut new, mut same, mut rescored) = (0, 0, 0);
    let told_apart = args.json.as_deref().is_some_and(output::is_stdout);
    let mut tasks = 0;
    let read = journal.import_lines(&mut input, &mut |line| {
        let told = match line {
            Imported::Take(added, record) => {
                match added {
                    Added::New(_) => new += 1,
                    Added::Same(_) => same += 1,
                    Added::Rescored(_) => rescored += 1,
                }
                format!("take {} {}\n", added.take(), record.audio_sha256)
            }
            Imported::Task(added, _) => {
                tasks += usize::from(!matches!(added, TaskAdded::Same(_)));
                format!("task {}\n", added.task())
            }
        };
        if common.verbose && !told_apart {
            // A reader that went away stops nothing: the takes are what matters.
            let _ = output::print(&told);
        }
    });
    let of_tasks = match tasks {
        0 => String::new(),
        1 => "; 1 task".to_owned(),
        n => format!("; {n} tasks"),
    };
    let told = format!("{new} new, {same} there already, {rescored} with a new score{of_tasks}");
    match read {
        Ok(_) => {
            let shape = json!({
                "schema": "takegauge/journal-import/1", "new": new, "there_already": same, "new_score": rescored,
                "tasks": tasks,
            });
            done(args, &shape, &format!("{told}\n"))
        }
        Err(e @ JournalError::Line { .. }) => Err(Fault::usage(format!("{}, {e}", file.display()))
            .advise(format!("the lines before it are in the journal: {told}"))),
        Err(e) => {
            // What was confirmed before stays.
            if new + same + rescored + tasks > 0 {
                tell!("takegauge: up to here: {told}");
            }
            Err(fault(e, path))
        }
    }
}
