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
        ("/trend?tempo=60", "no practice day so far"),
        ("/ladder", "By tempo"),
        ("/ladder", "other kinds of note do not come apart</summary>"),
        ("/plan", "Threes: stay at"),
        ("/", "kept as take 1"),
    ] {
        let answer = site.get(path);
        assert!(answer.status == 200 && answer.body.contains(word), "{path} lacks {word}:\n{}", answer.body);
    }
    assert_eq!(site.get("/compare?first=1&second=1").status, 400);
}

/// Three takes by Ada and one by Bo, each with a recording of its own.
fn four_takes() -> Site {
    Site::start(1 << 20, |dir, journal| {
        for (n, player) in ["Ada", "Ada", "Ada", "Bo"].iter().enumerate() {
            let path = dir.join(format!("take{n}.wav"));
            std::fs::write(&path, format!("RIFF {n}")).unwrap();
            site::keep(journal, &path, player, "Threes", "");
        }
    })
}

#[test]
fn takes_are_ticked_and_compared() {
    let site = four_takes();
    let list = site.get("/takes?player=Ada&a=1&b=4").body;
    assert!(list.contains("value=\"1\" checked aria-label=\"A, take 1\""), "{list}");
    // Ticked and not in the list: still there, and said.
    assert!(list.contains("Ticked, not in this list") && list.contains("name=\"b\" value=\"4\" checked"));
    let to = |query: &str| site.get(&format!("/compare?{query}")).field("location");
    assert_eq!(to("player=Ada&a=1&b=3&b=2").as_deref(), Some("/compare?first=1&second=3%2C+2"));
    assert_eq!(to("a=3&a=1").as_deref(), Some("/compare?first=1&second=3"), "two takes in one column");
    assert_eq!(site.get("/compare?a=1&a=2&a=3").status, 400);
    assert_eq!(site.get("/compare?a=x").status, 400);
    let sets = site.get("/compare?first=1&second=2,3").body;
    assert!(sets.contains("Two sets of takes") && !sets.contains("id=\"pair\""), "{sets}");
    assert!(sets.contains("3 takes of this drill at like tempo") && sets.contains("without a verdict"));
    let other = site.get("/compare?first=1&second=4");
    assert!(other.status == 400 && other.body.contains("only takes of one drill by one player"), "{}", other.body);
}

#[test]
fn ticks_outlive_the_turning_of_the_list() {
    let site = Site::start(1 << 20, |dir, journal| {
        for n in 0..101 {
            let path = dir.join(format!("take{n}.wav"));
            std::fs::write(&path, format!("RIFF {n}")).unwrap();
            site::keep(journal, &path, "Ada", "Threes", "");
        }
    });
    let first = site.get("/takes?a=1&b=101").body;
    assert!(
        first.contains("name=\"page\" value=\"1\"")
            && first.contains("value=\"101\" checked aria-label=\"B, take 101\"")
    );
    assert!(first.contains("name=\"a\" value=\"1\" checked>A, take 1"), "the first take stands on the other page");
    let second = site.get("/takes?a=1&b=101&page=1").body;
    assert!(
        second.contains("value=\"1\" checked aria-label=\"A, take 1\"") && second.contains("name=\"page\" value=\"0\"")
    );
    assert!(second.contains("name=\"b\" value=\"101\" checked>B, take 101"), "{second}");
}

#[test]
fn two_takes_are_heard_at_the_same_step_where_their_recordings_are_there() {
    let site = four_takes();
    let both = site.get("/compare?first=1&second=2").body;
    for there in ["src=\"/takes/1/sound\"", "src=\"/takes/2/sound\"", "id=\"pair-line-b\"", "Take 1 and take 2"] {
        assert!(both.contains(there), "{there}");
    }
    assert!(!both.contains("cannot be heard"));
    std::fs::remove_file(site.dir.path().join("take0.wav")).unwrap();
    std::fs::write(site.dir.path().join("take1.wav"), "RIFF another").unwrap();
    let gone = site.get("/compare?first=1&second=2").body;
    assert!(gone.contains("A cannot be heard: the recording of take 1 is no longer where it was"));
    assert!(gone.contains("B cannot be heard: what stands at the place of take 2"));
    assert!(!gone.contains("src=\"/takes/"));
    assert!(site.get("/assets/pair.js").body.contains("pair-data"));
}

#[test]
fn the_drills_show_their_line_their_changes_and_their_history() {
    let site = four_takes();
    let page = site.get("/drills").body;
    let (played, ready) = page.split_once("Ready to use").unwrap();
    assert!(played.contains("aria-label=\"Step 1: string 6, fret 1, downstroke"), "{played}");
    assert!(played.contains("String changes: outside 3. Leaves on upstrokes 1, on downstrokes 2."), "{played}");
    assert!(played.contains("<b>Ada</b>: 3 takes, the last on 2026-03-01"));
    assert!(played.contains("<b>Bo</b>: 1 take, ") && played.contains("/compare?first=1&amp;second=3"));
    assert!(played.contains("small-trend") && played.contains("/trend?player=Ada&amp;drill=1"));
    assert_eq!(ready.matches("class=\"drill\"").count(), takegauge_drill::built_in().count());
    let one = site.get("/drills/journal/1").body;
    assert!(one.contains("tab-line asked") && one.contains("Its history") && one.contains("<b>Ada</b>: 3 takes"));
    assert!(!site.get("/drills/ready/outside-pair").body.contains("Its history"));
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
