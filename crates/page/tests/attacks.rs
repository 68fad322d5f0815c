//! What other web sites, hostile names and slow or huge requests can do: nothing.
#![allow(clippy::unwrap_used, reason = "test code")]

mod site;

use site::{Site, keep, read};
use std::io::Write;
use std::path::Path;
use std::time::{Duration, Instant};
use takegauge_journal::TaskRecord;

const ODD: &str = "\"><img src=x onerror=alert(1)><script>alert(2)</script></script><b>'&";

fn one_take() -> Site {
    Site::start(1 << 20, |dir, journal| {
        let take = dir.join("take.wav");
        std::fs::write(&take, b"RIFF and so on").unwrap();
        keep(journal, &take, "Ada", "Threes", "first note");
    })
}

#[test]
fn only_its_own_name_is_answered() {
    let site = one_take();
    let port = site.host.rsplit(':').next().unwrap().to_owned();
    assert_eq!(site.get("/").status, 200);
    let named = |h: &str| format!("GET / HTTP/1.1\r\nHost: {h}\r\nConnection: close\r\n\r\n");
    assert_eq!(site.raw(named(&format!("localhost:{port}")).as_bytes()).status, 200);
    let foreign = [
        "evil.example".to_owned(),
        format!("evil.example:{port}"),
        "127.0.0.1".to_owned(),
        "127.0.0.1:1".to_owned(),
        format!("127.0.0.1:{port}.evil.example"),
        format!("evil.example@127.0.0.1:{port}"),
        format!("0.0.0.0:{port}"),
        format!("[::1]:{port}"),
        String::new(),
    ];
    for host in foreign {
        let answer = site.raw(named(&host).as_bytes());
        assert!(matches!(answer.status, 400 | 403), "{host}: {}", answer.status);
        assert!(!answer.body.contains("token\" content"), "{host}");
    }
    let own = &site.host;
    for request in [
        format!("GET / HTTP/1.1\r\nHost: {own}\r\nHost: evil.example\r\nConnection: close\r\n\r\n"),
        format!("GET http://evil.example/ HTTP/1.1\r\nHost: {own}\r\nConnection: close\r\n\r\n"),
        "GET / HTTP/1.1\r\nConnection: close\r\n\r\n".to_owned(),
        "GET / HTTP/1.0\r\n\r\n".to_owned(),
    ] {
        let answer = site.raw(request.as_bytes());
        assert!(matches!(answer.status, 400 | 403), "{request}: {}", answer.status);
    }
}

#[test]
fn another_sites_posts_and_embeddings_are_refused() {
    let site = one_take();
    let token = site.token();
    let port = site.host.rsplit(':').next().unwrap();
    let foreign =
        ["https://evil.example", "null", "http://127.0.0.1:1", &format!("https://127.0.0.1:{port}"), "http://"];
    for origin in foreign {
        let headers = format!("Origin: {origin}\r\nX-Takegauge-Token: {token}\r\n");
        assert_eq!(site.post_with("/takes/1/notes", &headers, "note=changed").status, 403, "{origin}");
    }
    for fetch in ["cross-site", "same-site"] {
        let headers = format!("Sec-Fetch-Site: {fetch}\r\nX-Takegauge-Token: {token}\r\n");
        assert_eq!(site.post_with("/takes/1/notes", &headers, "note=changed").status, 403, "{fetch}");
        let get = |rest: &str| {
            let head = format!(
                "GET /takes/1 HTTP/1.1\r\nHost: {}\r\nConnection: close\r\nSec-Fetch-Site: {fetch}\r\n",
                site.host
            );
            site.raw(format!("{head}{rest}\r\n").as_bytes()).status
        };
        assert_eq!(get("Sec-Fetch-Mode: no-cors\r\nSec-Fetch-Dest: image\r\n"), 403);
        assert_eq!(get("Sec-Fetch-Mode: navigate\r\nSec-Fetch-Dest: iframe\r\n"), 403);
        assert_eq!(get("Sec-Fetch-Mode: navigate\r\nSec-Fetch-Dest: document\r\n"), 200);
    }
    let answer = site.get("/takes/1");
    assert!(answer.body.contains("first note") && !answer.body.contains("changed"));
    let policy = answer.field("content-security-policy").unwrap();
    assert!(policy.starts_with("default-src 'none'") && !policy.contains("unsafe"), "{policy}");
    assert_eq!(answer.field("access-control-allow-origin"), None);
}

