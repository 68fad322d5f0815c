//! Killed without warning (SIGKILL) at any moment, the journal opens, passes its check, and holds every take that had
//! been confirmed. The fourth kind, a kill while a file of an earlier format is brought up to date, is tested in
//! crates/journal/src/tests/formats.rs.
//!
//! TAKEGAUGE_KILLS=50 kills fifty times of each kind: what reports/journal.md tells of.
#![allow(clippy::unwrap_used, clippy::panic)]

mod common;

use common::{Desk, err, line, out, takegauge, text};
use serde_json::Value;
use std::collections::BTreeSet;
use std::io::{BufRead, BufReader, Read, Write};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use takegauge_audio::{WavFormat, write_wav};
use takegauge_pluck::{Player, Sound, perform, render};

const DRILL: &str = "name = 'Short'\ntempo_bpm = 150\nsteps_per_beat = 4\nrepeats = 2\ntuning = 'standard'\n\
    picking = 'alternate'\nline = '4:5 4:7 3:5 3:7 2:5 2:8'\n";

/// Kills of each kind.
fn kills() -> usize {
    std::env::var("TAKEGAUGE_KILLS").map_or(5, |n| n.parse().unwrap())
}

/// Moments that look random and, where the machine keeps up, are the same on every run.
struct Moments {
    state: u64,
    slack: u32,
}

impl Moments {
    fn new(state: u64) -> Self {
        Self { state, slack: 1 }
    }

    fn up_to(&mut self, most: Duration) -> Duration {
        self.state = self.state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        most.mul_f64((self.state >> 40) as f64 / f64::from(1 << 24)) * self.slack
    }

    /// As long as nothing was confirmed the machine is busy with other things: twice as long next time.
    fn after(&mut self, nothing_confirmed: bool) {
        self.slack = if nothing_confirmed { self.slack * 2 } else { 1 };
    }
}

/// Short takes of one drill, each a file of its own: the last sample is its number.
fn takes(folder: &Path, n: usize) -> Vec<String> {
    let drill = takegauge_drill::Drill::parse(DRILL, "short").unwrap();
    let played = render(&perform(&drill, &Player::default()), &Sound::default());
    let mut samples = played.samples;
    std::fs::create_dir_all(folder).unwrap();
    std::fs::write(folder.join("drill.toml"), DRILL).unwrap();
    let name = |k: usize| folder.join(format!("{k:04}.wav"));
    for k in 0..n {
        *samples.last_mut().unwrap() = k as f32 / 32_768.0;
        write_wav(&name(k), takegauge_units::SampleRate::new(44_100).unwrap(), 1, WavFormat::Int16, &samples).unwrap();
    }
    (0..n).map(|k| name(k).to_str().unwrap().to_owned()).collect()
}

/// Starts a program, feeds it, kills it after a while; the lines that it printed.
fn killed(command: &mut Command, input: String, after: Duration) -> Vec<String> {
    let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    let (mut stdin, mut stdout) = (child.stdin.take().unwrap(), child.stdout.take().unwrap());
    let feeder = std::thread::spawn(move || {
        // The reader may be gone at any moment.
        let _ = stdin.write_all(input.as_bytes());
    });
    let reader = std::thread::spawn(move || {
        let mut printed = Vec::new();
        stdout.read_to_end(&mut printed).unwrap();
        printed
    });
    std::thread::sleep(after);
    child.kill().unwrap();
    child.wait().unwrap();
    feeder.join().unwrap();
    let printed = reader.join().unwrap();
    // A last line without its end was not finished.
    let whole = printed.iter().rposition(|b| *b == b'\n').map_or(0, |end| end + 1);
    BufReader::new(&printed[..whole]).lines().map_while(Result::ok).collect()
}

/// Opens, passes its check, holds what was confirmed; how many takes it holds.
fn whole(desk: &Desk, confirmed: &BTreeSet<String>) -> usize {
    if !desk.journal().exists() {
        assert!(confirmed.is_empty());
        return 0;
    }
    let checked = desk.run(&["check"]);
    assert!(checked.status.success() && out(&checked).contains("no damage found"), "{}", err(&checked));
    let list: Value = serde_json::from_str(&desk.ok(&["list", "--json", "-"])).unwrap();
    let held: BTreeSet<String> =
        list["takes"].as_array().unwrap().iter().map(|t| t["path"].as_str().unwrap().to_owned()).collect();
    let gone: Vec<&String> = confirmed.difference(&held).collect();
    assert!(gone.is_empty(), "confirmed takes are gone: {gone:?}");
    held.len()
}

