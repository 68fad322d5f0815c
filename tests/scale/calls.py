"""Ten thousand calls: memory stays within 5 % of what it was.

Usage: calls.py [CALLS]

Of every ten calls six score or hear a take (two seconds of one; rows as tables, taken by pyarrow), two make a drill and
read it, two are refused. A tenth of the calls comes before the first look, so that what is made once is there.
"""

import ctypes
import gc
import os
import sys
from pathlib import Path

import pyarrow
import soundfile

import takegauge as tg

AUDIO = Path(__file__).resolve().parents[2] / "test-audio"
CALLS = int(sys.argv[1]) if len(sys.argv) > 1 else 10_000
MOST = 1.05


def resident():
    """Bytes of this process in memory, freed memory given back first."""
    gc.collect()
    ctypes.CDLL(None).malloc_trim(0)
    return int(Path("/proc/self/statm").read_text().split()[1]) * os.sysconf("SC_PAGE_SIZE")


def main():
    samples, rate = soundfile.read(AUDIO / "late_inside.flac", dtype="int16")
    short, drill = samples[: 2 * rate], tg.Drill.read(AUDIO / "late_inside.toml")

    def refused(call):
        try:
            call()
        except tg.Error:
            return
        raise AssertionError("this is refused")

    def some():
        for _ in range(2):
            pyarrow.table(tg.rows(short, drill, rate, path="a").notes)
            tg.score(short, drill, rate).to_json()
            pyarrow.table(tg.onsets(short, rate).onsets)
        assert tg.Drill.make("A minor").notes and drill.to_dict()
        refused(lambda: tg.onsets("no-such.wav"))
        refused(lambda: tg.Drill.read("no-such-drill"))

    for _ in range(CALLS // 100):
        some()
    looks = [resident()]
    for _ in range(4):
        for _ in range(CALLS // 40):
            some()
        looks.append(resident())
    print(f"   {CALLS} calls: {', '.join(f'{look / 2**20:.1f}' for look in looks)} MB at the start and after each fourth")
    assert max(looks[1:]) <= MOST * looks[0], looks


if __name__ == "__main__":
    main()
