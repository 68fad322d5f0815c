"""Findings in takes in which nothing is wrong, guitar by guitar:

    python3 tests/measure/clean_takes.py BENCH NOTES PROGRAM [--seeds 10] [--called FOLDER=GUITAR ...] [-o reports/clean.md]

BENCH holds make_takes.py and notes/ (folders of single notes), NOTES more such folders, as guitars.py writes them. Of each
guitar and seed three takes are made, in which a player without any fault (scatter alone) plays three notes a string
at 90, 200 and 240 bpm, each stroke with a brightness, place of the pick and touch of its own; PROGRAM scores them. A
finding in one of them is a false one, or the chance that a take's scatter looks like a fault. Rules and constants were
chosen with the first three seeds of all guitars but those of the string model in sight; what is not seen is every other take.
Needs numpy, scipy, soundfile, soxr.
"""

import collections
import contextlib
import json
import subprocess

import machine
from guitar_takes import SHOWN, maker_of, of_all, options
from pairing import wilson
from tables import table

# Takes that rules were chosen on: these seeds, of guitars that are not the string model's.
SEEDS_IN_SIGHT, NOT_SEEN = 3, "string"
FINDING, MAYBE = "findings", "may_be_instrument"


def made_and_scored(words, guitar, notes, out):
    """Rows (guitar, seed, take, what was told, what was held back)."""
    maker = maker_of(words.bench)
    library = maker.Notes(str(notes), True)
    rows = []
    for name, how in maker.plan(guitar):
        for seed in range(words.seeds) if name.startswith("clean_") else ():
            folder = out / str(seed)
            folder.mkdir(parents=True, exist_ok=True)
            take = folder / f"{guitar}_{name}"
            with contextlib.suppress(FileExistsError):
                if not take.with_suffix(".flac").exists():
                    maker.make(take.name, str(folder), library, seed=seed, **how)
            command = [words.program, "score", f"{take}.flac", "--drill", f"{take}.toml", "--json", "-"]
            done = subprocess.run(command, capture_output=True, text=True, check=False)
            if done.returncode:
                raise SystemExit(f"{take}: {done.stderr}")
            report = json.loads(done.stdout)
            rows.append((guitar, seed, name, report[FINDING], report.get(MAYBE, [])))
    return rows


def counted(rows):
    hits = sum(1 for r in rows if r[3])
    low, high = wilson(hits, len(rows))
    return [len(rows), hits, f"{100 * hits / len(rows):.1f} ({100 * low:.1f} to {100 * high:.1f})", sum(1 for r in rows if r[4])]


def in_sight(row):
    return row[1] < SEEDS_IN_SIGHT and not row[0].startswith(NOT_SEEN)


def by_guitar(rows):
    lines = []
    for kind, seen in (("in sight", True), ("not seen", False)):
        of = collections.defaultdict(list)
        for row in rows:
            if in_sight(row) == seen:
                of[row[0]].append(row)
        lines += [[SHOWN.get(g, g), kind, *counted(r)] for g, r in sorted(of.items())]
        if of:
            lines.append([f"all {kind}", kind, *counted([x for r in of.values() for x in r])])
    lines.append(["all", "", *counted(rows)])
    return table(["guitar", "when rules were chosen", "takes", "with a finding", "in 100 (95 %)", "held back as the instrument's"], lines)


def told(rows, place):
    lines = [[SHOWN.get(r[0], r[0]), r[1], r[2], f["text"].split(". ")[0].rstrip(".") + "."] for r in rows for f in r[place]]
    return table(["guitar", "seed", "take", "told"], lines) if lines else ["None."]


def main():
    words = options(__doc__, 10).parse_args()
    rows = of_all(words, made_and_scored, words.only)
    lines = ["# Findings in takes without a fault", "",
             "Made by `python3 tests/measure/clean_takes.py BENCH NOTES PROGRAM`; do not edit.", "",
             *machine.about(words.program), "",
             *(" ".join(part.split()) for part in __doc__.split("\n\n")[2:]), "",
             f"{words.seeds} seeds. In 100: Wilson's interval.", "", *by_guitar(rows), "",
             "## What was told", "", *told(rows, 3), "", "## What was held back as the instrument's", "", *told(rows, 4), ""]
    print("\n".join(lines))
    if words.out:
        words.out.write_text("\n".join(lines))


if __name__ == "__main__":
    main()
