//! Recording in the page, as its server sees it: tries, delays, clicks, practice loops.
#![allow(clippy::unwrap_used, reason = "test code")]

mod site;

use site::{DRILL, Site, report};
use takegauge_click::{ClickOptions, ClickTrack};
use takegauge_drill::Drill;
use takegauge_journal::Journal;
use takegauge_page::{Played, ToClick};
use takegauge_review::{PlanItem, ScoreReport};
use takegauge_units::{Bpm, Millis, SampleRate, Seconds};

/// A journal with one take, whose score has a practice loop.
fn site() -> Site {
    Site::start(1 << 20, |_, journal: &mut Journal| {
        let one = PlanItem {
            what: "From string 6 to 5, looped".to_owned(),
            why: "late".to_owned(),
            drill_toml: DRILL.replace("Threes", "A loop of threes"),
            tab: Vec::new(),
            start_bpm: 160.0,
            step_bpm: 5.0,
            burst_bpm: None,
            stop: "Stop when it scatters.".to_owned(),
            rest: "Two minutes.".to_owned(),
        };
        let report = ScoreReport { plan: vec![one], ..report() };
        journal.add(&site::record("take.wav".as_ref()), &report).unwrap();
    })
}

#[test]
fn a_delay_is_measured_once_and_taken_off_every_try_of_its_set_up() {
    let site = site();
    let told = |set_up: &str| site.get(&format!("/record/delay?set_up={set_up}")).body;
    assert_eq!(told("Box"), r#"{"delay_ms":null}"#);
    let answer = site.post("/record/loopback?set_up=Box", "silence");
    assert!(answer.status == 400 && answer.body.contains("none of the clicks was heard"), "{}", answer.body);
    let answer = site.post("/record/loopback?set_up=Box", "late");
    assert!(answer.status == 200 && answer.body.contains("\"clicks\":12"), "{}", answer.body);
    let kept: serde_json::Value = serde_json::from_str(&told("Box")).unwrap();
    assert!((kept["delay_ms"].as_f64().unwrap() - 200.0).abs() < 1e-6, "{kept}");
    for (query, tempo, first, delay) in [
        ("count_in=1&set_up=Box", None, 1.5, Some(200.0)),
        ("count_in=2&set_up=Box&tempo=120", Some(120.0), 4.0, Some(200.0)),
        ("count_in=1&set_up=Other", None, 1.5, None),
    ] {
        site.send(&format!("name=take.wav&drill=journal:1&{query}"), "RIFF");
        let Played { tempo: asked, click } = *site.scorer.played.lock().unwrap().last().unwrap();
        assert_eq!(asked, tempo.map(Bpm));
        let ToClick { first_step, delay: taken_off } = click.unwrap();
        assert_eq!(first_step, Seconds(first), "{query}");
        let off = |d: Option<Millis>| d.map(|d| (d.0 * 10.0).round() / 10.0);
        assert_eq!(off(taken_off), delay, "{query}");
    }
    site.send("name=take.wav&drill=journal:1", "RIFF");
    assert_eq!(site.scorer.played.lock().unwrap().last().unwrap().click, None, "a dropped file has no click");
    let left = std::fs::read_dir(site.scorer.seen.lock().unwrap()[0].parent().unwrap()).unwrap();
    assert!(!left.flatten().any(|f| f.file_name().to_string_lossy().contains("loopback")));
}

#[test]
fn a_kept_try_lies_beside_the_journal_byte_for_byte_and_a_thrown_away_one_nowhere() {
    let site = site();
    let address = site.send("name=../../evil.wav&drill=journal:1&count_in=1&tempo=97.5", "RIFF of the first try");
    let other = site.send("name=a.wav&drill=journal:1&count_in=1", "RIFF of the second try");
    let folder = site.dir.path().join("recordings");
    assert!(!folder.exists(), "nothing is kept unasked");
    let row = site.get(&format!("{address}/try")).body;
    assert!(row.contains("Try 1") && row.contains("97.5 bpm") && row.contains("Throw away"), "{row}");
    let answer = site.post(&format!("{address}/keep"), "player=Ada");
    assert_eq!((answer.status, answer.field("location").as_deref()), (303, Some("/takes/2")), "{}", answer.body);
    let files: Vec<_> = std::fs::read_dir(&folder).unwrap().map(|f| f.unwrap().path()).collect();
    assert_eq!(files.len(), 1);
    let name = files[0].file_name().unwrap().to_str().unwrap();
    assert!(name.contains("Threes, 97.5 bpm ") && !name.contains("evil"), "{name}");
    assert_eq!(std::fs::read(&files[0]).unwrap(), b"RIFF of the first try");
    assert_eq!(site.get("/takes/2/sound").body, "RIFF of the first try");
    assert!(site.get(&format!("{address}/try")).body.contains("/takes/2/student"));
    // The other is forgotten, and its file with it.
    let held = site.scorer.seen.lock().unwrap()[1].clone();
    assert!(held.exists());
    assert_eq!(site.post(&format!("{other}/throw-away"), "").status, 204);
    assert!(!held.exists());
    assert_eq!(site.get(&format!("{other}/try")).status, 404);
    assert_eq!(site.post(&format!("{other}/throw-away"), "").status, 404);
    assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 1);
    // Numbers go on: what was thrown away does not come back as another.
    let third = site.send("name=a.wav&drill=journal:1&count_in=1", "RIFF of the third try");
    assert_ne!(third, other);
    assert!(site.get(&format!("{third}/try")).body.contains("Try 3"));
}

