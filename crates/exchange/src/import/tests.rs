use super::*;
use crate::export::{Format, write};
use proptest::prelude::*;
use takegauge_drill::{Stroke, Tuning, built_in};
use takegauge_units::Bpm;

fn there_and_back(drill: &Drill, format: Format, name: &str) -> Imported {
    let out = write(drill, format);
    let back = read_bytes(&out.bytes, name, &Options { tuning: Some(drill.tuning.clone()), ..Options::default() });
    back.unwrap_or_else(|e| panic!("{}: {e}\n{}", drill.name, String::from_utf8_lossy(&out.bytes)))
}

#[test]
fn built_in_drills_come_back_whole_from_musicxml_and_text() {
    for b in built_in() {
        let drill = b.drill().unwrap();
        for (format, name) in [(Format::MusicXml, "a.musicxml"), (Format::Tab, "a.txt")] {
            let back = there_and_back(&drill, format, name);
            let lost_frets = !write(&drill, format).losses.is_empty();
            assert_eq!(back.losses, Vec::<String>::new(), "{} {name}", b.name);
            assert_eq!(back.drill.grid(), drill.grid(), "{} {name}", b.name);
            assert!(!lost_frets, "{} {name}", b.name);
            assert_eq!(Drill { bars: Vec::new(), ..back.drill }, drill, "{} {name}", b.name);
        }
    }
}

#[test]
fn built_in_drills_keep_pitches_and_times_through_midi() {
    for b in built_in() {
        let drill = b.drill().unwrap();
        let back = there_and_back(&drill, Format::Midi, "a.mid");
        let (a, z) = (drill.grid(), back.drill.grid());
        assert_eq!(a.len(), z.len(), "{}", b.name);
        let shift = z[0].expected.0 - a[0].expected.0;
        // A swing of 66.7 per cent comes back as triplets: two thirds.
        for (x, y) in a.iter().zip(&z) {
            assert_eq!(x.keys, y.keys, "{}", b.name);
            assert!((y.expected.0 - shift - x.expected.0).abs() < 5e-4, "{} {x:?} {y:?}", b.name);
        }
    }
}

fn drill(line: &str, more: &str) -> Drill {
    let text = format!(
        "name='t'\ntempo_bpm=97.3\nsteps_per_beat=4\nbeats_per_bar=2\ntuning='standard'\nline='{line}'\n{more}"
    );
    Drill::parse(&text, "t").unwrap()
}

#[test]
fn marks_chords_holds_and_settings_come_back() {
    let line = "6:3> 6:5h 6:3p 5:2m | [5:3 4:2]u ~ - 3:0r | /3 3:12 ~ 2:0x /4 1:5 1:7 1:8d 1:10";
    let d = drill(
        line,
        "first_stroke='up'\nafter_gap='hand'\nswing=60\na4_hz=442\ncapo=2\npickup_steps=2\nnote='a < b & c'",
    );
    for (format, name) in [(Format::MusicXml, "a.xml"), (Format::Tab, "a.tab"), (Format::Drill, "a.toml")] {
        let told = write(&d, format).losses.iter().any(|l| l.contains("follow from the picking"));
        assert_eq!(told, format != Format::Drill, "{name}");
        let back = there_and_back(&d, format, name).drill;
        for (a, b) in back.grid().iter().zip(&d.grid()) {
            assert_eq!(a, b, "{name}");
        }
        assert_eq!(back.grid().len(), d.grid().len(), "{name}");
        assert_eq!((back.a4, back.capo, back.swing, &back.note), (d.a4, d.capo, d.swing, &d.note), "{name}");
    }
}

#[test]
fn plain_tablature_of_other_makers() {
    let text = "Warm up, slowly\n\ne|-----------------|-5---|\nB|-------------5-7-|-----|\nG|-----5h7p5-x-----|-----|\n\
                D|-5-7-------------|-----|\nA|-----------------|-----|\nE|-----------------|-----|\n";
    let back = read_bytes(text.as_bytes(), "warm up.txt", &Options::default()).unwrap();
    let line: Vec<_> = back.drill.line.iter().map(takegauge_drill::write_step).collect();
    assert_eq!(line.join(" "), "4:5 4:7 3:5 3:7h 3:5p 3:0x 2:5 2:7 1:5 ~");
    assert_eq!(back.drill.bars, [8]);
    assert_eq!(back.drill.name, "warm up");
    assert_eq!(back.drill.tuning, Tuning::standard());
    assert!(back.losses.iter().any(|l| l.contains("held")), "{:?}", back.losses);
    let even = Options { even: Some(3), bars: Some((1, 1)), ..Options::default() };
    let back = read_bytes(text.as_bytes(), "a.txt", &even).unwrap();
    assert_eq!((back.drill.steps_per_beat, back.drill.line.len()), (3, 8));
}

