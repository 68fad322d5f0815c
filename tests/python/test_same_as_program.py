"""The package gives what the program gives, byte for byte."""

import json
import pickle

import pytest
from conftest import AUDIO, TAKES, paths, program

import takegauge as tg


@pytest.mark.parametrize("name", TAKES)
def test_a_score_is_the_programs_to_the_byte(name):
    take, drill = paths(name)
    score = tg.score(take, drill)
    written = program("score", take, "--drill", drill, "--json", "-")
    assert score.to_json() == written
    assert score.to_dict() == json.loads(written)
    assert tg.Score.from_json(written).to_json() == written


@pytest.mark.parametrize("name", ["late_inside", "restarts", "driven_ticks_soft"])
def test_attacks_are_the_programs_to_the_byte(name):
    take, _ = paths(name)
    onsets = tg.onsets(str(take))
    assert onsets.to_json() == program("onsets", take, "--json", "-")
    assert onsets.times_s == [o["time_s"] for o in onsets.to_dict()["onsets"]] and len(onsets) > 50


OPTIONS = [
    ({"tempo": 170, "first_stroke": "up"}, ["--tempo", "170", "--first-stroke", "up"]),
    ({"after_slip": "drop", "seed": 7}, ["--after-slip", "drop", "--seed", "7"]),
    ({"click_start": 0.5, "delay_ms": 11.5}, ["--click-start", "0.5", "--delay", "11.5"]),
    ({"channel": 1}, ["--channel", "1"]),
]


@pytest.mark.parametrize("given, options", OPTIONS)
def test_arguments_are_the_programs_options(given, options):
    take, drill = paths("mixed_errors")
    score = tg.score(take, tg.Drill.read(drill), **given)
    assert score.to_json() == program("score", take, "--drill", drill, *options, "--json", "-")


def test_a_ladder_is_the_programs_to_the_byte():
    takes, drill = [AUDIO / "ladder_140.flac", AUDIO / "ladder_220.flac"], AUDIO / "ladder_140.toml"
    ladder = tg.ladder(takes, drill)
    assert ladder.to_json() == program("ladder", *takes, "--drill", drill, "--json", "-")
    assert tg.ladder([tg.score(t, drill) for t in takes]) == ladder
    assert len(ladder.by_tempo) == sum(len(g.by_tempo) for g in ladder.groups)


def test_words_and_files_are_the_programs(late, tmp_path):
    take, drill = paths("late_inside")
    assert str(late) == run_text("score", take, "--drill", drill, "-v")
    jams, html, csv = tmp_path / "t.jams", tmp_path / "t.html", tmp_path / "t"
    program("score", take, "--drill", drill, "--markers", jams, "--csv", csv)
    program("score", take, "--drill", drill, "--html", html)
    assert jams.read_text() == late.to_jams()
    assert html.read_text() == tg.score(take, drill, waveform=True).to_html()
    header = (tmp_path / "t-notes.csv").read_text().splitlines()[0]
    assert header.split(",") == late.notes.columns


def run_text(*args):
    import subprocess

    from conftest import PROGRAM

    import os

    env = {**os.environ, "COLUMNS": "100", "NO_COLOR": "1"}
    done = subprocess.run([PROGRAM, *map(str, args)], capture_output=True, env=env, check=True)
    return done.stdout.decode()


def test_reports_go_through_pickle(late):
    assert pickle.loads(pickle.dumps(late)) == late
    drill = tg.Drill.read("inside-pair")
    assert pickle.loads(pickle.dumps(drill)) == drill


def test_fields_are_attributes_and_a_person_can_read_them(late):
    note = late.notes[1]
    assert note.change is None or note.change.from_ in range(1, 10)
    assert note["index"] == note.index == 1 and "deviation_ms" in note
    assert "index=1" in repr(note) and late.take.path in repr(late) and "bpm" in repr(late)
    assert late.findings[0].group == "inside" and late.findings[0].value > 8
    with pytest.raises(AttributeError, match="there is no 'lateness' here; there is: index"):
        note.lateness
    with pytest.raises(AttributeError, match="only read"):
        note.index = 3


def test_a_notebook_shows_the_figures(late):
    card = late._repr_html_()
    assert card.count("<svg") == 2 and late.summary.headline[0].split("'")[0][:20] in card
    assert "<script" not in card and "http://www.w3.org/2000/svg" in card
    assert late.plot().startswith(b"<") and late.plot("changes", "png").startswith(b"\x89PNG")
    ladder = tg.ladder([AUDIO / "ladder_140.flac", AUDIO / "ladder_220.flac"], AUDIO / "ladder_140.toml")
    assert "<svg" in ladder._repr_html_()