#[test]
fn without_a_journal_a_try_is_scored_and_cannot_be_kept() {
    let site = Site::without_journal();
    let address = site.send("name=a.wav&drill=ready:outside-pair&count_in=1", "RIFF");
    assert!(!site.get(&format!("{address}/try")).body.contains("data-do=\"keep\""));
    assert_eq!(site.post(&format!("{address}/keep"), "player=Ada").status, 404);
    assert!(site.get("/record").body.contains("not kept"));
}

#[test]
fn the_click_that_a_page_plays_is_the_programs_own() {
    let site = site();
    let path = "/clicks?drill=journal:1&tempo=120&count_in=2&per_beat=2&rate=8000&save=1";
    let (head, bytes) = site.bytes(path);
    assert!(head.contains("x-takegauge-first-step-s: 4.000000000") && head.contains("x-takegauge-beat-s: 0.500000000"));
    assert!(head.contains("attachment; filename=\"Threes, 120 bpm click.wav\""), "{head}");
    let options =
        ClickOptions { tempos: vec![Bpm(120.0)], count_in_bars: 2, clicks_per_beat: 2, ..ClickOptions::default() };
    let track = ClickTrack::of(&Drill::parse(DRILL, "t").unwrap(), &options).unwrap();
    let rate = SampleRate::new(8_000).unwrap();
    let mut own = vec![0f32; track.samples(rate) as usize];
    track.fill(rate, 0, &mut own);
    let data = &bytes[bytes.len() - 3 * own.len()..];
    for (k, x) in own.iter().enumerate() {
        let b = &data[3 * k..3 * k + 3];
        let sent = i32::from_le_bytes([0, b[0], b[1], b[2]]) >> 8;
        assert!((f64::from(sent) - f64::from(*x) * 8_388_608.0).abs() <= 0.5, "sample {k}");
    }
    // The guide adds the drill's notes after the count-in, and nothing before.
    let (_, guide) = site.bytes(&format!("{path}&guide=1"));
    assert_eq!(guide.len(), bytes.len());
    let count_in = bytes.len() - 3 * own.len() + 3 * 31_900;
    assert_eq!(guide[..count_in], bytes[..count_in]);
    assert_ne!(guide[count_in..], bytes[count_in..]);
    // What was made for an answer goes with it.
    site.send("name=a.wav&drill=journal:1", "RIFF");
    let folder = site.scorer.seen.lock().unwrap()[0].parent().unwrap().to_owned();
    let left = || {
        let names = std::fs::read_dir(&folder).unwrap().flatten().map(|f| f.file_name());
        names.filter(|n| n.to_string_lossy().starts_with("click-")).count()
    };
    let begun = std::time::Instant::now();
    while left() > 0 {
        assert!(begun.elapsed().as_secs() < 60, "{} are left", left());
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
}

#[test]
fn a_practice_loop_is_a_drill_like_any_other() {
    let site = site();
    let take = site.get("/takes/1").body;
    for address in ["/record?drill=loop%3Atake.1.0", "/drills/loop/take.1.0", "/drills/loop/take.1.0/drill.toml"] {
        assert!(take.contains(&format!("href=\"{address}\"")), "{address}");
        assert_eq!(site.get(address).status, 200, "{address}");
    }
    assert!(!take.contains("tempo_bpm = "), "the drill is a file, not text on the page");
    let file = site.get("/drills/loop/take.1.0/drill.toml");
    assert_eq!(Drill::parse(&file.body, "file").unwrap().name, "A loop of threes");
    assert_eq!(file.field("content-disposition").as_deref(), Some("attachment; filename=\"A loop of threes.toml\""));
    assert!(site.get("/record?drill=loop:take.1.0").body.contains("<option value=\"loop:take.1.0\" selected>"));
    assert!(site.get("/record/line?drill=loop:take.1.0").body.contains("\"tempo_bpm\":160"));
    let scored = site.send("name=a.wav&drill=loop:take.1.0&count_in=1", "RIFF");
    assert!(site.get(&scored).body.contains("A loop of threes"));
    for gone in ["take.1.1", "take.2.0", "result.99.0", "take.1", "x.1.0"] {
        assert_eq!(site.get(&format!("/drills/loop/{gone}")).status, 404, "{gone}");
    }
}
