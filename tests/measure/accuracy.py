"""Writes reports/accuracy.md.

    python3 tests/measure/accuracy.py BENCH PROGRAM [-o reports/accuracy.md]

BENCH is a folder with evaluate.py, peers.json, peers.md, takes/ and guitarset/ (each take NAME.flac, NAME.toml,
NAME.json with its answers). PROGRAM is the built takegauge. Needs numpy and scipy. Every take is heard and scored
once; the tables are made from what the program wrote.
"""

import argparse
import concurrent.futures
import glob
import importlib.util
import json
import os
import subprocess
import sys
import tempfile

import numpy as np

import machine
import more
from tables import number, table

LIBRARIES = {
    "mm_rnn": "madmom 0.17 RNN (trained)", "mm_cnn": "madmom 0.17 CNN (trained)",
    "mm_rnn_online": "madmom 0.17 RNN online (trained)", "mm_superflux": "madmom 0.17 SuperFlux",
    "librosa_44k": "librosa 0.11, 44.1 kHz", "librosa_superflux": "librosa 0.11 SuperFlux",
    "aubio_hfc_512_256": "aubio 0.4.12 hfc 512/256", "aubio_specflux_512_256": "aubio 0.4.12 specflux 512/256",
    "basicpitch_min30": "basic-pitch 0.4.0 (trained), notes from 30 ms",
}


def evaluator(bench):
    spec = importlib.util.spec_from_file_location("evaluate", os.path.join(bench, "evaluate.py"))
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def run_all(program, folder, into, words):
    """Runs `program` on every take of `folder`; its JSON goes to into/NAME.json. Takes that failed come back."""
    def one(audio):
        base = audio[: -len(".flac")]
        command = [program] + [w.format(take=audio, drill=base + ".toml") for w in words]
        done = subprocess.run(command, capture_output=True, text=True, timeout=300)
        name = os.path.basename(base)
        if done.returncode:
            return f"{name}: exit {done.returncode}: {done.stderr.strip()[:200]}"
        with open(os.path.join(into, name + ".json"), "w") as f:
            f.write(done.stdout)
        return None
    os.makedirs(into)
    with concurrent.futures.ThreadPoolExecutor(os.cpu_count()) as pool:
        return [x for x in pool.map(one, sorted(glob.glob(os.path.join(folder, "*.flac")))) if x]


def read(folder):
    out = {}
    for path in sorted(glob.glob(os.path.join(folder, "*.json"))):
        with open(path) as f:
            out[os.path.basename(path)[: -len(".json")]] = json.load(f)
    return out


def blind_rows(evaluate, bench, heard):
    ours = {name: [o["time_s"] for o in report["onsets"]] for name, report in heard.items()}
    with open(os.path.join(bench, "peers.json")) as f:
        peers = json.load(f)
    rows = []
    for key, label, found in [("", "**takegauge onsets**", ours)] + [(k, LIBRARIES.get(k, k), v) for k, v in peers.items()]:
        takes, shift = evaluate.onsets(os.path.join(bench, "takes"), "", found)
        o = evaluate.fold(takes)
        rows.append((-o["F5c"] if key else -9, [label] + [number(o[k], 3) for k in ("F50", "F25c", "F10c", "F5c", "P25c", "R25c")]
                     + [number(o["sd_ms"], 2), number(o["p95_ms"], 2), number(o["take_shift_sd_ms"], 2), f"{shift * 1e3:+.1f}"]))
    return [r for _, r in sorted(rows, key=lambda r: r[0])]


def real_rows(evaluate, bench, heard):
    ours = {name: [o["time_s"] for o in report["onsets"]] for name, report in heard.items()}
    takes, _ = evaluate.onsets(os.path.join(bench, "guitarset"), "", ours)
    solo = evaluate.fold([r for r in takes if r["name"].endswith("solo")])
    comp = evaluate.fold([r for r in takes if r["name"].endswith("comp")])
    rows = [["**takegauge onsets**"] + [number(solo[k], 3) for k in ("F50", "F25c", "F10c", "P25c", "R25c")]
            + [number(comp[k], 3) for k in ("F50", "F25c")]]
    with open(os.path.join(bench, "peers.md")) as f:
        part = f.read().split("## guitarset/", 1)[1].split("\n## ", 1)[0]
    lines = [line for line in part.splitlines() if line.startswith("| ") and not line.startswith("| library")]
    rows += [[cell.strip() for cell in line.strip("| ").split("|")] for line in lines]
    return rows, (sum(len(r["t"]) for r in takes if r["name"].endswith("solo")), sum(len(r["t"]) for r in takes if r["name"].endswith("comp")))