/// The path before ": take 3 of Ada".
fn of_line(line: &str) -> Option<String> {
    line.split_once(": take ").map(|(path, _)| path.to_owned())
}

fn told(kind: &str, times: usize, confirmed: usize, held: usize) {
    println!("{kind}: killed {times} times; {confirmed} takes confirmed, all held ({held} in the journal)");
}

#[test]
fn during_an_import() {
    let (desk, times) = (Desk::new(), kills());
    let lines: Vec<String> = (0..times * 40).map(|k| text(&[line(k, k % 300, 4.0)])).collect();
    let mut moments = Moments::new(1);
    let (mut confirmed, mut held) = (BTreeSet::new(), 0);
    for _ in 0..times {
        let mut import = takegauge(desk.dir.path());
        import.args(["journal", "import", "-", "-v", "--journal-file"]).arg(desk.journal());
        let after = Duration::from_millis(3) + moments.up_to(Duration::from_millis(60));
        // What is there already is passed over fast, so each run begins where the last one ended.
        for told in killed(&mut import, lines[confirmed.len()..].concat(), after) {
            let (_, hash) = told.strip_prefix("take ").unwrap().split_once(' ').unwrap();
            confirmed.insert(format!("takes/{}.wav", usize::from_str_radix(hash, 16).unwrap()));
        }
        moments.after(confirmed.is_empty());
        held = whole(&desk, &confirmed);
    }
    assert!(!confirmed.is_empty());
    told("import", times, confirmed.len(), held);
}

#[test]
fn during_add() {
    let (desk, times) = (Desk::new(), kills());
    let takes = takes(&desk.path("takes"), 3 * times + 1);
    let add = |takes: &[String]| {
        let mut add = takegauge(desk.dir.path());
        add.args(["journal", "add", "--player", "Ada", "-q", "--journal-file"]).arg(desk.journal()).args(takes);
        add
    };
    let begun = Instant::now();
    let first = add(&takes[..1]).output().unwrap();
    assert!(first.status.success(), "{}", err(&first));
    let one = begun.elapsed();
    let mut confirmed: BTreeSet<String> = out(&first).lines().filter_map(of_line).collect();
    let (mut moments, mut held) = (Moments::new(2), 0);
    for _ in 0..times {
        let rest: Vec<String> = takes.iter().filter(|t| !confirmed.contains(*t)).cloned().collect();
        let lines = killed(&mut add(&rest), String::new(), moments.up_to(one * 3));
        confirmed.extend(lines.iter().filter_map(|l| of_line(l)));
        moments.after(confirmed.len() == 1);
        held = whole(&desk, &confirmed);
    }
    assert!(confirmed.len() > 1);
    told("add", times, confirmed.len(), held);
}

#[test]
fn during_watch() {
    let (desk, times) = (Desk::new(), kills());
    let folder = desk.path("bounces");
    let takes = takes(&folder, 10 * times);
    let (mut confirmed, mut moments, mut held) = (BTreeSet::new(), Moments::new(3), 0);
    for _ in 0..times {
        let mut watch = takegauge(desk.dir.path());
        watch.arg("watch").arg(&folder).args(["--player", "Ada", "-q", "--journal-file"]).arg(desk.journal());
        // A file is looked at for 0.7 s before it counts as complete.
        let after = Duration::from_millis(600) + moments.up_to(Duration::from_millis(900));
        confirmed.extend(killed(&mut watch, String::new(), after).iter().filter_map(|l| of_line(l)));
        moments.after(confirmed.is_empty());
        held = whole(&desk, &confirmed);
        for entry in std::fs::read_dir(&folder).unwrap() {
            let path = entry.unwrap().path();
            let name = path.file_name().unwrap().to_string_lossy().into_owned();
            // Under its own name a report is whole; what was being written has another.
            if !name.starts_with('.') && name.ends_with(".report.json") {
                let report = std::fs::read(&path).unwrap();
                assert!(serde_json::from_slice::<Value>(&report).is_ok(), "{name} is half written");
            }
        }
    }
    assert!(!confirmed.is_empty() && confirmed.len() <= takes.len());
    told("watch", times, confirmed.len(), held);
}
