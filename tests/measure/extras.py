"""Extra notes told: are they there, and which are found? Guitar by guitar and condition by condition:

    python3 tests/measure/extras.py BENCH NOTES PROGRAM [--seeds 4] [--called FOLDER=GUITAR ...] [-o reports/extras.md]
    python3 tests/measure/extras.py BENCH NOTES PROGRAM --fit STROKES      the weights of crates/measure/src/tuning/extra.rs again

BENCH holds make_takes.py, drills/ and notes/ (folders of single notes), NOTES more such folders, as guitars.py writes
them. Of each guitar, condition and seed a take is played in which one note in twenty-four has a note too many beside it:
between two notes on a neighbouring string, a neighbouring string brushed 5 to 60 ms from a note, 6 to 17 dB under it, or
the string struck twice, 5 to 60 ms apart. Each stroke has a brightness, place of the pick and touch of its own. PROGRAM
scores the takes. The weights of the rule were found on the takes of the guitars named as in sight, from what the example
STROKES of crates/take prints of them: logistic regression, strokes against places where nothing was struck.

A told extra is right if an extra that was played is within 25 ms; it is a note if the drill's own note was taken for
it (the extra for the note): nothing was told there that nobody played; it is false if neither. Precision: of those told,
those that are right or a note. Found: of those played, those within 25 ms of which something was told that no other
attack accounts for. Needs numpy, scipy, soundfile, soxr.
"""

import collections
import json
import subprocess
import zlib

import numpy as np
import soundfile
from scipy.optimize import minimize

import machine
from guitar_takes import SHOWN, maker_of, of_all, options
from pairing import pair, wilson
from tables import table

RATE = 44100
# Where the rule was chosen: these guitars' takes of all seeds. What is not seen is every other guitar.
IN_SIGHT = ("emily", "archtop", "fluid-clean", "fluid-jazz", "fluid-muted", "fluid-nylon", "fluid-steel", "string5-000", "string5-001")
# How a guitar is called in the report.
CALLED = SHOWN | {"string5-000": "string model, first", "string5-001": "string model, second",
                  "string9-000": "string model, third", "string9-001": "string model, fourth"}
CONDITIONS = {
    "plain": dict(),
    "ringing": dict(ring=120.0),
    "driven": dict(drive=12.0),
    "driven hard, noise": dict(drive=25.0, ring=40.0, noise_db=35.0),
    "driven, touches heard": dict(drive=20.0, touch_db=-24.0, noise_db=40.0),
    "room": dict(room_s=0.35, noise_db=38.0),
    "telephone": dict(room_s=0.3, phone=True, noise_db=30.0),
    "noise": dict(noise_db=20.0),
}
KINDS = ("between", "brushed", "double")
DRILLS = (("three_per_string", (110, 140, 170)), ("two_per_string", (120, 160, 190)), ("four_then_three", (110, 150, 170)))
NOTES = 130
ONE_IN = 24
NEAR_S = 0.025
# A place this near to an attack is that attack's.
HERE_S = 0.015


def played(rng, notes, step, ring):
    """Events in order of time, of notes and of extras."""
    events = []
    for i, n in enumerate(notes):
        at = 0.8 + n["step"] * step + 4e-3 * np.clip(rng.normal(), -2.5, 2.5)
        events.append(dict(at=at, string=n["string"], midi=n["midi"], loud=0.8 + rng.uniform(-0.1, 0.1), what="note"))
        if i % ONE_IN != ONE_IN - 1 or i + 1 == len(notes):
            continue
        kind = KINDS[int(rng.integers(3))]
        beside = n["string"] + (1 if n["string"] == 1 else -1 if n["string"] == 6 else int(rng.choice([-1, 1])))
        # Open or a fret or four from the hand: standard tuning, a fourth or a major third from string to string.
        other = n["midi"] + (-5 if beside > n["string"] else 5) + int(rng.integers(-3, 4))
        if kind == "between":
            extra = dict(at=at + rng.uniform(0.38, 0.62) * step, string=beside, midi=other, loud=0.62)
        elif kind == "brushed":
            off = rng.uniform(5e-3, 60e-3) * rng.choice([-1, 1])
            extra = dict(at=at + off, string=beside, midi=other, loud=rng.uniform(0.15, 0.7))
        else:
            extra = dict(at=at + rng.uniform(5e-3, 60e-3), string=n["string"], midi=n["midi"], loud=rng.uniform(0.6, 0.9))
        events.append(dict(extra, what=kind))
    return sorted(events, key=lambda e: e["at"])


