"""Ten thousand calls: memory stays within 5 % of what it was.

Usage: calls.py [CALLS]

Of every ten calls two score a take (three seconds of one, once over the drill; its rows are taken by pyarrow), four hear
it, two make and read a drill, two are refused. A tenth of the calls comes before the first look, so that what is made
once is there.
"""

import ctypes
import gc
import os
import re
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
    text = (AUDIO / "late_inside.toml").read_text()
    short, drill = samples[: 3 * rate], tg.Drill(re.sub(r"repeats = \d+", "repeats = 1", text))

    def refused(call):
        try:
            call()
        except tg.Error:
            return
        raise AssertionError("this is refused")

    def some():
        assert pyarrow.table(tg.rows(short, drill, rate, path="a").notes).num_rows > 20
        assert tg.score(short, drill, rate).to_json()
        for _ in range(4):
            assert pyarrow.table(tg.onsets(short, rate).onsets).num_rows > 20
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