#[test]
fn two_digits_take_no_more_time_than_one() {
    let text = "E4|-9-10-12-9-|\nB3|-----------|\nG3|-----------|\nD3|-----------|\n";
    let back = read_bytes(text.as_bytes(), "a.txt", &Options::default()).unwrap();
    let line: Vec<_> = back.drill.line.iter().map(takegauge_drill::write_step).collect();
    assert_eq!(line.join(" "), "1:9 1:10 1:12 1:9");
}

#[test]
fn faults_in_tablature_show_the_column() {
    let fault = |text: &str| read_bytes(text.as_bytes(), "a.txt", &Options::default()).unwrap_err().to_string();
    let e = fault("e|--5--|\nB|--q--|\nG|-----|\nD|-----|\n");
    assert!(e.starts_with("a.txt, line 2, column 5: read 'q'"), "{e}");
    let e = fault("e|--5--|\nB|----|-\nG|-----|\nD|-----|\n");
    assert!(e.contains("line 1, column 7") && e.contains("bar line"), "{e}");
    let e = fault("e|--99-|\nB|-----|\nG|-----|\nD|-----|\n");
    assert!(e.contains("column 5: read fret 99"), "{e}");
    assert!(fault("e|--5--|\nB|-----|\n").contains("2 rows"));
    assert!(fault("some words\n").contains("no row of tablature"));
}

#[test]
fn musicxml_of_other_makers() {
    let note = |step: &str, octave: u8, more: &str| {
        format!(
            "<note>{more}<pitch><step>{step}</step><octave>{octave}</octave></pitch><duration>1</duration><voice>1</voice></note>"
        )
    };
    let xml = format!(
        "<?xml version=\"1.0\"?><!DOCTYPE score-partwise PUBLIC \"-//Recordare//DTD MusicXML 3.1 Partwise//EN\" \"partwise.dtd\">\
         <score-partwise version=\"3.1\"><part-list/><part id=\"P1\"><measure number=\"1\"><attributes><divisions>2</divisions>\
         <time><beats>2</beats><beat-type>4</beat-type></time><transpose><chromatic>0</chromatic><octave-change>-1</octave-change>\
         </transpose></attributes><sound tempo=\"84\"/>{}{}{}{}</measure><measure number=\"2\">{}{}<note><rest/><duration>2</duration></note>\
         <backup><duration>4</duration></backup><note><pitch><step>E</step><octave>3</octave></pitch><duration>4</duration><voice>2</voice></note>\
         <barline location=\"right\"><repeat direction=\"backward\"/></barline></measure></part></score-partwise>",
        note("A", 3, ""),
        note("B", 3, ""),
        note("C", 4, ""),
        note("D", 4, ""),
        note("E", 4, ""),
        note("G", 4, "<chord/>"),
    );
    let back = read_bytes(xml.as_bytes(), "a.musicxml", &Options::default()).unwrap();
    let grid = back.drill.grid();
    assert_eq!((back.drill.tempo.0, back.drill.steps_per_beat, back.drill.repeats), (84.0, 2, 2));
    let keys: Vec<u8> = grid.iter().take(4).map(|n| n.keys[0].0).collect();
    assert_eq!(keys, [45, 47, 48, 50]);
    assert_eq!(grid[4].keys.len(), 2);
    assert!(back.losses.iter().any(|l| l.contains("voice 2")), "{:?}", back.losses);
    let second = Options { voice: Some("2".to_owned()), bars: Some((2, 2)), ..Options::default() };
    assert_eq!(read_bytes(xml.as_bytes(), "a.xml", &second).unwrap().drill.grid()[0].keys[0].0, 40);
}

#[test]
fn first_and_second_endings_are_played_in_their_turn() {
    let measure = |step: char, before: &str, after: &str| {
        format!(
            "<measure><attributes><divisions>1</divisions></attributes><barline location='left'>{before}</barline>\
             <note><pitch><step>{step}</step><octave>3</octave></pitch><duration>4</duration></note>\
             <barline location='right'>{after}</barline></measure>"
        )
    };
    let played = |measures: &[String]| -> String {
        let xml = format!("<score-partwise><part id='P'>{}</part></score-partwise>", measures.concat());
        let back = read_bytes(xml.as_bytes(), "a.xml", &Options::default()).unwrap();
        assert!(back.losses.iter().any(|l| l.contains("written out")), "{:?}", back.losses);
        back.drill.grid().iter().map(|n| n.keys[0].name().remove(0)).collect()
    };
    let start = |n: &str| format!("<ending number='{n}' type='start'/>");
    let stop = |n: &str, how: &str, repeat: bool| {
        format!("<ending number='{n}' type='{how}'/>{}", if repeat { "<repeat direction='backward'/>" } else { "" })
    };
    let a = measure('A', "<repeat direction='forward'/>", "");
    let first = measure('B', &start("1"), &stop("1", "stop", true));
    let second = measure('C', &start("2"), &stop("2", "discontinue", false));
    let rest = measure('D', "", "");
    let again = measure('E', "", "<repeat direction='backward'/>");
    assert_eq!(played(&[a.clone(), first.clone(), second.clone(), rest.clone()]), "ABACD");
    assert_eq!(played(&[a.clone(), first, second.clone(), rest.clone(), again]), "ABACDEDE");
    let twice = measure('B', &start("1, 2"), &stop("1, 2", "stop", true));
    let third = measure('C', &start("3"), &stop("3", "stop", false));
    assert_eq!(played(&[a.clone(), twice, third, rest.clone()]), "ABABACD");
    // An ending of two measures.
    let (open, close) = (measure('F', &start("1"), ""), measure('G', "", &stop("1", "stop", true)));
    assert_eq!(played(&[a, open, close, second, rest]), "AFGACD");
}