def damped(rng, events, i, x, edge, ring):
    """The sound of event i until its string is struck again or the hand damps it."""
    e = events[i]
    begins = e["at"] - edge / RATE
    cuts = []
    again = next((f for f in events[i + 1:] if f["string"] == e["string"]), None)
    after = next((f for f in events[i + 1:] if f["what"] == "note"), None)
    if again:
        cuts.append((again["at"] - rng.uniform(1e-3, 8e-3), rng.uniform(2e-3, 6e-3)))
    if after and after is not again:
        cuts.append((after["at"] + ring / 1e3, 12e-3))
    for at, fade in cuts:
        t = np.arange(len(x)) / RATE + begins
        x = x * (0.5 + 0.5 * np.cos(np.pi * np.clip((t - at) / fade, 0.0, 1.0)))
    return x, int(round(begins * RATE))


def recorded(rng, y, sounding, drive=None, room_s=0.0, phone=False, noise_db=None):
    """What recording does to it; `sounding` is where the notes are."""
    unit = lambda v: v / np.abs(v).max()
    y = unit(y)
    if drive:
        y = unit(np.tanh(drive * y))
    size = 1 << (len(y) + RATE).bit_length()
    hz = np.fft.rfftfreq(size, 1 / RATE)
    if room_s:
        n = int(room_s * RATE)
        tail = rng.standard_normal(n) * np.exp(-6.9 * np.arange(n) / n)
        tail[: int(0.004 * RATE)] = 0.0
        tail *= 0.35 / np.sqrt((tail**2).sum())
        tail[0] = 1.0
        y = unit(np.fft.irfft(np.fft.rfft(y, size) * np.fft.rfft(tail, size))[: len(y)])
    if phone:
        band = 1 / np.sqrt(1 + (300 / np.maximum(hz, 1.0)) ** 4) / np.sqrt(1 + (hz / 6000) ** 8)
        y = np.fft.irfft(np.fft.rfft(y, size) * band)[: len(y)]
        box = np.ones(int(0.05 * RATE)) / int(0.05 * RATE)
        y = unit(y / (np.sqrt(np.maximum(np.convolve(y**2, box, "same"), 0.0)) + 0.02) ** 0.6)
    y = 0.5 * y
    if noise_db:
        pink = np.fft.irfft(np.fft.rfft(rng.standard_normal(size)) / np.sqrt(np.maximum(hz, 20.0)))[: len(y)]
        y = y + pink / pink.std() * y[sounding].std() * 10 ** (-noise_db / 20)
    return np.clip(y + 1e-4 * rng.standard_normal(len(y)), -1.0, 1.0)


