//! Nothing is written over in silence: every option of every command that names a file, as clap's own tree of commands
//! lists them, so that a new one cannot be forgotten.

#![allow(clippy::unwrap_used, clippy::panic)] // tests

#[allow(dead_code, unreachable_pub, unused_imports)]
#[path = "../src/args/mod.rs"]
mod args;
mod common;

use clap::CommandFactory;
use common::{Desk, audio, err, history, takegauge};
use std::any::TypeId;
use std::collections::BTreeSet;
use std::path::PathBuf;

/// What a command does with what is there under the name that it is given.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Does {
    /// Only reads it.
    Reads,
    /// Refuses, and writes it anew with --replace.
    Refuses,
    /// Refuses, whatever else is given.
    Keeps,
    /// Writes it anew, whole, and says so (unless told to say less); a recording never.
    Says,
    /// Adds to what this program made, and else leaves it as it is.
    Adds,
}
use Does::{Adds, Keeps, Reads, Refuses, Says};

/// A command, its option (or what stands without one), what it does, how it is called with @ for the name, and which
/// file that makes of the name.
type Row = (&'static str, &'static str, Does, &'static str, &'static str);

const SCORE: &str = "score TAKE -d DRILL";
const LADDER: &str = "ladder TAKE TAKE2 -d DRILL";

