//! How fast the pages are: the start, a report of 1,000 notes beside 5,000 takes, 50 requests at a time for 30 s.
//!
//!     cargo run --release -p takegauge-page --example page_speed -- [SECONDS]
//!
//! Prints one row a figure, as in reports/speed.md. Client and server are one process, so memory holds both.
//! The journal is made in a folder that goes with the program; the takes are small, but for the one that is asked for.

use std::error::Error;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};
use takegauge_click::Delay;
use takegauge_drill::Drill;
use takegauge_journal::{Journal, Picked, TakeRecord};
use takegauge_page::{Options, Played, Scorer, Server};
use takegauge_review::ScoreReport;
use takegauge_units::{Millis, Seconds};

const TAKES: u32 = 5_000;
const NOTES: usize = 1_000;
const AT_A_TIME: usize = 50;
const DRILL: &str = "name = 'Threes'\ntempo_bpm = 160\nsteps_per_beat = 4\nrepeats = 2\ntuning = 'standard'\n\
    picking = 'alternate'\nline = '6:1 6:2 6:3 5:1 5:2 5:3'\n";

struct Nobody;

impl Scorer for Nobody {
    fn score(
        &self,
        _: &Path,
        _: &str,
        _: &Drill,
        _: &Played,
        _: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<ScoreReport, String> {
        Err("nothing is scored here".to_owned())
    }

    fn clicks(&self, _: &Path) -> Result<Vec<Seconds>, String> {
        Err("nothing is heard here".to_owned())
    }

    fn delay(&self, _: &str) -> Result<Option<Millis>, String> {
        Ok(None)
    }

    fn keep_delay(&self, _: &str, _: Delay) -> Result<(), String> {
        Err("nothing is remembered here".to_owned())
    }
}

fn main() -> Result<(), Box<dyn Error>> {
    let seconds: u64 = std::env::args().nth(1).map_or(Ok(30), |s| s.parse())?;
    let dir = tempfile::tempdir()?;
    let path = dir.path().join("journal.db");
    fill(&path)?;
    let begun = Instant::now();
    let options = Options { port: 0, upload_limit: 1 << 20, journal: Some(path), player: None };
    let server = Server::bind(&options, Arc::new(Nobody))?;
    let (host, entry) = (server.address().to_string(), server.url());
    let (stop, stopped) = tokio::sync::oneshot::channel::<()>();
    let thread = std::thread::spawn(move || server.run(async { drop(stopped.await) }).map_err(|e| e.to_string()));
    let place = Place::enter(host, &entry)?;
    place.get("/compare")?;
    println!("| start, to the answer of the first page | {:.1} ms |", begun.elapsed().as_secs_f64() * 1e3);

    let report = format!("/takes/{}", TAKES + 1);
    for (what, page) in [
        ("report of 1,000 notes", report.as_str()),
        ("list of takes, of 5,001", "/takes"),
        ("first page", "/"),
        ("trend, plot drawn", "/trend"),
        ("plan", "/plan"),
    ] {
        let mut times = Vec::new();
        let mut size = 0;
        for _ in 0..21 {
            let begun = Instant::now();
            size = place.get(page)?;
            times.push(begun.elapsed().as_secs_f64() * 1e3);
        }
        times.sort_by(f64::total_cmp);
        println!("| {what}, {} KB, 21 times | {:.1} ms, slowest {:.1} ms |", size / 1000, times[10], times[20]);
    }

    let (done, failed) = (AtomicU64::new(0), AtomicU64::new(0));
    let before = memory();
    let until = Instant::now() + Duration::from_secs(seconds);
    let mut half = 0;
    std::thread::scope(|scope| {
        for k in 0..AT_A_TIME {
            let (done, failed, place, report) = (&done, &failed, &place, &report);
            scope.spawn(move || {
                // Four of five ask for the report, one for a page that reads every take's row.
                let page = if k % 5 == 4 { "/takes" } else { report };
                while Instant::now() < until {
                    let counter = if place.get(page).is_ok() { done } else { failed };
                    counter.fetch_add(1, Ordering::Relaxed);
                }
            });
        }
        std::thread::sleep(Duration::from_secs(seconds / 2));
        half = memory();
    });
    println!(
        "| {AT_A_TIME} requests at a time for {seconds} s | {} answers, {} errors; {} MB resident before, {half} half way, \
         {} at the end |",
        done.into_inner(),
        failed.into_inner(),
        before,
        memory()
    );
    drop(stop);
    thread.join().map_err(|_| "the server's thread ended early")??;
    Ok(())
}

fn fill(path: &Path) -> Result<(), Box<dyn Error>> {
    let small: ScoreReport = serde_json::from_str(include_str!("../../journal/src/packing-1.json"))?;
    let mut large = small.clone();
    let mut random = 1u64;
    large.notes = (0..NOTES)
        .map(|index| {
            random = random.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let late = f64::from((random >> 40) as u32 % 20_000) / 1000.0 - 10.0;
            let mut note = small.notes[index % small.notes.len()].clone();
            note.index = index;
            note.expected_s = index as f64 / 8.0;
            note.played_s = Some(note.expected_s + late / 1e3);
            (note.deviation_ms, note.local_deviation_ms) = (Some(late), Some(late));
            note
        })
        .collect();
    let mut journal = Journal::open_or_create(path)?;
    for k in 0..=TAKES {
        let record = TakeRecord {
            player: if k % 3 == 0 { "Ada" } else { "Ben" }.to_owned(),
            drill: DRILL.to_owned(),
            audio_sha256: format!("{k:064x}"),
            path: format!("take {k}.wav"),
            recorded_at: format!("2026-{:02}-{:02}T18:20:00+01:00", 1 + k / 28 % 12, 1 + k % 28).parse()?,
            picked: Picked::Unknown,
            guitar: String::new(),
            microphone: String::new(),
            tags: vec!["evening".to_owned()],
            note: String::new(),
        };
        journal.add(&record, if k == TAKES { &large } else { &small })?;
    }
    Ok(())
}

/// Where the pages are, and the cookie that opens them.
struct Place {
    host: String,
    cookie: String,
}

impl Place {
    /// Shows the key of the printed address.
    fn enter(host: String, entry: &str) -> Result<Self, Box<dyn Error>> {
        let mut place = Self { host, cookie: String::new() };
        let answer = place.ask(&entry[entry.rfind("/?").unwrap_or(0)..])?;
        let text = String::from_utf8_lossy(&answer).into_owned();
        let cookie = text.lines().find_map(|l| l.strip_prefix("set-cookie: ")?.split(';').next());
        place.cookie = cookie.ok_or("no cookie was given")?.to_owned();
        Ok(place)
    }

    fn ask(&self, page: &str) -> Result<Vec<u8>, Box<dyn Error>> {
        let mut stream = TcpStream::connect(&self.host)?;
        stream.set_read_timeout(Some(Duration::from_secs(30)))?;
        let (host, cookie) = (&self.host, &self.cookie);
        let head = format!("GET {page} HTTP/1.1\r\nHost: {host}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n");
        stream.write_all(head.as_bytes())?;
        let mut bytes = Vec::new();
        stream.read_to_end(&mut bytes)?;
        Ok(bytes)
    }

    /// The body's size of a page that must be there.
    fn get(&self, page: &str) -> Result<usize, Box<dyn Error>> {
        let bytes = self.ask(page)?;
        if bytes.starts_with(b"HTTP/1.1 200") && bytes.ends_with(b"</html>") {
            Ok(bytes.len())
        } else {
            Err(format!("{page}: {}", String::from_utf8_lossy(&bytes[..bytes.len().min(80)])).into())
        }
    }
}

/// Resident memory of this program, client threads included, MB; 0 where the system does not say.
fn memory() -> u64 {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmRSS:"));
    line.and_then(|l| l.split_whitespace().next()?.parse::<u64>().ok()).map_or(0, |kb| kb / 1024)
}
