"""Errors are exceptions with the words of the program."""

import numpy as np
import pytest
from conftest import AUDIO, ROOT, paths, run

import takegauge as tg

CORPUS = ROOT / "tests" / "corpus" / "audio"


def told(*args):
    """The first line of what the program tells, and its exit code."""
    done = run(*args)
    return done.stderr.decode().splitlines()[0].removeprefix("takegauge: "), done.returncode


@pytest.mark.parametrize("file", sorted(CORPUS.iterdir()), ids=lambda f: f.name)
def test_a_broken_file_is_told_as_the_program_tells_it(file):
    _, drill = paths("late_inside")
    if (done := run("-q", "score", file, "--drill", drill)).returncode == 0:
        pytest.skip("the program can score it")
    kind = tg.NotScoredError if done.returncode == 1 else tg.InputError
    with pytest.raises(kind) as raised:
        tg.score(file, drill)
    lines = [line.removeprefix("takegauge: ") for line in done.stderr.decode().splitlines()]
    assert str(raised.value) in lines


@pytest.mark.parametrize("take", ["no-such.wav", "test-audio", "README.md"])
def test_what_is_no_recording_is_told_as_the_program_tells_it(take):
    path = ROOT / take
    with pytest.raises(tg.InputError) as raised:
        tg.onsets(path)
    assert (str(raised.value), 2) == told("onsets", path)


def test_a_take_of_something_else_is_not_scored(tmp_path):
    import soundfile

    quiet = tmp_path / "quiet.wav"
    soundfile.write(quiet, np.zeros(44_100), 44_100)
    with pytest.raises(tg.NotScoredError) as raised:
        tg.score(quiet, "inside-pair")
    assert (str(raised.value), 1) == told("-q", "score", quiet, "--drill", "inside-pair")


WRONG = [
    ({"tempo": 1000}, "tempo=1000: a tempo is 20 to 400 quarter notes a minute"),
    ({"tempo": float("nan")}, "tempo=NaN: a tempo is 20 to 400"),
    ({"click_start": -1}, "click_start=-1: give the time of the first beat"),
    ({"click_start": 1e9}, "before the click starts"),
    ({"click_start": 1, "click_channel": 2}, "give one of click_start, click_channel and click_file"),
    ({"click_file": "none.wav"}, "none.wav: no such file"),
    ({"channel": "middle"}, "channel: 'middle' is no channel"),
    ({"channel": 3}, "channel 3 was asked for, but the file has 1"),
    ({"first_stroke": "left"}, 'first_stroke="left": give "down" or "up"'),
    ({"after_slip": "ignore"}, 'after_slip="ignore": give "keep" or "drop"'),
    ({"delay_ms": 3000}, "delay_ms=3000: a delay is at most 2000 ms"),
]


@pytest.mark.parametrize("given, why", WRONG)
def test_an_argument_that_is_not_allowed_is_named(given, why):
    with pytest.raises(tg.InputError, match=why.replace("?", ".")):
        tg.score(*paths("late_inside"), **given)


def test_every_error_is_one_family():
    for kind in (tg.InputError, tg.NotScoredError, tg.DrillError, tg.JournalError):
        assert issubclass(kind, tg.Error)
    assert issubclass(tg.DrillError, tg.InputError) and issubclass(tg.InputError, ValueError)
    with pytest.raises(tg.InputError, match="this is no score"):
        tg.Score.from_json('{"schema": "something"}')
    with pytest.raises(tg.NotScoredError):
        tg.ladder([])
    with pytest.raises(tg.InputError, match="which drill was played"):
        tg.ladder([AUDIO / "ladder_140.flac"])