#[test]
fn tuplets_have_brackets_from_beat_to_beat() {
    let d = drill("/3 6:3 6:5 6:7 6:3 6:5 6:7 /4 5:3 5:5 5:7 5:3", "");
    let xml = String::from_utf8(write(&d, Format::MusicXml).bytes).unwrap();
    let signs: Vec<&str> = xml.matches("<tuplet type=\"start\"").collect();
    assert_eq!((signs.len(), xml.matches("<tuplet type=\"stop\"").count()), (2, 2));
}

#[test]
fn velocities_and_stroke_signs_are_told() {
    let accents = drill("6:3> 6:5 6:7 6:5", "");
    let told = |d: &Drill| there_and_back(d, Format::Midi, "a.mid").losses.iter().any(|l| l.contains("Velocities"));
    assert!(told(&accents) && !told(&drill("6:3 6:5", "")));
    let tab =
        |row: &str| format!("{row}\nE|--------|\nB|--------|\nG|--------|\nD|--------|\nA|--------|\nE|-5-7-5-7|\n");
    for (row, up_first) in
        [("   ^ V ^ V", true), ("   n V n V", false), ("   \u{2293} v \u{2293} v", false), ("   d u d u", false)]
    {
        let back = read_bytes(tab(row).as_bytes(), "a.txt", &Options::default()).unwrap();
        let first = if up_first { Stroke::Up } else { Stroke::Down };
        assert_eq!(back.drill.grid()[0].stroke, Some(first), "{row}");
        assert_eq!(back.losses.iter().any(|l| l.contains("Stroke signs")), !row.contains('d'), "{:?}", back.losses);
    }
}

#[test]
fn jams_of_six_strings() {
    let one = |source: u8, key: u8, time: f64| {
        format!(
            "{{\"namespace\":\"note_midi\",\"annotation_metadata\":{{\"data_source\":\"{source}\"}},\"data\":[{{\"time\":{time},\"duration\":0.2,\"value\":{key}.02,\"confidence\":null}}]}}"
        )
    };
    let all: Vec<_> = [(0, 43, 1.0), (1, 48, 1.25), (2, 53, 1.501), (3, 58, 1.75), (4, 62, 2.0), (5, 67, 2.25)]
        .iter()
        .map(|(s, k, t)| one(*s, *k, *t))
        .collect();
    let text = format!("{{\"annotations\":[{}],\"file_metadata\":{{\"title\":\"six\"}}}}", all.join(","));
    let options = Options { tempo: Some(Bpm(60.0)), ..Options::default() };
    let back = read_bytes(text.as_bytes(), "a.jams", &options).unwrap();
    let line: Vec<_> = back.drill.line.iter().map(takegauge_drill::write_step).collect();
    assert_eq!(line.join(" "), "6:3 5:3 4:3 3:3 2:3 1:3");
    assert!(back.losses.iter().any(|l| l.contains("1 notes were moved") && l.contains("1.0 ms")), "{:?}", back.losses);
    assert!(matches!(read_bytes(text.as_bytes(), "a.jams", &Options::default()), Err(DrillError::Option { .. })));
}