#[test]
fn every_write_needs_the_token_of_this_start() {
    let site = one_take();
    let token = site.token();
    let wrong = format!("{}0", &token[..63]);
    let wrong = if wrong == token { format!("{}1", &token[..63]) } else { wrong };
    let writes = [
        "/takes/1/notes",
        "/takes/1/delete",
        "/undo",
        "/player/tasks",
        "/tasks/1/done",
        "/tasks/1/open",
        "/tasks/1/delete",
        "/drills",
        "/results/1/keep",
        "/results/1/throw-away",
        "/record/loopback?set_up=a",
        "/uploads?name=a.wav&drill=journal:1",
        "/uploads?name=a.wav&drill=journal:1&count_in=1&set_up=a",
    ];
    for path in writes {
        let header = format!("X-Takegauge-Token: {wrong}\r\n");
        assert_eq!(site.post_with(path, "", "note=changed").status, 403, "{path}");
        assert_eq!(site.post_with(path, &header, "note=changed").status, 403, "{path}");
        assert_eq!(site.post_with(path, "", &format!("note=changed&token={wrong}")).status, 403, "{path}");
        assert_eq!(site.get(path).status, if path == "/drills" { 200 } else { 405 }, "{path}");
    }
    assert!(site.get("/takes/1").body.contains("first note"));
    assert!(site.scorer.seen.lock().unwrap().is_empty());
    assert_eq!(site.post_with("/takes/1/notes", "", &format!("note=changed&token={token}")).status, 303);
    assert!(site.get("/takes/1").body.contains("changed"));
    assert_eq!(
        site.raw(format!("DELETE /takes/1 HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n\r\n", site.host).as_bytes())
            .status,
        405
    );
}

#[test]
fn no_parameter_is_a_path() {
    let site = one_take();
    std::fs::write(site.dir.path().join("secret.txt"), "root:secret").unwrap();
    let deep = "..%2f".repeat(12) + "etc%2fpasswd";
    let long = "A".repeat(20_000);
    let values = [
        "../../../../etc/passwd",
        "..%2F..%2F..%2Fetc%2Fpasswd",
        &deep,
        "%2e%2e/secret.txt",
        "%2Fetc%2Fpasswd",
        "/etc/passwd",
        "....//....//etc/passwd",
        "..%5c..%5cwindows",
        "%00",
        "1%00.css",
        "secret.txt",
        "-1",
        "99999999999999999999",
        "1;drop table take",
        "%27%20OR%201=1--",
        &long,
    ];
    for v in values {
        let paths = [
            format!("/assets/{v}"),
            format!("/takes/{v}"),
            format!("/takes/{v}/sound"),
            format!("/takes/{v}/score.json"),
            format!("/takes/{v}/report.html"),
            format!("/drills/ready/{v}"),
            format!("/drills/journal/{v}"),
            format!("/drills/own/{v}"),
            format!("/drills/{v}/x"),
            format!("/results/{v}"),
            format!("/results/{v}/state"),
            format!("/results/{v}/sound"),
            format!("/results/{v}/score.json"),
            format!("/results/{v}/try"),
            format!("/drills/loop/{v}"),
            format!("/drills/loop/take.1.{v}"),
            format!("/drills/loop/take.{v}.0"),
            format!("/drills/loop/result.{v}.0/drill.toml"),
            format!("/drills/ready/{v}/drill.toml"),
            format!("/drills/journal/1/{v}"),
            format!("/record?drill={v}&tempo={v}"),
            format!("/record?drill=loop:{v}"),
            format!("/record/line?drill={v}"),
            format!("/record/delay?set_up={v}"),
            format!("/record/loopback.wav?rate={v}"),
            format!("/clicks?drill={v}"),
            format!("/clicks?drill=journal:1&tempo={v}"),
            format!("/clicks?drill=journal:1&count_in={v}"),
            format!("/clicks?drill=journal:1&per_beat={v}&guide={v}&save={v}"),
            format!("/clicks?drill=journal:1&rate={v}"),
            format!("/takes?player={v}"),
            format!("/takes?drill={v}"),
            format!("/takes?tag={v}"),
            format!("/takes?since={v}"),
            format!("/takes?page={v}"),
            format!("/trend?player={v}&drill={v}"),
            format!("/trend?group={v}&figure={v}&tempo={v}"),
            format!("/ladder?player={v}"),
            format!("/ladder?drill={v}"),
            format!("/compare?first={v}&second=1"),
            format!("/plan?player={v}"),
            format!("/player?name={v}"),
            format!("/player?name=Ada&drill={v}"),
            format!("/player?name=Ada&drill=task:{v}&words={v}&tempo={v}&due={v}"),
            format!("/record?drill=task:{v}"),
            format!("/tasks/{v}/done"),
            format!("/{v}"),
        ];
        for path in paths {
            let answer = site.get(&path);
            assert!((200..500).contains(&answer.status), "{}: {}", &path[..path.len().min(80)], answer.status);
            assert!(!answer.body.contains("root:"), "{}", &path[..path.len().min(80)]);
        }
        let answer = site.post(&format!("/uploads?name={v}&drill={v}&tempo={v}&recorded_ms={v}"), "RIFF");
        assert!((400..500).contains(&answer.status), "{v}: {}", answer.status);
        let answer = site.post(&format!("/uploads?name=a.wav&drill=journal:1&count_in={v}&set_up={v}"), "RIFF");
        assert!((400..500).contains(&answer.status), "{v}: {}", answer.status);
        for form in ["/player/tasks", "/takes/1/notes", "/tasks/1/done"] {
            let answer = site.post(form, &format!("player={v}&words={v}&drill={v}&tempo={v}&due={v}&recorded_at={v}"));
            assert!((300..500).contains(&answer.status), "{form}, {v}: {}", answer.status);
        }
        let answer = site.post(&format!("/tasks/{v}/delete"), "");
        assert!((400..500).contains(&answer.status), "{v}: {}", answer.status);
        let answer = site.post(&format!("/record/loopback?set_up={v}"), "RIFF");
        assert!((400..500).contains(&answer.status), "{v}: {}", answer.status);
    }
}

