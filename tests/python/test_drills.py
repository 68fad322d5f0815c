"""Drills are read, made, brought in and taken out as the program does it."""

import pytest
from conftest import AUDIO, paths, program, run

import takegauge as tg


def test_a_drill_says_what_the_program_says():
    _, drill = paths("mixed_errors")
    read = tg.Drill.read(drill)
    assert read.to_json() == program("drill", "show", drill, "--json")
    assert read.to_toml() == program("drill", "show", drill, "--toml")
    shown = program("drill", "show", drill)
    assert str(read) and shown.startswith(str(read))
    assert tg.Drill(drill.read_text()) == read and read.notes[0].expected_s == 0
    assert repr(read) == f"Drill({read.name!r}: {len(read.notes)} notes at {read.tempo_bpm:g} bpm)"


def test_built_in_drills_are_there_by_name():
    listed = program("drill", "list")
    for name, what in tg.Drill.built_in().items():
        assert name in listed and what
    assert tg.Drill.read("inside-pair").name == tg.Drill.read("Inside pair").name == "Inside pair"


MADE = [
    ({}, []),
    ({"position": 3, "notes": [3, 2], "strings": (5, 2), "direction": "ascending"}, ["--position", "3", "--notes", "3,2", "--strings", "5-2", "--direction", "ascending"]),
    ({"only": "inside", "tempo": 140, "repeats": 4}, ["--only", "inside", "--tempo", "140", "--repeats", "4"]),
    ({"change": (3, 2), "tuning": "drop d"}, ["--change", "3-2", "--tuning", "drop d"]),
    ({"roll": 3, "steps_per_beat": 3, "picking": "economy"}, ["--roll", "3", "--steps-per-beat", "3", "--picking", "economy"]),
    ({"leaves_on": "down", "sequence": None}, ["--leaves-on", "down"]),
]


@pytest.mark.parametrize("given, options", MADE)
def test_a_made_drill_is_the_programs(given, options):
    made = tg.Drill.make("A minor pentatonic", **given)
    done = run("drill", "make", "A minor pentatonic", *options)
    assert made.to_toml() == done.stdout.decode()
    assert [f"takegauge: {r}" for r in made.remarks] == done.stderr.decode().splitlines()


@pytest.mark.parametrize("ending, bring_in", [("musicxml", "from_musicxml"), ("mid", "from_midi"), ("txt", "from_tab")])
def test_drills_go_out_and_come_back(ending, bring_in, tmp_path):
    out = tmp_path / f"drill.{ending}"
    program("drill", "export", "inside-pair", "--out", out)
    drill = tg.Drill.read("inside-pair")
    assert drill.take_out(ending) == out.read_bytes()
    back = getattr(tg.Drill, bring_in)(out)
    assert back.to_toml() == program("drill", "import", out)
    assert [n.midi for n in back.notes][:8] == [n.midi for n in drill.notes][:8]
    assert [n.midi for n in getattr(tg.Drill, bring_in)(out.read_bytes()).notes] == [n.midi for n in back.notes]


def test_a_drill_comes_from_jams(late, tmp_path):
    path = tmp_path / "take.jams"
    path.write_text(late.to_jams())
    drill = tg.Drill.from_jams(path, tempo=170, even=4)
    assert drill.to_toml() == program("drill", "import", path, "--tempo", "170", "--even", "4")


WRONG = [
    (lambda: tg.Drill.read("insid-pair"), "no built-in drill of that name"),
    (lambda: tg.Drill('tempo_bpm = "fast"', "mine.toml"), "mine.toml"),
    (lambda: tg.Drill.make("A squiggly"), "is no scale or chord that is known"),
    (lambda: tg.Drill.make("A minor", only="sideways"), 'only="sideways": give "outside" or "inside"'),
    (lambda: tg.Drill.make("A minor", only="inside", leaves_on="up"), "give one of only, leaves_on and change"),
    (lambda: tg.Drill.make("A minor", tempo=5000), "tempo"),
    (lambda: tg.Drill.make("A minor", position=300), "position: the number is too large"),
    (lambda: tg.Drill.from_midi(b"MThd"), "drill.mid"),
    (lambda: tg.Drill.from_musicxml(AUDIO / "none.musicxml"), "none.musicxml: no such file; check the name"),
]


@pytest.mark.parametrize("ask, why", WRONG)
def test_what_is_wrong_with_a_drill_is_said(ask, why):
    with pytest.raises(tg.InputError, match=why):
        ask()