#[test]
fn entities_and_bombs_are_refused() {
    let e = |text: &str| read_bytes(text.as_bytes(), "a.xml", &Options::default()).unwrap_err().to_string();
    assert!(e("<!DOCTYPE a [<!ENTITY b \"bbbb\">]><score-partwise>&b;</score-partwise>").contains("entities"));
    assert!(e("<score-partwise>&b;</score-partwise>").contains("'b'"));
    // As deep as the bytes allow: closed or not, it takes no stack.
    assert!(e(&"<a>".repeat(100_000)).contains("not well-formed"));
    assert!(e(&format!("{}{}", "<a>".repeat(100_000), "</a>".repeat(100_000))).contains("score-partwise"));
    assert!(e("<score-timewise/>").contains("score-partwise"));
    let container = b"<container><rootfiles><rootfile full-path=\"s.xml\"/></rootfiles></container>";
    let bytes = zipped(&[("META-INF/container.xml", &container[..]), ("s.xml", &vec![b' '; 64 << 20][..])]);
    assert!(bytes.len() < 200_000);
    let e = read_bytes(&bytes, "a.mxl", &Options::default()).unwrap_err().to_string();
    assert!(e.contains("inflates to more than 8000000 bytes"), "{e}");
}

#[test]
fn options_out_of_range_are_refused() {
    for options in [
        Options { part: Some(0), ..Options::default() },
        Options { bars: Some((3, 2)), ..Options::default() },
        Options { even: Some(13), ..Options::default() },
        Options { tempo: Some(Bpm(f64::NAN)), ..Options::default() },
    ] {
        assert!(matches!(read_bytes(b"", "a.txt", &options), Err(DrillError::Option { .. })));
    }
}

fn zipped(files: &[(&str, &[u8])]) -> Vec<u8> {
    use std::io::Write as _;
    let mut zip = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
    let deflated = zip::write::SimpleFileOptions::default().compression_method(zip::CompressionMethod::Deflated);
    for (name, bytes) in files {
        zip.start_file(*name, deflated).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

fn seeds() -> Vec<(Vec<u8>, &'static str)> {
    let d = drill("6:3> 6:5h 5:2m | [5:3 4:2] ~ - 3:0 | /3 3:12 2:0x 1:5", "repeats=2");
    let jams = br#"{"annotations":[{"namespace":"tempo","data":[{"time":0,"duration":9,"value":90}]},{"namespace":"note_midi","data":[{"time":0.5,"duration":0.2,"value":52.1}]}]}"#;
    let xml = write(&d, Format::MusicXml).bytes;
    let container = b"<container><rootfiles><rootfile full-path=\"s.xml\"/></rootfiles></container>";
    vec![
        (zipped(&[("META-INF/container.xml", &container[..]), ("s.xml", &xml[..])]), "a.mxl"),
        (xml, "a.musicxml"),
        (write(&d, Format::Midi).bytes, "a.mid"),
        (write(&d, Format::Tab).bytes, "a.txt"),
        (write(&d, Format::Drill).bytes, "a.toml"),
        (jams.to_vec(), "a.jams"),
    ]
}

thread_local! {
    static SEEDS: Vec<(Vec<u8>, &'static str)> = seeds();
}

#[test]
fn zipped_scores_are_read() {
    let (mxl, name) = seeds().swap_remove(0);
    let back = read_bytes(&mxl, name, &Options::default()).unwrap();
    assert_eq!(back.drill.notes_in_line(), 8);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2_000, ..ProptestConfig::default() })]
    #[test]
    fn random_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..400), which in 0usize..6, head in any::<bool>()) {
        let name = ["a.mxl", "a.xml", "a.mid", "a.txt", "a.toml", "a.jams"][which];
        let front: &[u8] = match (head, which) {
            (true, 0) => b"PK\x03\x04",
            (true, 1) => b"<score-partwise>",
            (true, 2) => b"MThd\0\0\0\x06\0\x01\0\x01\x01\xe0MTrk\0\0\x01\0",
            (true, 3) => b"e|--",
            _ => b"",
        };
        let _ = read_bytes(&[front, &bytes].concat(), name, &Options::default());
    }
}

proptest! {
    // Ten thousand for each importer.
    #![proptest_config(ProptestConfig { cases: 60_000, ..ProptestConfig::default() })]
    /// Mutated files give an error or a drill that holds every limit, never a panic, within a second.
    #[test]
    fn mutated_files_never_panic(
        which in 0usize..6,
        changes in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>(), 0u8..4), 1..12),
    ) {
        let (mut bytes, name) = SEEDS.with(|s| s[which].clone());
        for (at, value, how) in changes {
            let at = at.index(bytes.len().max(1));
            match how {
                0 if !bytes.is_empty() => bytes[at] = value,
                1 => bytes.truncate(at),
                2 if !bytes.is_empty() => { bytes.remove(at); }
                _ => {
                    let piece: Vec<u8> = bytes.iter().skip(at).take(usize::from(value)).copied().collect();
                    bytes.splice(at..at, piece);
                }
            }
        }
        if let Ok(back) = read_bytes(&bytes, name, &Options::default()) {
            prop_assert!(back.drill.grid().len() <= takegauge_drill::MAX_NOTES);
            prop_assert!(back.drill.line.len() <= takegauge_drill::MAX_STEPS && back.losses.len() <= 100);
        }
    }
}