#[test]
fn the_name_of_a_recording_is_shown_and_never_used() {
    let site = one_take();
    let before: Vec<_> = std::fs::read_dir(site.dir.path()).unwrap().map(|e| e.unwrap().file_name()).collect();
    for name in ["..%2F..%2Fevil.wav", "%2Ftmp%2Fevil.wav", "a%00b.wav", "evil.sh", "C:%5Cevil.WAV", ""] {
        site.send(&format!("name={name}&drill=journal:1"), "RIFF");
    }
    for path in site.scorer.seen.lock().unwrap().iter() {
        let file = path.file_name().unwrap().to_str().unwrap();
        assert!(file.starts_with("take-") && !path.to_string_lossy().contains("evil"), "{}", path.display());
        assert!(matches!(path.extension().and_then(|e| e.to_str()), None | Some("wav")), "{}", path.display());
        assert!(path.parent().unwrap().file_name().unwrap().to_str().unwrap().starts_with("takegauge-"));
    }
    assert!(!Path::new("/tmp/evil.wav").exists());
    let after = std::fs::read_dir(site.dir.path()).unwrap().count();
    assert_eq!(before.len(), after);
}

#[test]
fn a_journal_from_elsewhere_hands_out_no_other_file() {
    let site = Site::start(1 << 20, |dir, journal| {
        let take = dir.join("take.wav");
        std::fs::write(&take, b"RIFF as scored").unwrap();
        keep(journal, &take, "Ada", "Threes", "");
        let other = dir.join("secret.wav");
        keep(journal, &other, "Ada", "Fours", "");
        std::fs::write(&other, b"root:secret").unwrap();
        keep(journal, Path::new("/etc/passwd"), "Ada", "Fives", "");
    });
    let whole = site.get("/takes/1/sound");
    assert_eq!((whole.status, whole.body.as_str()), (200, "RIFF as scored"));
    let head = format!("GET /takes/1/sound HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n", site.host);
    let part = site.raw(format!("{head}Range: bytes=5-6\r\n\r\n").as_bytes());
    assert_eq!((part.status, part.body.as_str()), (206, "as"));
    assert_eq!(site.raw(format!("{head}Range: bytes=500-\r\n\r\n").as_bytes()).status, 416);
    for take in [2, 3, 4] {
        let answer = site.get(&format!("/takes/{take}/sound"));
        assert_eq!(answer.status, 404);
        assert!(!answer.body.contains("root:"));
    }
}

#[test]
fn too_large_a_recording_is_refused_before_it_is_there() {
    let site = one_take();
    let own = format!("Host: {}\r\nX-Takegauge-Token: {}\r\nConnection: close\r\n", site.host, site.token());
    let cookie = format!("Cookie: {}\r\n", site.cookie);
    let declared =
        format!("POST /uploads?name=a.wav&drill=journal:1 HTTP/1.1\r\n{own}Content-Length: 2147483648\r\n\r\nRIFF");
    let answer = site.raw(declared.as_bytes());
    assert_eq!(answer.status, 413, "{}", answer.head);
    assert!(answer.body.contains("larger than 1 MB"), "{}", answer.body);
    // Undeclared: at most 4 MB are sent, the limit is one.
    let mut stream = site.connect();
    stream
        .write_all(
            format!(
                "POST /uploads?name=a.wav&drill=journal:1 HTTP/1.1\r\n{own}{cookie}Transfer-Encoding: chunked\r\n\r\n"
            )
            .as_bytes(),
        )
        .unwrap();
    let piece = [b"10000\r\n".to_vec(), vec![0u8; 0x10000], b"\r\n".to_vec()].concat();
    let sent = (0..64).take_while(|_| stream.write_all(&piece).is_ok()).count();
    let answer = read(stream);
    assert!(answer.status == 413 || (answer.status == 0 && sent < 64), "{} after {sent}", answer.status);
    let loopback = format!("POST /record/loopback?set_up=a HTTP/1.1\r\n{own}Content-Length: 2147483648\r\n\r\nRIFF");
    assert_eq!(site.raw(loopback.as_bytes()).status, 413);
    // A form is bounded too.
    assert_eq!(site.post("/takes/1/notes", &format!("note={}", "a".repeat(200_000))).status, 413);
    assert!(site.scorer.seen.lock().unwrap().is_empty());
    assert!(site.get("/").body.contains("Score a take"));
}

