"""Writes reports/speed.md: processor time and memory of takegauge beside aubioonset, then the journal and the pages.

    python3 tests/measure/speed.py PROGRAM [-o reports/speed.md] [--hours 2]

PROGRAM is the built takegauge. Needs aubioonset (Debian: aubio-tools), numpy and soundfile. The sound is made by
putting the committed takes of test-audio/ end to end. Processor time (user and system) and peak resident memory are
the kernel's own count for the whole process (wait4); each command runs on one processor. The journal and the pages
are timed on the wall clock by the examples `journal_speed` and `page_speed`, which cargo builds, and by the program
itself on the journal that the first of them makes.
"""

import argparse
import json
import os
import pathlib
import re
import shutil
import statistics
import subprocess
import tempfile
import time

import numpy as np
import soundfile

import machine
from tables import table

REPOSITORY = pathlib.Path(__file__).resolve().parents[2]
TAKES = REPOSITORY / "test-audio"
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


def example(package, name, *arguments):
    """The rows that a crate's example prints."""
    which = ["--release", "--quiet", "-p", package, "--example", name]
    subprocess.run(["cargo", "build", *which], cwd=REPOSITORY, check=True)
    command = ["cargo", "run", *which, "--", *arguments]
    done = subprocess.run(command, cwd=REPOSITORY, capture_output=True, text=True, timeout=LIMIT_S)
    if done.returncode:
        raise SystemExit(f"{name}: {done.stderr[:800]}")
    return done.stdout.splitlines()


def wall(command):
    """Wall-clock ms of one run."""
    begun = time.perf_counter()
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)
    return 1e3 * (time.perf_counter() - begun)


def journal(program, folder):
    """Rows of the library's figures, then of the program's own on the same journal."""
    path = os.path.join(folder, "journal.db")
    rows = example("takegauge-journal", "journal_speed", path)
    of = [program, "journal", "--journal-file", path]
    for words in (["list"], ["list", "--json", "-"], ["trend"], ["plan"], ["compare", "4990", "4999"]):
        times = sorted(wall(of + words) for _ in range(9))
        rows.append(f"| `takegauge journal {' '.join(words)}`, the whole program | {times[4]:.0f} ms, slowest {times[8]:.0f} ms |")
    lines = subprocess.run(of + ["export"], check=True, capture_output=True, text=True).stdout.splitlines(True)
    with open(os.path.join(folder, "500.jsonl"), "w") as f:
        f.writelines(lines[:500])
    new = [program, "journal", "--journal-file", os.path.join(folder, "new.db"), "import", f.name]
    rows.append(f"| `takegauge journal import` of 500 takes, a take | {wall(new) / 500:.2f} ms |")
    return rows


def panning(program):
    """Rows of the browser tests' own measurement; none where they cannot run."""
    tests = REPOSITORY / "tests" / "browser"
    if shutil.which("node") is None or not (tests / "node_modules").is_dir():
        return []
    # The first of the two makes the report that the second lengthens; no other test is run, so no picture is taken.
    command = ["node", "--test", "--test-name-pattern", "without sound|24,000 notes", "report.test.mjs"]
    done = subprocess.run(command, cwd=tests, capture_output=True, text=True, timeout=LIMIT_S,
                          env={**os.environ, "TAKEGAUGE": os.path.abspath(program)})
    found = re.findall(r"closer (\d+): median frame ([\d.]+) ms", done.stdout)
    return [f"| panning a report of 24,000 notes in Chromium without GPU, {n} steps closer, 100 frames | {ms} ms a frame |"
            for n, ms in found]


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("program")
    args.add_argument("-o", "--out", default="reports/speed.md")
    args.add_argument("--hours", type=float, default=2.0)
    args.add_argument("--page-seconds", type=int, default=60)
    args = args.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        rows, ratio = ten_minutes(args.program, folder)
        long_rows = long_takes(args.program, folder, args.hours)
        journal_rows = journal(args.program, folder)
    page_rows = example("takegauge-page", "page_speed", str(args.page_seconds)) + panning(args.program)
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
    head = ["| what | measured |", "|---|---|"]
    lines += ["", "## The journal", "",
              "5,000 takes of 100 notes by one player of one drill on 1,251 days. Wall clock, warm cache; median of 9 unless "
              "said otherwise. Every added take is committed and synced (synchronous=FULL) before the next.", "",
              *head, *journal_rows, "", "## The pages", "",
              "A journal of 5,000 small takes and one of 1,000 notes. Wall clock, median; client and server are one process, "
              "so memory holds both.", "", *head, *page_rows]
    if not any("panning" in row for row in page_rows):
        lines += ["", "Panning in a browser was not measured: it needs what `tests/run browser` sets up."]
    lines += ["", "## Not covered", "",
              "- Other processors and operating systems. Wall-clock times depend on what else the machine does.",
              "- Compressed formats: their decoding comes on top.",
              "- The single rooms are timed by `cargo bench -p takegauge-listen` and `cargo bench -p takegauge-align`."]
    with open(args.out, "w") as f:
        f.write("\n".join(lines) + "\n")
    print(f"written: {args.out}")


if __name__ == "__main__":
    main()