#[rustfmt::skip]
const ROWS: &[Row] = &[
    ("", "config", Reads, "", ""),
    ("demo", "out", Refuses, "demo -q -o @", "@/take.wav"),
    ("demo", "out", Refuses, "demo -q -o @", "@/drill.toml"),
    ("drill check", "drill", Reads, "", ""),
    ("drill show", "drill", Reads, "", ""),
    ("drill make", "out", Refuses, "drill make A_minor_pentatonic --notes 2 -o @", "@"),
    ("drill alter", "drill", Reads, "", ""),
    ("drill alter", "out", Refuses, "drill alter DRILL --mirror -o @", "@"),
    ("drill import", "file", Reads, "", ""),
    ("drill import", "out", Refuses, "drill import TAB -o @", "@"),
    ("drill export", "drill", Reads, "", ""),
    ("drill export", "out", Refuses, "drill export DRILL -o @.mid", "@.mid"),
    ("click", "drill", Reads, "", ""),
    ("click", "out", Refuses, "click DRILL --repeats 1 -o @.wav", "@.wav"),
    ("click", "out", Refuses, "click DRILL --repeats 1 -o @.mid", "@.mid"),
    ("click", "loopback_check", Reads, "", ""),
    ("click", "delay_file", Adds, "click DRILL --repeats 1 --loopback-check CLICK --device box --delay-file @", "@"),
    ("click", "table", Says, "click DRILL --repeats 1 --replace -o other.wav --table @", "@"),
    ("manual", "folder", Says, "manual --folder @", "@/takegauge.1"),
    ("onsets", "take", Reads, "", ""),
    ("onsets", "json", Says, "onsets TAKE --json @", "@"),
    ("score", "take", Reads, "", ""),
    ("score", "drill", Reads, "", ""),
    ("score", "click_file", Reads, "", ""),
    ("score", "delay_file", Reads, "", ""),
    ("score", "ladder_file", Reads, "", ""),
    ("score", "camera", Reads, "", ""),
    ("score", "json", Says, "SCORE --json @", "@"),
    ("score", "csv", Says, "SCORE --csv @", "@-notes.csv"),
    ("score", "csv", Says, "SCORE --csv @", "@-changes.csv"),
    ("score", "html", Says, "SCORE --html @", "@"),
    ("score", "html", Says, "SCORE --html @ --with-audio", "@"),
    ("score", "plot", Says, "SCORE --plot @.svg", "@-take.svg"),
    ("score", "plot", Says, "SCORE --plot @.png", "@-changes.png"),
    ("score", "student_page", Says, "SCORE --student-page @", "@"),
    ("score", "markers", Refuses, "SCORE --markers @.wav", "@.wav"),
    ("score", "markers", Says, "SCORE --markers @.csv", "@.csv"),
    ("score", "markers", Says, "SCORE --markers @.jams", "@.jams"),
    ("score", "journal_file", Adds, "SCORE --player Ada --journal-file @", "@"),
    ("ladder", "takes", Reads, "", ""),
    ("ladder", "drill", Reads, "", ""),
    ("ladder", "list", Reads, "", ""),
    ("ladder", "json", Says, "LADDER --json @", "@"),
    ("ladder", "csv", Says, "LADDER --csv @", "@"),
    ("ladder", "html", Says, "LADDER --html @", "@"),
    ("ladder", "plot", Says, "LADDER --plot @.svg", "@.svg"),
    ("session", "takes", Reads, "", ""),
    ("session", "drill", Reads, "", ""),
    ("session", "json", Says, "session TAKE TAKE2 -d DRILL --rests 60 --json @", "@"),
    ("batch", "takes", Reads, "", ""),
    ("batch", "drill", Reads, "", ""),
    ("batch", "out", Keeps, "batch TAKE -d DRILL -q -o @", "@"),
    ("batch", "out", Adds, "batch TAKE -d DRILL -q --resume -o @", "@"),
    ("batch", "out", Keeps, "batch TAKE -d DRILL -q -o @.parquet", "@.parquet"),
    ("batch", "notes", Keeps, "batch TAKE -d DRILL -q -o @.parquet --notes @-notes.parquet", "@-notes.parquet"),
    ("watch", "folder", Reads, "", ""),
    ("watch", "drill", Reads, "", ""),
    ("watch", "out", Says, "watch IN -d DRILL --once --no-journal --out @", "@/take.flac.report.html"),
    ("watch", "journal_file", Adds, "watch IN -d DRILL --once --player Ada --journal-file @", "@"),
    ("page", "journal_file", Adds, "page --journal-file @", "@"),
    ("page", "delay_file", Adds, "page --journal-file none.db --delay-file @", "@"),
    ("journal", "journal_file", Adds, "journal --journal-file @ import LINES", "@"),
    ("journal add", "takes", Reads, "", ""),
    ("journal add", "drill", Reads, "", ""),
    ("journal add", "json", Says, "journal add TAKE -d DRILL --player Ada --json @", "@"),
    ("journal list", "drill", Reads, "", ""),
    ("journal list", "json", Says, "journal list --json @", "@"),
    ("journal show", "json", Says, "journal show 1 --json @", "@"),
    ("journal show", "html", Says, "journal show 1 --html @", "@"),
    ("journal trend", "drill", Reads, "", ""),
    ("journal trend", "json", Says, "journal trend --json @", "@"),
    ("journal trend", "plot", Says, "journal trend --group change --metric spread --plot @.svg", "@.svg"),
    ("journal compare", "plot", Says, "journal compare 1-4 5-8 --plot @.svg", "@.svg"),
    ("journal compare", "json", Says, "journal compare 1-4 5-8 --json @", "@"),
    ("journal plan", "drill", Reads, "", ""),
    ("journal plan", "json", Says, "journal plan --json @", "@"),
    ("journal player", "json", Says, "journal player --json @", "@"),
    ("journal task set", "drill", Reads, "", ""),
    ("journal task set", "json", Says, "journal task set slowly --json @", "@"),
    ("journal task list", "json", Says, "journal task list --json @", "@"),
    ("journal task done", "json", Says, "journal task done 1 --json @", "@"),
    ("journal task open", "json", Says, "journal task open 1 --json @", "@"),
    ("journal task delete", "json", Says, "journal task delete 1 --json @", "@"),
    ("journal mend", "json", Says, "journal mend 1 --note new --json @", "@"),
    ("journal export", "drill", Reads, "", ""),
    ("journal export", "out", Says, "journal export -o @", "@"),
    ("journal export", "out", Says, "journal export --format csv -o @", "@"),
    ("journal export", "out", Says, "journal export --format parquet -o @", "@"),
    ("journal export", "out", Says, "journal export --format jams -o @", "@/take-2.jams"),
    ("journal import", "file", Reads, "", ""),
    ("journal import", "json", Says, "journal import LINES --json @", "@"),
    ("journal delete", "drill", Reads, "", ""),
    ("journal delete", "json", Says, "journal delete 3 --yes --json @", "@"),
    ("journal undo", "json", Says, "journal undo --json @", "@"),
    ("journal redo", "json", Says, "journal redo --json @", "@"),
    ("journal compact", "json", Says, "journal compact --json @", "@"),
    ("journal check", "salvage", Keeps, "journal check --salvage @", "@"),
    ("journal check", "json", Says, "journal check --json @", "@"),
    ("journal backup", "to", Keeps, "journal backup @", "@"),
    ("journal backup", "json", Says, "journal backup NEW --json @", "@"),
    ("journal restore", "backup", Reads, "", ""),
    ("journal restore", "json", Says, "journal restore BACKUP --json @", "@"),
];

