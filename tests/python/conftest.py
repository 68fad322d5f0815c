"""What the tests of the Python package share. TAKEGAUGE names the program that the package is held against."""

import os
import subprocess
from pathlib import Path

import pytest
import soundfile

ROOT = Path(__file__).resolve().parents[2]
AUDIO = ROOT / "test-audio"
TAKES = sorted(f.stem for f in AUDIO.glob("*.flac"))
PROGRAM = os.environ["TAKEGAUGE"]


def run(*args):
    """What the program does with these arguments."""
    return subprocess.run([PROGRAM, *map(str, args)], capture_output=True, check=False)


def program(*args):
    """What the program writes to standard output, as text."""
    done = run("-q", *args)
    assert done.returncode == 0, done.stderr.decode()
    return done.stdout.decode()


def paths(name):
    """A take of test-audio and its drill."""
    return AUDIO / f"{name}.flac", AUDIO / f"{name}.toml"


@pytest.fixture(scope="session")
def samples():
    """A take of test-audio as samples of 16 bits, one number a frame, and its rate."""
    return lambda name: soundfile.read(AUDIO / f"{name}.flac", dtype="int16")


@pytest.fixture(scope="session")
def late():
    """A take whose inside changes are late, scored."""
    import takegauge

    take, drill = paths("late_inside")
    return takegauge.score(take, drill)
