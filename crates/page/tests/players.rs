//! The pages of players: at a glance, what is set, what is mended.
#![allow(clippy::unwrap_used, clippy::panic)]

mod site;

use site::{Site, keep};
use takegauge_journal::{Day, Journal, TaskRecord};

/// Takes of Ada in two spellings, and one of Bo.
fn site() -> Site {
    Site::start(1 << 20, |dir, journal| {
        for (k, player) in ["Ada", "ada ", "Ada", "Bo"].into_iter().enumerate() {
            let take = dir.join(format!("{k}.wav"));
            std::fs::write(&take, format!("RIFF {k}")).unwrap();
            keep(journal, &take, player, "Threes", "");
            if k < 3 {
                journal
                    .mend(&[k as i64 + 1], |r| {
                        r.recorded_at = r.recorded_at.mended(&format!("2026-03-0{}", k + 1)).unwrap()
                    })
                    .unwrap();
            }
        }
    })
}

fn task(player: &str, what: &str, due: Option<&str>) -> TaskRecord {
    let day = |text: &str| text.parse::<Day>().unwrap();
    TaskRecord {
        player: player.to_owned(),
        what: what.to_owned(),
        drill: None,
        tempo_bpm: None,
        set: day("2026-03-01"),
        due: due.map(day),
        done: None,
    }
}

#[test]
fn a_players_name_leads_to_a_page_of_their_own_under_every_spelling() {
    let site = site();
    let all = site.get("/players").body;
    assert!(all.contains("href=\"/player?name=Ada\"") && all.contains("href=\"/player?name=Bo\""), "{all}");
    assert!(!all.contains("name=ada"), "one player under both spellings:\n{all}");
    for spelling in ["Ada", "ada", "%20ADA%20"] {
        let page = site.get(&format!("/player?name={spelling}"));
        for part in ["<h1>Ada</h1>", "Last take", "/takes/3", "2026-03-03", "Open", "Tempo reached", "Next"] {
            assert!(page.body.contains(part), "{spelling}: {part} is not in\n{}", page.body);
        }
        assert!(site.get(&format!("/takes?player={spelling}")).body.contains("Takes 1 to 3 of 3"));
        assert_eq!(site.get(&format!("/trend?player={spelling}")).status, 200);
    }
    assert!(site.get("/takes/2").body.contains("href=\"/player?name=ada\""), "a take leads to its player");
    // Somebody new has a page too, for the first task; nobody has none.
    let new = site.get("/player?name=Cy");
    assert!(new.status == 200 && new.body.contains("no take of Cy yet") && new.body.contains("Set a task"));
    assert_eq!(site.get("/player?name=+").field("location").as_deref(), Some("/players"));
}

#[test]
fn a_task_is_set_recorded_ticked_off_taken_away_and_had_back() {
    let site = site();
    let set = |body: &str| site.post("/player/tasks", body);
    for (wrong, why) in [
        ("player=+&words=x", "For whom"),
        ("player=Ada&words=+", "What is to be done"),
        ("player=Ada&words=x&tempo=9999", "between 20 and 400"),
        ("player=Ada&words=x&due=soon", "is no day"),
    ] {
        let answer = set(wrong);
        assert!(answer.status == 400 && answer.body.contains(why), "{wrong}: {}", answer.body);
    }
    assert_eq!(set("player=Ada&drill=journal:99").status, 404);
    let answer = set("player=ADA&words=Slowly&drill=journal:1&tempo=140&due=2026-03-08");
    assert_eq!((answer.status, answer.field("location").as_deref()), (303, Some("/player?name=ADA#set")));
    let page = || site.get("/player?name=Ada").body;
    assert!(page().contains("Slowly: Threes, at 140 bpm") && page().contains("overdue by "), "{}", page());
    assert!(page().contains("href=\"/record?drill=task%3A1&amp;tempo=140\""), "{}", page());
    let record = site.get("/record?drill=task:1&tempo=140").body;
    assert!(record.contains("<option value=\"task:1\" selected>Threes (task)</option>"), "{record}");
    assert!(site.get("/record/line?drill=task:1").body.contains("\"tempo_bpm\":160"));
    for path in ["/plan", "/plan?player=ada"] {
        let plan = site.get(path).body;
        assert!(plan.contains("Slowly: Threes, at 140 bpm") && plan.contains("overdue by "), "{path}");
    }
    assert!(site.get("/players").body.contains("1 overdue"));
    assert!(!site.get("/plan?player=Bo").body.contains("Slowly"));
    // A loop of a take comes into the form.
    let form = site.get("/player?name=Ada&drill=journal:1").body;
    assert!(
        form.contains("<details class=\"no-print\" open>")
            && form.contains("name=\"tempo\"")
            && form.contains("value=\"160\""),
        "{form}"
    );
    assert_eq!(site.post("/tasks/1/done", "").field("location").as_deref(), Some("/player?name=Ada#set"));
    assert!(page().contains("Nothing is set") && page().contains("Done (1)") && page().contains("ticking off task 1"));
    assert!(!site.get("/plan").body.contains("Slowly"));
    site.post("/tasks/1/open", "");
    assert!(page().contains("overdue by "));
    site.post("/tasks/1/delete", "");
    assert!(!page().contains("Slowly"));
    assert_eq!(site.post("/tasks/1/delete", "").status, 404);
    assert_eq!(site.post("/undo", "player=Ada").field("location").as_deref(), Some("/player?name=Ada#set"));
    assert!(page().contains("Slowly"));
    // The journal knows it after a restart too.
    let tasks = Journal::open(&site.dir.path().join("j.db")).unwrap().tasks(Some("ada")).unwrap();
    assert_eq!((tasks.len(), tasks[0].record.tempo_bpm), (1, Some(140.0)));
}

