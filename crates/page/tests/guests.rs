//! Other users of the machine, crowds of hostile clients, recordings that take for ever: nobody else waits for them.
#![allow(clippy::unwrap_used, reason = "test code")]

mod site;

use site::{Site, keep};
use std::io::Write;
use std::net::TcpStream;
use std::time::{Duration, Instant};
use takegauge_journal::Journal;

/// Whoever waits for the others waits for ever, or minutes; an answer may take seconds on a busy machine.
const WITHIN: Duration = Duration::from_secs(60);

fn one_take() -> Site {
    Site::start(1 << 20, |dir, journal| {
        let take = dir.join("take.wav");
        std::fs::write(&take, b"RIFF and so on").unwrap();
        keep(journal, &take, "Ada", "Threes", "first note");
    })
}

fn soon(what: &str, mut done: impl FnMut() -> bool) {
    let begun = Instant::now();
    while !done() {
        assert!(begun.elapsed() < WITHIN, "{what}");
        std::thread::sleep(Duration::from_millis(10));
    }
}

#[test]
fn any_local_user_could_open_the_page_and_read_its_token() {
    let site = one_take();
    let port = site.host.rsplit(':').next().unwrap();
    for path in ["/", "/takes/1", "/takes/1/sound", "/assets/page.css", "/none", "/?key=", "/?key=0000", "/takes?key=x"]
    {
        let answer = site.stranger(path);
        assert_eq!(answer.status, 403, "{path}");
        assert!(!answer.body.contains("first note") && !answer.body.contains("name=\"token\""), "{path}");
        assert_eq!(answer.field("set-cookie"), None);
    }
    let with = |cookie: &str| {
        let head = format!("GET / HTTP/1.1\r\nHost: {}\r\nCookie: {cookie}\r\nConnection: close\r\n\r\n", site.host);
        site.bare(head.as_bytes()).status
    };
    let own = site.cookie.as_str();
    assert_eq!([with(own), with(&format!("a=b; {own}; c"))], [200, 200]);
    let cut = &own[..own.len() - 1];
    for wrong in [cut, &format!("{own}0"), &format!("takegauge-{port}="), "takegauge", &own[16..], &own.to_uppercase()]
    {
        assert_eq!(with(wrong), 403, "{wrong}");
    }
    // The key opens any page, and is gone from the address afterwards.
    let key = site.url.split("key=").nth(1).unwrap();
    let deep = site.stranger(&format!("/takes?player=Ada&key={key}"));
    assert_eq!((deep.status, deep.field("location").as_deref()), (303, Some("/takes?player=Ada")));
    let cookie = deep.field("set-cookie").unwrap();
    assert!(cookie.contains("HttpOnly") && cookie.contains("SameSite=Strict"), "{cookie}");
    let elsewhere = site.stranger(&format!("//evil.example/?key={key}")).field("location");
    assert!(elsewhere.is_none_or(|l| l.starts_with('/') && !l.starts_with("//")));
    let posted = site.bare(
        format!(
            "POST /undo?key={key} HTTP/1.1\r\nHost: {}\r\nContent-Length: 0\r\nConnection: close\r\n\r\n",
            site.host
        )
        .as_bytes(),
    );
    assert_eq!(posted.status, 403);
}

#[test]
fn clients_that_hang_on_locked_everybody_out() {
    let site = one_take();
    let eight: Vec<String> = (0..8)
        .map(|_| site.post("/uploads?name=a.wav&drill=journal:1", "endless work").field("location").unwrap())
        .collect();
    soon("scoring", || !site.scorer.seen.lock().unwrap().is_empty());
    // A third says nothing, a third half a request, a third asks for more than fits on the way and does not read: half of
    // these without the cookie, half (a browser that was left in the middle) with it.
    let ask = |cookie: &str| format!("GET /takes/1 HTTP/1.1\r\nHost: {}\r\n{cookie}\r\n", site.host).repeat(50);
    let own = ask(&format!("Cookie: {}\r\n", site.cookie));
    let hostile: Vec<TcpStream> = (0..600)
        .filter_map(|k| {
            let mut stream = TcpStream::connect(&site.host).ok()?;
            // The server stops reading once its answers are not read.
            stream.set_nonblocking(true).ok()?;
            let request = match k % 6 {
                0 | 1 => "",
                2 | 3 => "GET / HTTP/1.1\r\nHost: ",
                4 => &ask(""),
                _ => &own,
            };
            let _ = stream.write(request.as_bytes());
            Some(stream)
        })
        .collect();
    assert!(hostile.len() > 500, "{}", hostile.len());
    let mut took: Vec<Duration> = (0..9)
        .map(|_| {
            let begun = Instant::now();
            assert_eq!(site.get("/takes/1").status, 200);
            begun.elapsed()
        })
        .collect();
    took.sort();
    // Waiting for them would be five seconds for each of hundreds.
    assert!(took[8] < WITHIN, "{took:?}");
    println!("600 clients that hang on, 8 recordings being scored: an answer took {took:?}");
    let over = |address: &String| site.get(&format!("{address}/state")).body.contains("\"over\":true");
    assert!(!eight.iter().any(over), "all eight were being scored, or waited for it");
    drop(hostile);
    assert_eq!(site.get("/").status, 200);
}