/// Every option and place of every command that takes a path.
fn paths(command: &clap::Command, above: &str, found: &mut BTreeSet<(String, String)>) {
    for arg in command.get_arguments().filter(|a| a.get_value_parser().type_id() == TypeId::of::<PathBuf>()) {
        found.insert((above.to_owned(), arg.get_id().to_string()));
    }
    for below in command.get_subcommands() {
        let name = if above.is_empty() { below.get_name().to_owned() } else { format!("{above} {}", below.get_name()) };
        paths(below, &name, found);
    }
}

#[test]
fn every_option_that_names_a_file_is_told_of_here() {
    let mut found = BTreeSet::new();
    paths(&args::Cli::command(), "", &mut found);
    let told: BTreeSet<_> = ROWS.iter().map(|row| (row.0.to_owned(), row.1.to_owned())).collect();
    assert_eq!(found, told);
}

const BY_HAND: &[u8] = b"made by hand\n";
const RECORDING: &[u8] = b"RIFF\x24\0\0\0WAVEfmt \x10\0\0\0 somebody's only take";

/// A desk with a drill, takes, a journal and a copy of it.
fn desk() -> Desk {
    let desk = Desk::new();
    for (from, to) in
        [("late_inside.flac", "take.flac"), ("late_inside.toml", "drill.toml"), ("mixed_errors.flac", "two.flac")]
    {
        std::fs::copy(audio(from), desk.path(to)).unwrap();
    }
    std::fs::create_dir(desk.path("in")).unwrap();
    std::fs::copy(audio("late_inside.flac"), desk.path("in/take.flac")).unwrap();
    std::fs::write(desk.path("tab.txt"), "e|-5-7-8-|\nB|-------|\nG|-------|\nD|-------|\nA|-------|\nE|-------|\n")
        .unwrap();
    desk.import(&history(10, |_| 5.0));
    desk.ok(&["task", "set", "rolls", "--player", "Ada"]);
    desk.ok(&["backup", desk.path("backup.db").to_str().unwrap()]);
    let click = run(&desk, "click DRILL --repeats 1 -o click.wav", "");
    assert!(click.status.success(), "{}", err(&click));
    desk
}

fn run(desk: &Desk, line: &str, name: &str) -> std::process::Output {
    let journal = format!("journal --journal-file {}", desk.journal().display());
    let line = line.replace("SCORE", SCORE).replace("LADDER", LADDER);
    let line = match line.strip_prefix("journal ") {
        Some(rest) if !rest.starts_with("--journal-file") => format!("{journal} {rest}"),
        _ => line,
    };
    let words = line.split(' ').map(|word| match word {
        "TAKE" => "take.flac".to_owned(),
        "TAKE2" => "two.flac".to_owned(),
        "DRILL" => "drill.toml".to_owned(),
        "TAB" => "tab.txt".to_owned(),
        "CLICK" => "click.wav".to_owned(),
        "LINES" => "in.jsonl".to_owned(),
        "IN" => "in".to_owned(),
        "NEW" => format!("{name}.new.db"),
        "BACKUP" => "backup.db".to_owned(),
        other => other.replace('_', " ").replace('@', name),
    });
    takegauge(desk.dir.path()).current_dir(desk.dir.path()).args(words).output().unwrap()
}

#[test]
fn no_file_is_written_over_in_silence() {
    let desk = desk();
    let mut wrong = Vec::new();
    for (n, (command, option, does, line, made)) in ROWS.iter().enumerate().filter(|(_, row)| row.2 != Reads) {
        for (k, there) in [BY_HAND, RECORDING].into_iter().enumerate() {
            let name = format!("out{n}-{k}");
            let shown = made.replace('@', &name);
            let file = desk.path(&shown);
            std::fs::create_dir_all(file.parent().unwrap()).unwrap();
            std::fs::write(&file, there).unwrap();
            let done = run(&desk, line, &name);
            let (said, now) = (err(&done), std::fs::read(&file).unwrap());
            let held = if *does == Says && there == BY_HAND {
                let told = said.contains(&shown) && said.contains("was there and is replaced");
                done.status.success() && told && now != BY_HAND && !now.is_empty()
            } else {
                // A watch goes on with the next take.
                let refused = *command == "watch" || !done.status.success();
                refused && !said.is_empty() && now == there
            };
            if !held {
                wrong.push(format!("{command} --{option}, {does:?}, {line}: {}, {said}", done.status));
            }
            // Told to, it writes over what it would refuse to; a drill's text never takes the place of a recording.
            if *does == Refuses && (there == BY_HAND || shown.ends_with(".wav")) {
                let done = run(&desk, &format!("{line} --replace"), &name);
                if !done.status.success() || std::fs::read(&file).unwrap() == there {
                    wrong.push(format!("{line} --replace: {}, {}", done.status, err(&done)));
                }
            }
            let _ = std::fs::remove_file(&file);
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