#[test]
fn the_first_task_makes_a_journal() {
    let site = Site::start(1 << 20, |_, journal| {
        journal.set_task(&task("Cy", "hold the pick", Some("2026-03-05"))).unwrap();
    });
    let all = site.get("/players").body;
    assert!(all.contains("Cy") && all.contains("none yet") && all.contains("1 overdue"), "{all}");
    assert!(site.get("/plan").body.contains("hold the pick"));
    assert_eq!(Site::without_journal().post("/player/tasks", "player=Ada&words=x").status, 404);
}

#[test]
fn a_take_is_mended_in_the_page_and_had_back() {
    let site = site();
    let take = || site.get("/takes/1").body;
    let before = Journal::open(&site.dir.path().join("j.db")).unwrap().take(1).unwrap().0;
    assert!(take().contains("value=\"2026-03-01T18:20\""), "{}", take());
    let same = "note=&tags=evening&player=Ada&recorded_at=2026-03-01T18:20&guitar=&microphone=&picked=";
    site.post("/takes/1/notes", same);
    let record = || Journal::open(&site.dir.path().join("j.db")).unwrap().take(1).unwrap().0;
    assert_eq!(record(), before, "a form sent as it was changes nothing");
    let other = "note=n&tags=a,b&player=Bo&recorded_at=2026-02-27T09:05&guitar=red&microphone=desk&picked=best";
    assert_eq!(site.post("/takes/1/notes", other).field("location").as_deref(), Some("/takes/1"));
    let now = record();
    assert_eq!((now.player.as_str(), now.recorded_at.to_string().as_str()), ("Bo", "2026-02-27T09:05:00+01:00"));
    assert_eq!((now.guitar.as_str(), now.microphone.as_str(), now.picked.text()), ("red", "desk", "best"));
    assert!(take().contains("mending take 1") && take().contains("2026-02-27"));
    for wrong in ["player=+", "recorded_at=soon"] {
        assert_eq!(site.post("/takes/1/notes", wrong).status, 400, "{wrong}");
    }
    assert_eq!(site.post("/undo", "").field("location").as_deref(), Some("/takes/1"));
    assert_eq!(record(), before);
}

#[test]
fn a_kept_take_has_the_date_that_the_form_says() {
    let site = site();
    let result = site.send("name=take.wav&drill=journal:1&recorded_ms=1772385600123", "RIFF");
    let form = site.get(&result).body;
    let from = form.find("name=\"recorded_at\" value=\"").unwrap() + 26;
    let shown = &form[from - 1..from + 15].trim_start_matches('"').to_owned();
    assert!(shown.starts_with("2026-03-01T"), "{shown}");
    assert_eq!(site.post(&format!("{result}/keep"), "player=Ada&recorded_at=yesterday").status, 400);
    let kept = site.post(&format!("{result}/keep"), "player=Ada&recorded_at=2026-02-03T10:15");
    assert_eq!(kept.field("location").as_deref(), Some("/takes/5"), "{}", kept.body);
    let at = Journal::open(&site.dir.path().join("j.db")).unwrap().take(5).unwrap().0.recorded_at;
    assert_eq!(at.to_the_minute(), "2026-02-03 10:15");
}
