//! A running server with a scorer of known answers, and a client that sends bytes as they are.
#![allow(dead_code, clippy::panic, clippy::unwrap_used, reason = "test code, of which each file uses a part")]

use std::collections::BTreeMap;
use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::Duration;
use takegauge_click::Delay;
use takegauge_drill::Drill;
use takegauge_journal::{Journal, Picked, TakeRecord, file_hash};
use takegauge_page::{Options, Played, Scorer, Server};
use takegauge_review::ScoreReport;
use takegauge_units::{Millis, Seconds};

/// A report of our own demo, kept by the journal's tests.
pub(crate) fn report() -> ScoreReport {
    serde_json::from_str(include_str!("../../../journal/src/packing-1.json")).unwrap()
}

pub(crate) const DRILL: &str = "name = 'Threes'\ntempo_bpm = 160\nsteps_per_beat = 4\nrepeats = 2\n\
    tuning = 'standard'\npicking = 'alternate'\nline = '6:1 6:2 6:3 5:1 5:2 5:3'\n";

/// Answers with [`report`] under the name and drill it was given, and remembers which files it saw.
#[derive(Default)]
pub(crate) struct Known {
    pub(crate) seen: Mutex<Vec<PathBuf>>,
    pub(crate) played: Mutex<Vec<Played>>,
    pub(crate) delays: Mutex<BTreeMap<String, Millis>>,
}

impl Scorer for Known {
    fn score(
        &self,
        take: &Path,
        name: &str,
        drill: &Drill,
        played: &Played,
        progress: &(dyn Fn(f64) -> bool + Sync),
    ) -> Result<ScoreReport, String> {
        self.seen.lock().unwrap().push(take.to_owned());
        self.played.lock().unwrap().push(*played);
        let bytes = std::fs::read(take).map_err(|e| e.to_string())?;
        while bytes.starts_with(b"endless") && progress(0.5) {
            let begun = std::time::Instant::now();
            while bytes.starts_with(b"endless work") && begun.elapsed() < Duration::from_millis(20) {
                std::hint::spin_loop();
            }
            std::thread::sleep(Duration::from_millis(if bytes.starts_with(b"endless work") { 0 } else { 5 }));
        }
        if bytes.starts_with(b"endless") || bytes.starts_with(b"noise") {
            return Err("no note of the drill was found".to_owned());
        }
        let mut report = report();
        report.take.path = name.to_owned();
        report.drill.name = drill.name.clone();
        Ok(report)
    }

    /// A recording that says "late" holds all clicks of the loopback, 0.2 s late; any other none.
    fn clicks(&self, recording: &Path) -> Result<Vec<Seconds>, String> {
        let bytes = std::fs::read(recording).map_err(|e| e.to_string())?;
        let late = |k: i32| Seconds(0.2 + 0.8 * f64::from(k));
        Ok(if bytes.starts_with(b"late") { (0..12).map(late).collect() } else { Vec::new() })
    }

    fn delay(&self, set_up: &str) -> Result<Option<Millis>, String> {
        Ok(self.delays.lock().unwrap().get(set_up).copied())
    }

    fn keep_delay(&self, set_up: &str, delay: Delay) -> Result<(), String> {
        self.delays.lock().unwrap().insert(set_up.to_owned(), delay.median);
        Ok(())
    }
}

pub(crate) struct Site {
    pub(crate) dir: tempfile::TempDir,
    pub(crate) scorer: Arc<Known>,
    pub(crate) host: String,
    /// The printed address.
    pub(crate) url: String,
    /// What the browser of whoever started it holds.
    pub(crate) cookie: String,
    stop: Option<tokio::sync::oneshot::Sender<()>>,
    thread: Option<std::thread::JoinHandle<()>>,
}

pub(crate) struct Answer {
    pub(crate) status: u16,
    pub(crate) head: String,
    pub(crate) body: String,
}

impl Site {
    /// `prepare` may fill the journal before the server starts.
    pub(crate) fn start(upload_limit: u64, prepare: impl FnOnce(&Path, &mut Journal)) -> Self {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join("j.db");
        prepare(dir.path(), &mut Journal::open_or_create(&path).unwrap());
        Self::over(dir, Some(path), upload_limit)
    }

    pub(crate) fn without_journal() -> Self {
        Self::over(tempfile::tempdir().unwrap(), None, 1 << 20)
    }

    fn over(dir: tempfile::TempDir, journal: Option<PathBuf>, upload_limit: u64) -> Self {
        let scorer = Arc::new(Known::default());
        let options = Options { port: 0, upload_limit, journal, player: None };
        let server = Server::bind(&options, Arc::clone(&scorer) as Arc<dyn Scorer>).unwrap();
        let (url, host) = (server.url(), server.address().to_string());
        let (stop, stopped) = tokio::sync::oneshot::channel();
        let thread = std::thread::spawn(move || {
            server.run(async { drop(stopped.await) }).unwrap();
        });
        let mut site = Self { dir, scorer, host, url, cookie: String::new(), stop: Some(stop), thread: Some(thread) };
        let first = site.stranger(&site.url[site.url.rfind("/?").unwrap()..]);
        assert_eq!((first.status, first.field("location").as_deref()), (303, Some("/")));
        site.cookie = first.field("set-cookie").unwrap().split(';').next().unwrap().to_owned();
        site
    }

