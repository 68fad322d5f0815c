"""Writes reports/speed.md: processor time and memory of takegauge beside aubioonset, in one run on one machine.

    python3 tests/measure/speed.py PROGRAM [-o reports/speed.md] [--hours 2]

PROGRAM is the built takegauge. Needs aubioonset (Debian: aubio-tools), numpy and soundfile. The sound is made by
putting the committed takes of test-audio/ end to end. Processor time (user and system) and peak resident memory are
the kernel's own count for the whole process (wait4); each command runs on one processor.
"""

import argparse
import json
import os
import pathlib
import statistics
import subprocess
import tempfile

import numpy as np
import soundfile

import machine
from tables import table

TAKES = pathlib.Path(__file__).parents[2] / "test-audio"
RUNS, LIMIT_S = 5, 900


def tiled(path, take, seconds):
    """The take again and again as 16-bit mono WAV; returns its length."""
    x, rate = soundfile.read(TAKES / f"{take}.flac", dtype="int16")
    times = int(np.ceil(seconds * rate / len(x)))
    with soundfile.SoundFile(path, "w", rate, 1, "PCM_16") as f:
        for _ in range(times):
            f.write(x)
    return times * len(x) / rate


def cost(command, report=None):
    """(processor s, peak MB) of one run on one processor."""
    out = open(report, "wb") if report else subprocess.DEVNULL
    one = {min(os.sched_getaffinity(0))}
    child = subprocess.Popen(command, stdout=out, stderr=subprocess.PIPE, preexec_fn=lambda: os.sched_setaffinity(0, one))
    _, status, used = os.wait4(child.pid, 0)
    if report:
        out.close()
    if status:
        raise SystemExit(f"{command}: status {status}: {child.stderr.read().decode()[:400]}")
    return used.ru_utime + used.ru_stime, used.ru_maxrss / 1024


def median(runs):
    return statistics.median(r[0] for r in runs), max(r[1] for r in runs)


def ten_minutes(program, folder):
    wav = os.path.join(folder, "ten.wav")
    tiled(wav, "late_inside", 600)
    ours, theirs = [], []
    for _ in range(RUNS):  # in turn, so that whatever else the machine does falls on both
        ours.append(cost([program, "onsets", wav, "--json", "-"]))
        theirs.append(cost(["aubioonset", wav]))
    (a, a_mb), (b, b_mb) = median(ours), median(theirs)
    rows = [["takegauge onsets", f"{a:.2f}", f"{min(ours)[0]:.2f} to {max(ours)[0]:.2f}", f"{a_mb:.0f}"],
            ["aubioonset", f"{b:.2f}", f"{min(theirs)[0]:.2f} to {max(theirs)[0]:.2f}", f"{b_mb:.0f}"]]
    return rows, a / b


def long_takes(program, folder, hours):
    wav, report = os.path.join(folder, "long.wav"), os.path.join(folder, "long.json")
    length = tiled(wav, "acoustic_room", 3600 * hours)
    rows = []
    for words in (["onsets", wav], ["score", wav, "--drill", str(TAKES / "acoustic_room.toml")]):
        seconds, mb = cost([program, *words, "--json", "-"], report)
        with open(report) as f:
            notes = json.load(f).get("onsets" if words[0] == "onsets" else "notes")
        rows.append([f"takegauge {words[0]}", f"{length / 3600:.2f}", len(notes), f"{seconds:.1f}", f"{mb:.0f}"])
    return rows


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("program")
    args.add_argument("-o", "--out", default="reports/speed.md")
    args.add_argument("--hours", type=float, default=2.0)
    args = args.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        rows, ratio = ten_minutes(args.program, folder)
        long_rows = long_takes(args.program, folder, args.hours)
    aubio = machine.line(["dpkg-query", "-W", "-f", "${Version}", "aubio-tools"])
    lines = ["# How fast it is", "", "Made by `python3 tests/measure/speed.py PROGRAM`; do not edit.", ""]
    lines += machine.about(args.program) + [
        f"- aubioonset: Debian aubio-tools {aubio}, its own settings", f"- Load when done: {os.getloadavg()[0]:.1f}", "",
        "Processor time is user and system time of the whole process on one processor, reading the file and writing the "
        "result included. The sound is the committed takes put end to end.", "",
        "## Ten minutes, 44.1 kHz, 16 bits, mono", "", f"Median of {RUNS} runs, the two programs in turn.", ""]
    lines += table(["", "processor s", "least and most", "peak MB"], rows)
    lines += ["", f"takegauge takes {ratio:.2f} of aubioonset's time.", "", "## Long takes, 48 kHz, 16 bits, mono", ""]
    lines += table(["", "hours", "attacks or notes told", "processor s", "peak MB"], long_rows)
    lines += ["", "## Not covered", "",
              "- Other processors and operating systems. Wall-clock time: it depends on what else the machine does.",
              "- Compressed formats: their decoding comes on top.",
              "- The single rooms are timed by `cargo bench -p takegauge-listen` and `cargo bench -p takegauge-align`."]
    with open(args.out, "w") as f:
        f.write("\n".join(lines) + "\n")
    print(f"written: {args.out}")


if __name__ == "__main__":
    main()
