//! A folder that scores itself.
#![allow(clippy::unwrap_used, clippy::panic)]

mod common;

use common::{audio, err, out, takegauge};
use std::io::{BufRead, BufReader, Write};
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

fn watch(home: &Path, folder: &Path, args: &[&str]) -> Command {
    let mut command = takegauge(home);
    command.arg("watch").arg(folder).args(args).stdin(Stdio::null());
    command
}

/// A watch that runs: its lines, and the process, which ends with the test.
struct Running {
    child: Child,
    lines: Receiver<String>,
}

impl Running {
    fn new(command: &mut Command) -> Self {
        let mut child = command.stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
        let (send, lines) = channel();
        let both: [Box<dyn std::io::Read + Send>; 2] =
            [Box::new(child.stdout.take().unwrap()), Box::new(child.stderr.take().unwrap())];
        for stream in both {
            let send = send.clone();
            std::thread::spawn(move || {
                for line in BufReader::new(stream).lines().map_while(Result::ok) {
                    if send.send(line).is_err() {
                        break;
                    }
                }
            });
        }
        Self { child, lines }
    }

    /// Waits for a line that holds `text`.
    fn until(&self, text: &str) -> String {
        let end = std::time::Instant::now() + Duration::from_secs(120);
        loop {
            let left = end.saturating_duration_since(std::time::Instant::now());
            let line = self.lines.recv_timeout(left).unwrap_or_else(|e| panic!("no line with {text:?}: {e}"));
            if line.contains(text) {
                return line;
            }
        }
    }
}

impl Drop for Running {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        std::fs::read_dir(folder).unwrap().map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

#[test]
fn what_lies_there_is_scored_once_with_the_drill_its_name_begins_with() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("bounces");
    std::fs::create_dir_all(folder.join("Ada")).unwrap();
    std::fs::copy(audio("late_inside.toml"), folder.join("Ada/inside.toml")).unwrap();
    std::fs::copy(audio("late_inside.flac"), folder.join("Ada/inside 1.flac")).unwrap();
    let journal = dir.path().join("j.db");
    let args = ["--once", "--folder-a-player", "--journal-file", journal.to_str().unwrap()];
    let done = watch(dir.path(), &folder, &args).output().unwrap();
    assert!(done.status.success(), "{}", err(&done));
    let said = out(&done);
    assert!(said.contains("take 1 of Ada") && said.lines().count() == 2, "{said}");
    let there = ["inside 1.flac", "inside 1.flac.report.html", "inside 1.flac.report.json", "inside.toml"];
    assert_eq!(names(&folder.join("Ada")), there);
    let again = watch(dir.path(), &folder, &args).output().unwrap();
    assert!(again.status.success() && out(&again).is_empty(), "{}", out(&again));
    // Without a drill beside it the take tells it, of those that the journal knows.
    std::fs::create_dir(folder.join("Bo")).unwrap();
    std::fs::copy(audio("mixed_errors.flac"), folder.join("Bo/x.flac")).unwrap();
    let told = watch(dir.path(), &folder, &args).output().unwrap();
    assert!(told.status.success(), "{}", err(&told));
    let said = out(&told);
    assert!(said.contains("take 2 of Bo") && said.contains("no drill was named; this is "), "{said}");
    assert!(said.contains("(journal)"), "{said}");
    // Where none can be told, that is said, and is a failure; nothing is written.
    std::fs::create_dir(folder.join("Cy")).unwrap();
    std::fs::copy(audio("formats/ticks-aac.m4a"), folder.join("Cy/x.m4a")).unwrap();
    let none = watch(dir.path(), &folder, &args).output().unwrap();
    assert!(none.status.code() == Some(1) && err(&none).contains("too few to tell the drill from"), "{}", err(&none));
    assert_eq!(names(&folder.join("Cy")), ["x.m4a"]);
    assert_eq!(watch(dir.path(), &dir.path().join("none"), &[]).output().unwrap().status.code(), Some(2));
}

