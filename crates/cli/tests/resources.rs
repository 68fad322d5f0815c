//! Memory and temporary files that once were taken without bound, or not given back.
#![cfg(target_os = "linux")]
#![allow(clippy::unwrap_used, clippy::panic)] // tests

mod common;

use common::{Desk, audio, takegauge};
use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};
use takegauge_audio::{ChannelChoice, TakeReader, WavFormat, WavWriter, read_all};

/// A committed take, end to end, until it is `seconds` long.
fn long_take(path: &Path, seconds: u64) {
    let once = read_all(&audio("late_inside.flac"), ChannelChoice::Auto).unwrap().0;
    let rate = TakeReader::open(&audio("late_inside.flac"), ChannelChoice::Auto).unwrap().sample_rate();
    let mut file = WavWriter::create(path, rate, 1, WavFormat::Int16).unwrap();
    let mut left = seconds as usize * rate.hz() as usize;
    while left > 0 {
        let n = left.min(once.len());
        file.write(&once[..n]).unwrap();
        left -= n;
    }
    file.finish().unwrap();
}

/// The most memory that a process has held, in MB, as long as it runs.
fn peak_mb(process: u32) -> Option<u64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find(|l| l.starts_with("VmHWM:"))?;
    Some(line.split_whitespace().nth(1)?.parse::<u64>().ok()? / 1024)
}

/// With every output. 30 minutes took 1.8 GB, three hours 10.6.
#[test]
fn a_report_with_sound_held_the_whole_take_in_memory() {
    let desk = Desk::new();
    let mut peaks = Vec::new();
    for minutes in [2, 8] {
        long_take(&desk.path("long.wav"), minutes * 60);
        let mut command = takegauge(desk.dir.path());
        command.current_dir(desk.dir.path()).args([
            "score",
            "long.wav",
            "-q",
            "--replace",
            "--json",
            "s.json",
            "--csv",
            "s",
        ]);
        command.args(["--html", "s.html", "--with-audio", "--plot", "s.svg", "--markers", "m.wav", "--drill"]);
        let mut child =
            command.arg(audio("late_inside.toml")).stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
        let mut peak = 0;
        while child.try_wait().unwrap().is_none() {
            peak = peak_mb(child.id()).unwrap_or(peak).max(peak);
            std::thread::sleep(Duration::from_millis(5));
        }
        assert!(child.wait().unwrap().success());
        assert!(std::fs::metadata(desk.path("s.html")).unwrap().len() > minutes * 500_000);
        peaks.push(peak);
    }
    println!("2 minutes: {} MB, 8 minutes: {} MB at most", peaks[0], peaks[1]);
    // The report grows with the notes; the samples of 6 minutes more would be 64 MB, and their text in the page as much.
    assert!(peaks[1] < 200 && peaks[1] < peaks[0] + 45, "{peaks:?} MB");
}

/// Asks the page; what it answers.
fn ask(host: &str, request: &str, body: &[u8]) -> String {
    let mut stream = TcpStream::connect(host).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(30))).unwrap();
    stream.write_all(&[format!("{request}Connection: close\r\n\r\n").as_bytes(), body].concat()).unwrap();
    let mut answer = Vec::new();
    stream.read_to_end(&mut answer).unwrap();
    String::from_utf8_lossy(&answer).into_owned()
}

fn between<'a>(text: &'a str, before: &str, after: char) -> &'a str {
    let rest = &text[text.find(before).unwrap_or_else(|| panic!("{before} in {text}")) + before.len()..];
    &rest[..rest.find(after).unwrap()]
}

#[test]
fn recordings_were_left_behind_by_signals_while_scoring() {
    let desk = Desk::new();
    long_take(&desk.path("long.wav"), 300);
    let sound = std::fs::read(desk.path("long.wav")).unwrap();
    for signal in ["TERM", "HUP", "INT"] {
        let temporary = desk.path(signal);
        std::fs::create_dir(&temporary).unwrap();
        let mut command = takegauge(desk.dir.path());
        command.env("TMPDIR", &temporary).args(["page", "--journal-file"]).arg(desk.journal());
        let mut page = command.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
        let mut address = String::new();
        BufReader::new(page.stdout.take().unwrap()).read_line(&mut address).unwrap();
        let (host, key) = address.trim().trim_start_matches("http://").split_once('/').unwrap();
        let first = ask(host, &format!("GET /{key} HTTP/1.1\r\nHost: {host}\r\n"), b"");
        let cookie = between(&first, "takegauge-", ';');
        let own = format!("Host: {host}\r\nCookie: takegauge-{cookie}\r\n");
        let plan = ask(host, &format!("GET /plan HTTP/1.1\r\n{own}"), b"");
        let token = between(&plan, "name=\"token\" content=\"", '"');
        let head = format!(
            "POST /uploads?name=a.wav&drill=ready:{} HTTP/1.1\r\n{own}Origin: http://{host}\r\nX-Takegauge-Token: {token}\r\n\
             Content-Length: {}\r\n",
            takegauge_drill::built_in().next().unwrap().name,
            sound.len()
        );
        let sent = ask(host, &head, &sound);
        assert!(sent.starts_with("HTTP/1.1 201"), "{sent}");
        let recordings = || {
            let folders = std::fs::read_dir(&temporary).unwrap().map(|e| e.unwrap().path());
            folders.flat_map(|f| std::fs::read_dir(f).into_iter().flatten()).count()
        };
        // The recording, and the lock beside it.
        assert!(recordings() >= 2, "{}", recordings());
        assert!(Command::new("kill").args([format!("-{signal}"), page.id().to_string()]).status().unwrap().success());
        let begun = Instant::now();
        while page.try_wait().unwrap().is_none() {
            assert!(begun.elapsed() < Duration::from_secs(60), "{signal} did not end it");
            std::thread::sleep(Duration::from_millis(20));
        }
        let left: Vec<_> = std::fs::read_dir(&temporary).unwrap().map(|e| e.unwrap().path()).collect();
        assert!(left.is_empty(), "{signal}: {left:?}");
    }
}