def made(maker, library, guitar, condition, seed, drills, take):
    """Writes the take and its drill; when notes and extras begin, s."""
    rng = np.random.default_rng([zlib.crc32(f"{guitar} {condition}".encode()), seed])
    how = dict(CONDITIONS[condition])
    ring, touch_db = how.pop("ring", 15.0), how.pop("touch_db", None)
    drill, tempos = DRILLS[int(rng.integers(len(DRILLS)))]
    tempo = int(rng.choice(tempos))
    lines = (drills / f"{drill}.toml").read_text().splitlines()
    for repeats in range(1, 40):
        changed = {"tempo_bpm": tempo, "repeats": repeats}
        text = "\n".join(f"{k} = {changed[k]}" if (k := line.split(" = ")[0]) in changed else line for line in lines)
        take.with_suffix(".toml").write_text(text + "\n")
        told, notes = maker.read_drill(take.with_suffix(".toml"))
        if len(notes) >= NOTES:
            break
    events = played(rng, notes, told["step_s"], ring)
    y = np.zeros(int((events[-1]["at"] + 4.0) * RATE))
    for e in events:
        e["x"], e["edge"] = library.get(e["string"], e["midi"], float(np.clip(e["loud"], 0.15, 1.0)), RATE, rng)
    for i, e in enumerate(events):
        x, start = damped(rng, events, i, e["x"], e["edge"], ring)
        y[start : start + len(x)] += x[: len(y) - start]
        if touch_db is not None:
            n = int(1.5e-3 * RATE)
            tick = np.diff(rng.standard_normal(n + 1)) * np.hanning(n)
            at = int((e["at"] - rng.uniform(3e-3, 7e-3)) * RATE)
            y[at : at + n] += tick / np.abs(tick).max() * 10 ** ((touch_db + 20 * (e["loud"] - 1)) / 20)
    ends = int((events[-1]["at"] + 1.6) * RATE)
    y = recorded(rng, y[:ends], slice(int(0.8 * RATE), ends - RATE), **how)
    soundfile.write(take.with_suffix(".flac"), y, RATE, subtype="PCM_16")
    answer = {"notes": [e["at"] for e in events if e["what"] == "note"],
              "extras": [[e["at"], e["what"]] for e in events if e["what"] != "note"]}
    take.with_suffix(".json").write_text(json.dumps(answer))


def judged(answer, report):
    """Counts: told right, told a note, told false; by kind, of those played, found."""
    extras = [e["played_s"] for e in report["extra"]]
    notes = [n["played_s"] for n in report["notes"] if n.get("played_s") is not None]
    of_notes, of_extras = answer["notes"], [t for t, _ in answer["extras"]]
    right = {j for _, j in pair(of_extras, extras, NEAR_S)}
    # Everything told against everything played: what nothing else accounts for.
    truth, told = of_notes + of_extras, notes + extras
    both = pair(truth, told, NEAR_S)
    accounted = {j - len(notes) for _, j in both if j >= len(notes)}
    found = {i - len(of_notes) for i, _ in both if i >= len(of_notes)}
    counts = collections.Counter(right=len(right), note=len(accounted - right), false=len(set(range(len(extras))) - accounted - right))
    for i, (_, kind) in enumerate(answer["extras"]):
        counts[kind, "played"] += 1
        counts[kind, "found"] += i in found
    return counts


def of_take(program, take, *more):
    done = subprocess.run([program, *more, f"{take}.flac"], capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"{take}: {done.stderr}")
    return done.stdout


def scored(program, take):
    return json.loads(of_take(program, take, "score", "--drill", f"{take}.toml", "--json", "-"))


def strokes(words, take, answer):
    """(values that are weighed, struck or not) of each place that is no note of the drill's."""
    done = subprocess.run([words.fit, f"{take}.flac", f"{take}.toml"], capture_output=True, text=True, check=True)
    places = [json.loads(row) for row in done.stdout.splitlines()]
    notes = [n["played_s"] for n in scored(words.program, take)["notes"] if n.get("played_s") is not None]
    truth = answer["notes"] + [t for t, _ in answer["extras"]]
    of = {j - len(notes): i for i, j in pair(truth, notes + [p["at_s"] for p in places], HERE_S)}
    # A place that is a note's own attack, the note being told elsewhere, is neither.
    return [(p["weighed"], k in of) for k, p in enumerate(places) if of.get(k, len(truth)) >= len(answer["notes"])]


