//! The film of a take: handed out only where the journal names it and its bytes are those that were matched.
#![allow(clippy::unwrap_used, reason = "test code")]

mod site;

use site::{Site, report};
use std::path::Path;
use takegauge_journal::{Journal, file_hash};
use takegauge_review::{CameraSection, MatchedBy};

fn keep(journal: &mut Journal, take: &Path, film: &Path, sha256: String) {
    let mut report = report();
    report.camera = Some(CameraSection {
        path: film.display().to_string(),
        sha256,
        matched_by: MatchedBy::Sound,
        offset_s: 1.5,
        offset_interval_s: Some([1.4999, 1.5001]),
        drift_ppm: 20.0,
        drift_interval_ppm: Some([19.0, 21.0]),
        windows_agree: 30,
        windows: 31,
        scatter_ms: 0.02,
        covers_s: [0.0, 30.0],
        duration_s: 40.0,
        frame_ms: Some(33.333),
        longest_frame_ms: None,
        text: "The film shows this take.".to_owned(),
    });
    journal.add(&site::record(take), &report).unwrap();
}

fn films() -> Site {
    Site::start(1 << 20, |dir, journal| {
        let path = |name: &str| dir.join(name);
        for (n, film) in ["clip.mp4", "other.mp4", "gone.mp4", "secret.txt"].into_iter().enumerate() {
            let take = path(&format!("take{n}.wav"));
            std::fs::write(&take, format!("RIFF {n}")).unwrap();
            std::fs::write(path(film), format!("film {n}")).unwrap();
            keep(journal, &take, &path(film), file_hash(&path(film)).unwrap());
        }
        std::fs::write(path("other.mp4"), "root:secret").unwrap();
        std::fs::remove_file(path("gone.mp4")).unwrap();
    })
}

#[test]
fn a_film_is_played_in_parts_and_no_other_file_is() {
    let site = films();
    let whole = site.get("/takes/1/film");
    assert_eq!((whole.status, whole.body.as_str()), (200, "film 0"));
    assert_eq!(whole.field("content-type").as_deref(), Some("video/mp4"));
    let head = format!("GET /takes/1/film HTTP/1.1\r\nHost: {}\r\nConnection: close\r\n", site.host);
    let part = site.raw(format!("{head}Range: bytes=0-3\r\n\r\n").as_bytes());
    assert_eq!((part.status, part.body.as_str()), (206, "film"));
    // Other bytes than were matched, no file, a file that is no film, no such take.
    for take in [2, 3, 4, 5] {
        let answer = site.get(&format!("/takes/{take}/film"));
        assert_eq!(answer.status, 404, "{take}");
        assert!(!answer.body.contains("root:") && !answer.body.contains("film 3"));
    }
}

#[test]
fn the_page_shows_the_film_where_it_is_there_and_asks_for_it_where_not() {
    let site = films();
    let shown = site.get("/takes/1").body;
    assert!(shown.contains("id=\"film\"") && shown.contains("\"src\":\"/takes/1/film\""));
    assert!(site.get("/takes/3").body.contains("\"src\":null"));
}

#[test]
fn a_film_is_laid_over_a_take_only_with_the_token_and_by_a_whole_path() {
    let site = films();
    assert_eq!(site.post_with("/takes/1/film", "", "path=/etc/passwd").status, 403);
    let dir = site.dir.path().display().to_string();
    for path in ["clip.mp4", "", "/etc/passwd", "../clip.mp4", &format!("{dir}/secret.txt"), &format!("{dir}/clip.mp4")]
    {
        let mut body = form_urlencoded::Serializer::new(String::new());
        let answer = site.post("/takes/1/film", &body.append_pair("path", path).finish());
        assert_eq!(answer.status, 400, "{path}");
        assert!(!answer.body.contains("root:"));
    }
    assert!(site.get("/takes/1").body.contains("clip.mp4"), "what was there stays");
    let result = site.send("name=a.wav&drill=journal:1", "RIFF");
    assert_eq!(site.get(&format!("{result}/film")).status, 404);
    assert_eq!(site.post(&format!("{result}/film"), "path=clip.mp4").status, 400);
    assert_eq!(site.post_with(&format!("{result}/film"), "", "path=clip.mp4").status, 403);
    assert_eq!(site.post("/takes/99/film", &format!("path={dir}/clip.mp4")).status, 404);
}