    pub(crate) fn connect(&self) -> TcpStream {
        let stream = TcpStream::connect(&self.host).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(120))).unwrap();
        stream
    }

    /// Sends a request as it is, but for the cookie, and reads until the server closes.
    pub(crate) fn raw(&self, request: &[u8]) -> Answer {
        let line = request.windows(2).position(|w| w == b"\r\n").map_or(request.len(), |at| at + 2);
        let cookie = format!("Cookie: {}\r\n", self.cookie);
        self.bare(&[&request[..line], cookie.as_bytes(), &request[line..]].concat())
    }

    /// Sends a request as it is.
    pub(crate) fn bare(&self, request: &[u8]) -> Answer {
        let mut stream = self.connect();
        // A server that refuses early may close while we still write.
        let _ = stream.write_all(request);
        read(stream)
    }

    /// What somebody else on this machine gets.
    pub(crate) fn stranger(&self, path: &str) -> Answer {
        self.bare(format!("GET {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", self.host).as_bytes())
    }

    pub(crate) fn get(&self, path: &str) -> Answer {
        self.raw(format!("GET {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", self.host).as_bytes())
    }

    /// Head and body as bytes, of a GET.
    pub(crate) fn bytes(&self, path: &str) -> (String, Vec<u8>) {
        let mut stream = self.connect();
        let request = format!(
            "GET {path} HTTP/1.1\r\nHost: {}\r\nCookie: {}\r\nConnection: close\r\n\r\n",
            self.host, self.cookie
        );
        stream.write_all(request.as_bytes()).unwrap();
        let mut all = Vec::new();
        stream.read_to_end(&mut all).unwrap();
        let end = all.windows(4).position(|w| w == b"\r\n\r\n").unwrap();
        (String::from_utf8_lossy(&all[..end]).into_owned(), all[end + 4..].to_vec())
    }

    /// A POST as this site's own pages send it, with these header lines added.
    pub(crate) fn post_with(&self, path: &str, headers: &str, body: &str) -> Answer {
        let head = format!(
            "POST {path} HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nContent-Type: application/x-www-form-urlencoded\r\n\
             Content-Length: {}\r\n{headers}\r\n",
            self.host,
            body.len()
        );
        self.raw(&[head.as_bytes(), body.as_bytes()].concat())
    }

    pub(crate) fn post(&self, path: &str, body: &str) -> Answer {
        let own = format!("Origin: http://{}\r\nX-Takegauge-Token: {}\r\n", self.host, self.token());
        self.post_with(path, &own, body)
    }

    pub(crate) fn token(&self) -> String {
        let body = self.get("/plan").body;
        let from = body.split("name=\"token\" content=\"").nth(1).expect("a token in the page");
        from[..64].to_owned()
    }

    /// Sends a recording and waits for its result; the result's address.
    pub(crate) fn send(&self, query: &str, body: &str) -> String {
        let answer = self.post(&format!("/uploads?{query}"), body);
        assert_eq!(answer.status, 201, "{}", answer.body);
        let address = answer.field("location").expect("a location");
        for _ in 0..600 {
            if self.get(&format!("{address}/state")).body.contains("\"over\":true") {
                return address;
            }
            std::thread::sleep(Duration::from_millis(20));
        }
        panic!("{address} was never done");
    }
}

impl Answer {
    pub(crate) fn field(&self, name: &str) -> Option<String> {
        let lines = self.head.lines().filter_map(|l| l.split_once(": "));
        lines.filter(|(n, _)| n.eq_ignore_ascii_case(name)).map(|(_, v)| v.to_owned()).next()
    }
}

pub(crate) fn read(mut stream: TcpStream) -> Answer {
    let mut bytes = Vec::new();
    let mut block = [0u8; 4096];
    // What came before a reset counts.
    while let Ok(n @ 1..) = stream.read(&mut block) {
        bytes.extend_from_slice(&block[..n]);
    }
    let text = String::from_utf8_lossy(&bytes).into_owned();
    let (head, body) = text.split_once("\r\n\r\n").unwrap_or((&text, ""));
    let status = head.split(' ').nth(1).and_then(|s| s.parse().ok()).unwrap_or(0);
    Answer { status, head: head.to_owned(), body: body.to_owned() }
}

impl Drop for Site {
    fn drop(&mut self) {
        drop(self.stop.take());
        if let Some(thread) = self.thread.take() {
            let ended = thread.join();
            assert!(std::thread::panicking() || ended.is_ok());
        }
    }
}

/// Puts a take with these names into the journal, its recording at `path`.
pub(crate) fn keep(journal: &mut Journal, path: &Path, player: &str, drill: &str, note: &str) {
    let mut report = report();
    report.drill.name = drill.to_owned();
    report.take.path = path.display().to_string();
    let named = DRILL.replace("'Threes'", &serde_json::to_string(drill).unwrap());
    let record = TakeRecord {
        player: player.to_owned(),
        drill: named,
        tags: vec!["evening".to_owned()],
        note: note.to_owned(),
        ..record(path)
    };
    journal.add(&record, &report).unwrap();
}

/// What is noted of a take of [`DRILL`], its recording at `path`, if it is there.
pub(crate) fn record(path: &Path) -> TakeRecord {
    TakeRecord {
        player: "Ada".to_owned(),
        drill: DRILL.to_owned(),
        audio_sha256: file_hash(path).unwrap_or_else(|_| "0".repeat(64)),
        path: path.display().to_string(),
        recorded_at: "2026-03-01T18:20:00+01:00".parse().unwrap(),
        picked: Picked::Unknown,
        guitar: String::new(),
        microphone: String::new(),
        tags: Vec::new(),
        note: String::new(),
    }
}