def main():
    args = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    args.add_argument("bench")
    args.add_argument("program")
    args.add_argument("-o", "--out", default="reports/accuracy.md")
    args = args.parse_args()
    evaluate = evaluator(args.bench)
    takes, real = os.path.join(args.bench, "takes"), os.path.join(args.bench, "guitarset")
    with tempfile.TemporaryDirectory() as work:
        at = lambda name: os.path.join(work, name)
        failed = run_all(args.program, takes, at("onsets"), ["onsets", "{take}", "--json", "-"])
        failed += run_all(args.program, real, at("real"), ["onsets", "{take}", "--json", "-"])
        failed += run_all(args.program, takes, at("score"), ["score", "{take}", "--drill", "{drill}", "--json", "-"])
        for line in failed:
            print(line, file=sys.stderr)
        heard, heard_real, scored, answers = read(at("onsets")), read(at("real")), read(at("score")), read(takes)
        stdout, sys.stdout = sys.stdout, open(os.devnull, "w")  # the evaluator prints its own tables
        try:
            score = f"cat '{at('score')}'/$(basename {{take}} .flac).json"
            summary = evaluate.show_score(evaluate.score(takes, score), False)
        finally:
            sys.stdout = stdout
    real_table, (solos, comps) = real_rows(evaluate, args.bench, heard_real)
    notes = more.Notes(answers, scored)
    attacks = sum(len(a["onsets_s"]) for a in answers.values())
    lines = ["# How true the figures are", "",
             "Made by `python3 tests/measure/accuracy.py BENCH PROGRAM`; do not edit.", ""]
    lines += machine.about(args.program) + [f"- Python libraries: numpy {np.__version__}, scipy {more.SCIPY}", ""]
    lines += ["The bench: 100 takes made from recorded notes of two electric guitars, with answers exact to a sample "
              f"({attacks} attacks): clean to 240 bpm, ringing, driven, noise, hum, room, telephone, click bleed, pick "
              "touches before the release, soft strokes, 44.1 to 96 kHz, stereo. And five recordings of GuitarSet (Xi et "
              f"al. 2018; one microphone; {solos} attacks in solos, {comps} in strummed comps). It is not part of this "
              "project, but the constants of detecting and matching were looked at on it, and single notes of its guitars are among those that the ear was fitted on: reports/guitars.md has guitars left out. The attack is where the note's leading edge, alone, "
              "first reaches -20 dB of its peak.", ""]
    if failed:
        lines += [f"**{len(failed)} run(s) failed**: " + "; ".join(failed), ""]
    lines += ["## Attacks without a drill", "",
              "F within 50, 25, 10 and 5 ms. c: after the method's own median error over all takes (last column) is taken "
              "off. sd, p95: errors of the pairs within 50 ms, each take's median removed. Shift: SD of the takes' median "
              "errors. The others are general-purpose open-source libraries at their published settings, on the same takes.", ""]
    lines += table(["", "F50", "F25c", "F10c", "F5c", "P25c", "R25c", "sd ms", "p95 ms", "shift ms", "median ms"],
                   blind_rows(evaluate, args.bench, heard))
    lines += ["", "GuitarSet; its annotations lie about 10 ms after what is heard, so the c columns count:", ""]
    lines += table(["", "solo F50", "solo F25c", "solo F10c", "solo P25c", "solo R25c", "comp F50", "comp F25c"], real_table)
    lines += more.report(summary, notes)
    with open(args.out, "w") as f:
        f.write("\n".join(lines).rstrip() + "\n")
    print(f"written: {args.out}")


if __name__ == "__main__":
    main()