#[test]
fn slow_connections_hold_nobody_up_and_are_closed() {
    let site = one_take();
    let token = site.token();
    let mut slow: Vec<_> = (0..200)
        .map(|k| {
            let mut stream = site.connect();
            let start = if k % 2 == 0 { "GET / HTTP/1.1\r\nHost: " } else { "" };
            stream.write_all(start.as_bytes()).unwrap();
            stream
        })
        .collect();
    let mut stalled = site.connect();
    let head = format!(
        "POST /uploads?name=a.wav&drill=journal:1 HTTP/1.1\r\nHost: {}\r\nCookie: {}\r\nX-Takegauge-Token: {token}\r\nContent-Length: 1000\r\n\r\nRI",
        site.host, site.cookie
    );
    stalled.write_all(head.as_bytes()).unwrap();
    let begun = Instant::now();
    assert_eq!(site.get("/takes/1").status, 200);
    // One after the other they would take a quarter of an hour; a busy machine takes seconds for one answer.
    assert!(begun.elapsed() < Duration::from_secs(60), "{:?}", begun.elapsed());
    // One byte now and then does not keep a head open.
    for stream in &mut slow {
        let _ = stream.write_all(b"1");
    }
    for stream in slow {
        let answer = read(stream);
        assert!(matches!(answer.status, 0 | 400 | 408), "{}", answer.status);
    }
    assert_eq!(read(stalled).status, 408);
    assert!(begun.elapsed() < Duration::from_secs(120), "{:?}", begun.elapsed());
    assert!(site.scorer.seen.lock().unwrap().is_empty());
}

#[test]
fn names_are_text_on_every_page() {
    let site = Site::start(1 << 20, |_, journal| {
        keep(journal, Path::new(&format!("/{ODD}.wav")), ODD, &format!("Drill {ODD}"), ODD);
        journal.annotate(1, ODD, &[ODD.to_owned()]).unwrap();
        let task = TaskRecord {
            player: ODD.to_owned(),
            what: ODD.to_owned(),
            drill: Some(site::DRILL.replace("'Threes'", &serde_json::to_string(ODD).unwrap())),
            tempo_bpm: None,
            set: "2026-03-01".parse().unwrap(),
            due: None,
            done: None,
        };
        journal.set_task(&task).unwrap();
    });
    let name = "%22%3E%3Cimg%20src%3Dx%20onerror%3Dalert(1)%3E%3Cscript%3Ealert(2)%3C%2Fscript%3E.wav";
    let address = site.send(&format!("name={name}&drill=journal:1"), "RIFF");
    let failed = site.send(&format!("name={name}&drill=journal:1"), "noise");
    let tried = site.send(&format!("name={name}&drill=journal:1&count_in=1&set_up={name}"), "RIFF");
    let odd = "player=%22%3E%3Cscript%3Ealert(2)&tag=%3Cscript%3Ealert(2)";
    let player = form_urlencoded::byte_serialize(ODD.as_bytes()).collect::<String>();
    let pages = [
        "/",
        "/takes",
        &format!("/takes?{odd}"),
        "/takes/1",
        "/takes/1/report.html",
        "/players",
        &format!("/player?name={player}"),
        &format!("/player?name={player}&words={player}&due={player}&tempo={player}"),
        "/drills",
        "/drills/journal/1",
        "/trend",
        "/ladder",
        "/plan",
        "/compare?first=1&second=%3Cscript%3Ealert(2)",
        &format!("/plan?{odd}"),
        &address,
        &failed,
        "/record",
        "/record?drill=journal:1&tempo=%22%3E%3Cscript%3Ealert(2)",
        "/record/line?drill=journal:1",
        &format!("{tried}/try"),
    ];
    for path in pages {
        let answer = site.get(path);
        for raw in ["<img src=x", "<script>alert", "</script><b>"] {
            assert!(!answer.body.contains(raw), "{path} holds {raw}");
        }
        assert!(answer.status < 500, "{path}: {}\n{}", answer.status, answer.body);
    }
    assert!(site.get("/takes/1").body.contains("&lt;img src=x onerror=alert(1)&gt;"));
    assert!(site.get(&failed).body.contains("no note of the drill was found"));
}
