use super::*;

const HEAD: &str = "name = \"t\"\ntempo_bpm = 120\nsteps_per_beat = 4\ntuning = \"standard\"\n";

fn fault(text: &str) -> String {
    Drill::parse(text, "t.toml").unwrap_err().to_string()
}

#[test]
fn defaults() {
    let d = Drill::parse(&format!("{HEAD}line = \"6:3\""), "t.toml").unwrap();
    assert_eq!((d.repeats, d.beats_per_bar, d.swing, d.a4.0, d.capo), (1, 4, 50.0, 440.0, 0));
    assert_eq!((d.picking, d.first_stroke, d.after_gap), (Picking::Alternate, Stroke::Down, AfterGap::Next));
}

#[test]
fn faults_in_the_line_point_at_the_spot() {
    let e = fault(&format!("{HEAD}line = \"\"\"\n6:3 6:5\n5:3 7:1 5:7\n\"\"\""));
    assert!(e.starts_with("t.toml, line 7, column 5: read string 7 in \"7:1\"; allowed: strings 1 to 6"), "{e}");
    let e = fault(&format!("{HEAD}line = \"6:3 6:40\""));
    assert!(e.starts_with("t.toml, line 5, column 15: read fret 40"), "{e}");
    // With escapes the value's start is told.
    let e = fault(&format!("{HEAD}line = \"6:3\\n6:40\""));
    assert!(e.starts_with("t.toml, line 5, column 8: read fret 40"), "{e}");
}

#[test]
fn unknown_keys_name_the_known() {
    let e = fault(&format!("{HEAD}tempo = 3\nline = \"6:3\""));
    assert!(e.starts_with("t.toml, line 5, column 1: unknown key \"tempo\". Known keys: version, name"), "{e}");
}

#[test]
fn values_out_of_range_say_the_limit() {
    let line = "line = \"6:3\"";
    for (more, expect) in [
        ("repeats = 10000", "read repeats = 10000; allowed: a whole number from 1 to 1000"),
        ("repeats = 1.5", "read repeats = 1.5"),
        ("swing = 95", "from 20 to 80"),
        ("capo = -1", "from 0 to 12"),
        ("version = 2", "allowed: 1 only"),
        ("picking = \"sideways\"", "\"alternate\", \"economy\", \"down\", \"written\""),
        ("picking = 3", "\"alternate\""),
        ("a4_hz = nan", "from 380 to 500"),
        ("beat_unit = 3", "8 (eighth)"),
        ("pickup_steps = 1", "fewer steps than the line has"),
        ("repeats = 99999999999999999999999", "from 1 to 1000"),
    ] {
        let e = fault(&format!("{HEAD}{more}\n{line}"));
        assert!(e.contains(expect) && e.contains("line 5"), "{more}: {e}");
    }
    let e = fault("name = \"t\"\ntempo_bpm = -10\nsteps_per_beat = 4\ntuning = \"standard\"\nline = \"6:3\"");
    assert!(e.contains("line 2, column 13: read tempo_bpm = -10; allowed: a number from 20 to 400"), "{e}");
    let e =
        fault("name = \"t\"\ntempo_bpm = 90\nsteps_per_beat = 3\nswing = 60\ntuning = \"standard\"\nline = \"6:3\"");
    assert!(e.contains("line 4") && e.contains("only 50"), "{e}");
}

#[test]
fn missing_keys_no_notes_too_many() {
    assert!(fault("name = \"t\"").contains("the key \"steps_per_beat\" is missing"));
    assert!(fault(&format!("{HEAD}line = \"- -\"")).contains("no notes"));
    assert!(fault("name = ").contains("t.toml, line 1, column"));
    let long = "6:1 ".repeat(300);
    let e = fault(&format!("{HEAD}repeats = 1000\nline = \"{long}\""));
    assert!(e.contains("300000 notes") && e.contains("200000"), "{e}");
}

#[test]
fn written_picking_needs_strokes() {
    let e = fault(&format!("{HEAD}picking = \"written\"\nline = \"6:3d 6:5h 6:7\""));
    assert!(e.contains("column 19: read \"6:7\" without a stroke"), "{e}");
}

#[test]
fn pitches_beyond_midi_are_refused() {
    let e = fault("name='t'\ntempo_bpm=90\nsteps_per_beat=4\ntuning='E2 A2 D3 C9'\nline='1:0 1:12'");
    assert!(e.contains("line 5, column 11") && e.contains("MIDI key 127"), "{e}");
}

#[test]
fn files_come_from_disk_or_say_why() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("a.toml");
    std::fs::write(&path, format!("{HEAD}line = \"6:3\"")).unwrap();
    assert_eq!(Drill::read(&path).unwrap().name, "t");
    assert!(matches!(Drill::read(dir.path()), Err(DrillError::Unreadable { .. })));
    std::fs::write(&path, [0xffu8, 0xfe]).unwrap();
    assert!(matches!(Drill::read(&path), Err(DrillError::NotText { .. })));
    std::fs::write(&path, vec![b' '; 1_000_001]).unwrap();
    assert!(matches!(Drill::read(&path), Err(DrillError::TooLarge { .. })));
}

/// What importers and the maker start from is what a file without optional keys says.
#[test]
fn a_plain_drill_has_the_defaults_of_a_file() {
    let mut read = Drill::parse(&format!("{HEAD}line = \"6:3\""), "t.toml").unwrap();
    assert_eq!(read.line, [Step::Note(crate::LineNote::picked(vec![crate::Fingered { string: 6, fret: 3 }]))]);
    read.line.clear();
    assert_eq!(read, Drill::plain("t".to_owned(), Bpm(120.0), Tuning::standard()));
}
