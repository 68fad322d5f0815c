"""Arrays are heard as the same sound in a file is, whatever their type, shape and stride; or it is said why not."""

import array

import numpy as np
import pytest
import soundfile
from conftest import paths, program

import takegauge as tg


@pytest.fixture(scope="module")
def take(samples):
    return samples("late_inside")


@pytest.fixture(scope="module")
def from_file():
    take, drill = paths("late_inside")
    return program("score", take, "--drill", drill, "--json", "-")


def scored(x, rate):
    take, drill = paths("late_inside")
    return tg.score(x, drill, rate, name=str(take)).to_json()


SAME = {
    "int16": lambda x: x,
    "int32": lambda x: x.astype(np.int32) << 16,
    "float32": lambda x: (x / 32768).astype(np.float32),
    "float64": lambda x: x / 32768,
    "float128": lambda x: (x / 32768).astype(np.longdouble),
    "big-endian int16": lambda x: x.astype(">i2"),
    "big-endian float64": lambda x: (x / 32768).astype(">f8"),
    "uint16": lambda x: (x.astype(np.int32) + 32768).astype(np.uint16),
    "frames x 1": lambda x: x[:, None],
    "every other number": lambda x: np.repeat(x, 2)[::2],
    "backwards twice": lambda x: x[::-1].copy()[::-1],
    "read-only": lambda x: np.frombuffer(x.tobytes(), dtype=np.int16),
    "array.array": lambda x: array.array("h", x.tobytes()),
    "memoryview": lambda x: memoryview(x),
}


@pytest.mark.parametrize("kind", SAME)
def test_the_same_sound_gives_the_same_report(take, from_file, kind):
    x, rate = take
    assert scored(SAME[kind](x), rate) == from_file


def test_a_list_of_numbers_is_heard(take):
    x, rate = take
    part = x[: 3 * rate] / 32768
    assert tg.onsets(part.tolist(), rate).to_json() == tg.onsets(part, rate).to_json()


@pytest.mark.parametrize("order", ["C", "F"])
def test_frames_x_channels_are_a_file_of_channels(take, tmp_path, order):
    x, rate = take
    stereo = np.asarray(np.stack([np.zeros_like(x), x], axis=1), order=order)
    path = tmp_path / "stereo.wav"
    soundfile.write(path, stereo, rate, subtype="PCM_16")
    heard = tg.onsets(stereo, rate, name=str(path))
    assert heard.to_json() == program("onsets", path, "--json", "-")
    assert "channel 2 (right)" in heard.take.channel_used


def test_eight_bits_are_heard_where_they_are(take):
    x, rate = take
    few = (x[: 5 * rate] // 256).astype(np.int8)
    unsigned = (few.astype(np.int16) + 128).astype(np.uint8)
    assert tg.onsets(few, rate).to_dict() == tg.onsets(unsigned, rate).to_dict()


def test_float16_is_heard_to_its_own_precision(take):
    x, rate = take
    exact, coarse = tg.onsets(x, rate).times_s, tg.onsets((x / 32768).astype(np.float16), rate).times_s
    assert len(exact) == len(coarse) and np.allclose(exact, coarse, atol=2e-3)


WRONG = [
    (np.zeros((2, 44_100)), 44_100, "frames x channels, which is array.T"),
    (np.zeros((10, 2, 2)), 44_100, "3 dimensions"),
    (np.zeros(()), 44_100, "no array|0 dimensions"),
    (np.zeros(0), 44_100, "it is empty"),
    (np.zeros((100, 0)), 44_100, "no channels"),
    (np.zeros(100, np.int64), 44_100, "give int16 or int32, or floating point"),
    (np.zeros(100, bool), 44_100, "no sound"),
    (np.zeros(100, complex), 44_100, "no sound"),
    (np.array(["a"]), 44_100, "no sound"),
    (np.zeros(100), None, "needs its rate"),
    (np.zeros(100), 44_100.5, "whole number"),
    (np.zeros(100), "fast", "whole number"),
    (np.zeros(100), 100, "8000 to 192000"),
    (np.zeros(100), -1, "8000 to 192000"),
    (b"RIFF", 44_100, "write them to a file"),
    (object(), 44_100, "no array|no sound"),
    ("take.wav", 44_100, "states its own rate"),
]


@pytest.mark.parametrize("x, rate, why", WRONG)
def test_what_is_no_sound_is_refused_in_words(x, rate, why):
    with pytest.raises(tg.InputError, match=why):
        tg.onsets(x, rate)


def test_damage_in_an_array_is_told(take):
    x, rate = take
    damaged = x / 32768
    damaged[1000:1010] = np.nan
    assert "10 sample(s) are no number" in tg.onsets(damaged, rate).warnings[0]