#[test]
fn one_recording_held_the_only_place_and_could_not_be_stopped() {
    let site = one_take();
    let send = |body: &str| {
        let answer = site.post("/uploads?name=a.wav&drill=journal:1", body);
        assert_eq!(answer.status, 201, "{}", answer.body);
        answer.field("location").unwrap()
    };
    let over = |address: &str| site.get(&format!("{address}/state")).body.contains("\"over\":true");
    let endless = send("endless");
    // Others are scored beside it, and the pages answer.
    let other = send("RIFF");
    soon("a take beside it", || over(&other));
    assert!(!over(&endless) && site.get(&endless).body.contains("Stop"));
    let eight: Vec<String> = (0..8).map(|_| send("endless")).collect();
    let begun = Instant::now();
    assert_eq!(site.get("/takes/1").status, 200);
    assert!(begun.elapsed() < WITHIN, "{:?}", begun.elapsed());
    assert!(site.get(&format!("{}/state", eight[7])).body.contains("\"before\":"));
    for address in eight.iter().chain([&endless]) {
        assert_eq!(site.post(&format!("{address}/stop"), "").status, 303);
        assert!(over(address));
    }
    // Every place is free again.
    let last = send("RIFF");
    soon("a take after them", || over(&last));
    assert!(site.get(&last).body.contains("Threes") && site.get(&endless).body.contains("stopped"));
    assert_eq!(site.post("/results/99/stop", "").status, 404);
}

#[test]
fn recordings_stayed_in_the_temporary_folder_after_an_end_while_scoring() {
    let site = one_take();
    site.post("/uploads?name=a.wav&drill=journal:1", "endless");
    soon("its scoring", || !site.scorer.seen.lock().unwrap().is_empty());
    let file = site.scorer.seen.lock().unwrap()[0].clone();
    assert!(file.is_file());
    drop(site);
    assert!(!file.exists() && !file.parent().unwrap().exists());
}

#[test]
fn a_keep_that_waited_for_a_lock_blocked_all_reads() {
    let site = one_take();
    let other = rusqlite::Connection::open(site.dir.path().join("j.db")).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    std::thread::scope(|scope| {
        let waiting = scope.spawn(|| site.post("/takes/1/notes", "note=changed").status);
        std::thread::sleep(Duration::from_millis(300));
        let begun = Instant::now();
        assert_eq!(site.get("/takes/1").status, 200);
        assert!(begun.elapsed() < WITHIN, "{:?}", begun.elapsed());
        other.execute_batch("ROLLBACK").unwrap();
        assert_eq!(waiting.join().unwrap(), 303);
    });
    assert!(site.get("/takes/1").body.contains("changed"));
}

#[test]
fn takes_were_told_as_kept_after_the_journal_was_moved() {
    let site = one_take();
    let path = site.dir.path().join("j.db");
    let result = site.send("name=a.wav&drill=journal:1", "RIFF");
    std::fs::rename(&path, site.dir.path().join("moved.db")).unwrap();
    for end in ["-wal", "-shm"] {
        let _ =
            std::fs::rename(site.dir.path().join(format!("j.db{end}")), site.dir.path().join(format!("moved.db{end}")));
    }
    // A page about it says that there is none; keeping makes a new one, and what is told as kept is in it.
    assert!(site.get("/takes").body.contains("There is no journal yet"));
    assert_eq!(site.post(&format!("{result}/keep"), "player=Ada").status, 303);
    assert_eq!(Journal::open(&path).unwrap().list(&takegauge_journal::Filter::default()).unwrap().len(), 1);
}