def fit(rows):
    """Constant and weights of the odds that a string was struck, the sorts being equally common."""
    x = np.array([[1.0, *v] for v, _ in rows])
    y = np.array([struck for _, struck in rows], float)
    loss = lambda w: np.mean(np.logaddexp(0.0, x @ w) - y * (x @ w))
    w = minimize(loss, np.zeros(x.shape[1]), method="BFGS").x
    w[0] -= np.log(y.mean() / (1 - y.mean()))
    print(f"{len(y)} places, {int(y.sum())} struck")
    print(f"STRUCK: {w[0]:.3f}; STRUCK_BY: {', '.join(f'{v:.3f}' for v in w[1:])}")


def one_guitar(words, guitar, notes, out):
    """Rows (guitar, condition, counts, counts before), or what is fitted on."""
    maker = maker_of(words.bench)
    library = maker.Notes(str(notes), True)
    rows = []
    for condition in words.conditions or CONDITIONS:
        for seed in range(words.seeds):
            take = out / f"{guitar}_{condition.replace(' ', '-').replace(',', '')}_{seed}"
            if not take.with_suffix(".json").exists():
                made(maker, library, guitar, condition, seed, words.bench / "drills", take)
            answer = json.loads(take.with_suffix(".json").read_text())
            if words.fit:
                rows += strokes(words, take, answer)
                continue
            before = judged(answer, scored(words.before, take)) if words.before else None
            rows.append((guitar, condition, judged(answer, scored(words.program, take)), before))
    return rows


def share(hits, n):
    if not n:
        return "-"
    low, high = wilson(hits, n)
    return f"{hits / n:.3f} ({low:.2f} to {high:.2f})"


def line(of, which=2):
    c = sum((r[which] for r in of), collections.Counter())
    told = c["right"] + c["note"] + c["false"]
    found = [f"{c[k, 'found'] / max(1, c[k, 'played']):.2f}" for k in KINDS]
    every = sum(c[k, "found"] for k in KINDS), sum(c[k, "played"] for k in KINDS)
    return [told, c["right"], c["note"], c["false"], share(told - c["false"], told), every[1], share(*every), *found]


def tables(rows):
    head = ["takes of", "told", "right", "a note", "false", "precision (95 %)", "played", "found (95 %)", *KINDS]
    sight = lambda r: r[0] in IN_SIGHT
    lines = []
    for words, seen in (("Guitars that the rule was chosen on", True), ("Other guitars", False)):
        part = [r for r in rows if sight(r) == seen]
        if not part:
            continue
        by = lambda key: [[name, *line([r for r in part if r[key] == name])] for name in sorted({r[key] for r in part})]
        guitars = [[CALLED.get(g[0], g[0]), *g[1:]] for g in by(0)]
        driven = lambda r: "driven" in r[1]
        wholes = (("all, driven", [r for r in part if driven(r)]), ("all, not driven", [r for r in part if not driven(r)]), ("all", part))
        whole = [[name, *line(of)] for name, of in wholes if of]
        whole += [[f"{name}, before", *line(of, 3)] for name, of in wholes if of and of[0][3] is not None]
        lines += ["", f"## {words}", "", *table(head, guitars), "", *table(head, by(1) + whole)]
    return lines


def main():
    parser = options(__doc__, 4)
    parser.add_argument("--conditions", nargs="*", help="these alone")
    parser.add_argument("--before", help="an earlier program, to be compared with")
    parser.add_argument("--fit", metavar="STROKES", help="the example `strokes`")
    words = parser.parse_args()
    rows = of_all(words, one_guitar, words.only or (IN_SIGHT if words.fit else None))
    if words.fit:
        return fit(rows)
    lines = ["# Extra notes", "",
             "Made by `python3 tests/measure/extras.py BENCH NOTES PROGRAM`; do not edit.", "",
             *machine.about(words.program), "",
             "\n\n".join(" ".join(part.split()) for part in __doc__.split("\n\n")[2:]), "",
             f"{words.seeds} seeds. In brackets: Wilson's 95 % interval.", *tables(rows), ""]
    print("\n".join(lines))
    if words.out:
        words.out.write_text("\n".join(lines))


if __name__ == "__main__":
    main()