#[test]
fn a_file_in_the_making_is_waited_for_and_a_folder_may_go_and_come_back() {
    let dir = tempfile::tempdir().unwrap();
    let (folder, to): (PathBuf, PathBuf) = (dir.path().join("bounces"), dir.path().join("reports"));
    std::fs::create_dir(&folder).unwrap();
    std::fs::copy(audio("late_inside.toml"), dir.path().join("d.toml")).unwrap();
    let drill = dir.path().join("d.toml");
    let args = ["--no-journal", "--drill", drill.to_str().unwrap(), "--out", to.to_str().unwrap()];
    let running = Running::new(&mut watch(dir.path(), &folder, &args));
    running.until("watching");
    // The first half, a rest longer than a file must stand still, then the other half: FLAC states no length, so the
    // take is a WAV here, made by hand.
    let bytes = wav(&audio("late_inside.flac"));
    let mut file = std::fs::File::create(folder.join("a.wav")).unwrap();
    file.write_all(&bytes[..bytes.len() / 2]).unwrap();
    file.flush().unwrap();
    std::thread::sleep(Duration::from_millis(1800));
    assert!(!to.exists(), "half a file was scored");
    file.write_all(&bytes[bytes.len() / 2..]).unwrap();
    drop(file);
    running.until("a.wav:");
    // Written under another name first, as some programs do.
    std::fs::write(folder.join("b.wav.tmp"), &bytes).unwrap();
    std::fs::rename(folder.join("b.wav.tmp"), folder.join("b.wav")).unwrap();
    running.until("b.wav:");
    std::fs::remove_dir_all(&folder).unwrap();
    running.until("is gone");
    std::fs::create_dir(&folder).unwrap();
    std::fs::write(folder.join("c.wav"), &bytes).unwrap();
    running.until("c.wav:");
    drop(running);
    assert!(names(&to).iter().all(|n| n.ends_with(".report.html") || n.ends_with(".report.json")), "{:?}", names(&to));
}

/// A take as a 16-bit WAV file's bytes.
fn wav(take: &Path) -> Vec<u8> {
    let (samples, summary) = takegauge_audio::read_all(take, takegauge_audio::ChannelChoice::Auto).unwrap();
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("t.wav");
    let (rate, format) = (summary.info.sample_rate_hz, takegauge_audio::WavFormat::Int16);
    takegauge_audio::write_wav(&path, rate, 1, format, &samples).unwrap();
    std::fs::read(path).unwrap()
}

/// Every file must be told of and none half written, however many come at once and whenever it ends.
#[cfg(unix)]
#[test]
fn many_at_once_and_ctrl_c() {
    let dir = tempfile::tempdir().unwrap();
    let folder = dir.path().join("bounces");
    std::fs::create_dir(&folder).unwrap();
    std::fs::copy(audio("late_inside.toml"), folder.join("drill.toml")).unwrap();
    // Short and silent: each is a take that cannot be scored, told in a line of its own.
    let rate = takegauge_units::SampleRate::new(8000).unwrap();
    for k in 0..500 {
        let silent = vec![0.0f32; 400 + k];
        let path = folder.join(format!("{k:03}.wav"));
        takegauge_audio::write_wav(&path, rate, 1, takegauge_audio::WavFormat::Int16, &silent).unwrap();
    }
    let done = watch(dir.path(), &folder, &["--once", "--no-journal"]).output().unwrap();
    assert!(done.status.code() == Some(1) && err(&done).contains("500 takes could not be scored"), "{}", err(&done));

    let folder = dir.path().join("more");
    std::fs::create_dir(&folder).unwrap();
    std::fs::copy(audio("late_inside.toml"), folder.join("drill.toml")).unwrap();
    for k in 0..4 {
        std::fs::copy(audio("late_inside.flac"), folder.join(format!("{k}.flac"))).unwrap();
    }
    let mut running = Running::new(&mut watch(dir.path(), &folder, &["--no-journal"]));
    running.until("0.flac:");
    let id = running.child.id().to_string();
    assert!(Command::new("kill").args(["-INT", &id]).status().unwrap().success());
    assert!(running.child.wait().unwrap().success());
    for name in names(&folder) {
        let whole = match name.rsplit_once(".report.") {
            Some((_, "json")) => {
                let text = std::fs::read_to_string(folder.join(&name)).unwrap();
                serde_json::from_str::<serde_json::Value>(&text).is_ok()
            }
            Some((_, "html")) => std::fs::read_to_string(folder.join(&name)).unwrap().trim_end().ends_with("</html>"),
            _ => !name.contains(".part"),
        };
        assert!(whole, "{name}");
    }
}
