//! What a player does on the pages, with a scorer of known answers.
#![allow(clippy::unwrap_used, clippy::panic)]

mod site;

use site::{DRILL, Site, report};

#[test]
fn a_take_is_dropped_scored_kept_noted_deleted_and_had_back() {
    let site = Site::start(1 << 20, |_, _| {});
    assert!(site.get("/takes").body.contains("No take passes"));
    let wrong = site.post("/drills", &DRILL.replace("6:3", "6:x"));
    assert_eq!(wrong.status, 400);
    assert!(wrong.body.contains("6:x"), "{}", wrong.body);
    let drill = site.post("/drills", DRILL);
    assert!(drill.body.contains("\"own:1\""), "{}", drill.body);
    let result = site.send("name=evening%20take.wav&drill=own:1&recorded_ms=1772385600000", "RIFF");
    let page = site.get(&result).body;
    assert!(page.contains(&report().summary.headline[0]) && page.contains("evening take.wav"));
    assert_eq!(site.get(&format!("{result}/sound")).body, "RIFF");
    assert!(site.get(&format!("{result}/score.json")).body.contains("takegauge/score/1"));
    assert_eq!(site.post(&format!("{result}/keep"), "player=+").status, 400);
    let kept = site.post(&format!("{result}/keep"), "player=Ada&tags=warm,+evening&note=late&picked=best");
    assert_eq!(kept.field("location").as_deref(), Some("/takes/1"));
    let take = site.get("/takes/1").body;
    assert!(take.contains("2026-03-01") && take.contains("evening, warm") && take.contains(">late</textarea>"));
    site.post("/takes/1/notes", "note=changed&tags=");
    assert!(site.get("/takes/1").body.contains(">changed</textarea>"));
    assert_eq!(site.post("/undo", "").field("location").as_deref(), Some("/takes/1"));
    assert!(site.get("/takes/1").body.contains(">late</textarea>"));
    site.post("/takes/1/delete", "");
    assert_eq!(site.get("/takes/1").status, 404);
    site.post("/undo", "");
    for (path, word) in [
        ("/takes", "evening"),
        ("/players", "Ada"),
        ("/drills", "Threes"),
        ("/drills/journal/1", "6:3"),
        ("/trend", "1 practice day so far"),
        ("/trend?tempo=60", "0 practice days so far"),
        ("/ladder", "By tempo"),
        ("/plan", "Threes: stay at"),
        ("/", "kept as take 1"),
    ] {
        let answer = site.get(path);
        assert!(answer.status == 200 && answer.body.contains(word), "{path} lacks {word}:\n{}", answer.body);
    }
    assert_eq!(site.get("/compare?first=1&second=1").status, 400);
}

#[test]
fn without_a_journal_a_take_is_scored_all_the_same() {
    let site = Site::without_journal();
    let result = site.send("name=a.wav&drill=ready:seven-eighths&first=up&tempo=150", "RIFF");
    let page = site.get(&result);
    assert!(page.status == 200 && !page.body.contains("Keep it in the journal"));
    assert_eq!(site.post(&format!("{result}/keep"), "player=Ada").status, 404);
    for path in ["/", "/takes", "/players", "/trend", "/ladder", "/plan", "/compare"] {
        assert_eq!(site.get(path).status, 200, "{path}");
    }
    assert_eq!(site.get("/takes/1").status, 404);
    let bad = site.post("/uploads?name=a.wav&drill=ready:seven-eighths&tempo=9999", "RIFF");
    assert!(bad.status == 400 && bad.body.contains("20 to 400"));
}
