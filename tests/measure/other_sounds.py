"""Other sounds than a string's over the playing (talk, knocks): are they told as notes too many, and are notes too many still told?

    python3 tests/measure/other_sounds.py BENCH NOTES PROGRAM [--before PROGRAM] [--seeds 1] [-o reports/other_sounds.md]
    python3 tests/measure/other_sounds.py BENCH NOTES PROGRAM --fit EXAMPLES    the weights of crates/measure/src/tuning/extra.rs again

BENCH holds make_takes.py, drills/ and notes/ (folders of single notes), NOTES more such folders, as guitars.py writes
them. The takes are those of extras.py, in which one note in twenty-four has a note too many beside it. Each is heard as it
is, talked over by a speech synthesizer and knocked over, the peak of that 6 to 18 dB under the take's. The weights of the
rule were found by logistic regression, strings against other sounds: on the guitars named as in sight in extras.py, as they
are and talked over by five voices, and on takes of the string model with its own voices and knocks (the examples `strokes`
and `talk` of crates/take, which lie in EXAMPLES). Here other guitars, voices and knocks are heard.

Told right: of the notes too many that were played, those within 25 ms of which one is told. False: told with neither a note
nor a note too many within 25 ms, a take. Needs espeak-ng; numpy, scipy, soundfile, soxr.
"""

import collections
import concurrent.futures
import json
import pathlib
import subprocess
import tempfile
import zlib

import numpy as np
import scipy.signal
import soundfile
from scipy.optimize import minimize

import extras
import machine
from guitar_takes import maker_of, of_all, options
from tables import table

RATE = extras.RATE
CONDITIONS = ("plain", "ringing", "driven", "room", "telephone", "noise")
VOICES = {True: ("it", "pt+f3", "sv", "nl+m5", "pl+f1"), False: ("en-us", "en-gb+f2", "de", "fr+f4", "es+m3")}
BESIDE = ("nothing", "talk", "knocks")
WORDS = (
    "Please put the small table beside the window and come here at once. What did the others say about it yesterday evening, "
    "and who has the key to the back door?"
)
UNDER_DB = (6.0, 18.0)
KNOCKS_APART_S = (0.5, 1.2)
# Takes of the string model to fit by, with each of what its example has beside them.
MODEL_TAKES = 14
# A place nearer than this to an attack is its own, one further away than the other is nobody's.
HERE_S, NOBODYS_S = 0.012, 0.030


def spoken(rng, voice, length):
    """So many samples of speech, from anywhere in it on."""
    with tempfile.NamedTemporaryFile(suffix=".wav") as wav:
        subprocess.run(["espeak-ng", "-v", voice, "-s", str(rng.integers(140, 190)), "-w", wav.name, WORDS], check=True, capture_output=True)
        x, rate = soundfile.read(wav.name)
    x = scipy.signal.resample_poly(x, RATE, rate)
    return np.resize(np.roll(x, rng.integers(len(x))), length)


def knocks(rng, length):
    """A click and the thump of a body behind it, now and then."""
    x, at = np.zeros(length), rng.uniform(0.2, 1.0)
    while (first := int(at * RATE)) < length - RATE // 4:
        t = np.arange(RATE // 4) / RATE
        thump = np.sin(2 * np.pi * rng.uniform(70, 240) * t) * np.exp(-t / rng.uniform(0.008, 0.03))
        click = np.diff(rng.standard_normal(len(t) + 1)) * np.exp(-t / rng.uniform(0.0004, 0.002))
        x[first : first + len(t)] += rng.uniform(0.5, 1.0) * (thump + rng.uniform(0.1, 0.6) * click)
        at += rng.uniform(*KNOCKS_APART_S)
    return x


def mixed(take, beside, voices):
    """The take with something beside it, written anew; where that is nothing, the take itself."""
    if beside == "nothing":
        return take
    out = take.with_name(f"{take.name}_{beside}")
    rng = np.random.default_rng([zlib.crc32(out.name.encode()), 7])
    x, _ = soundfile.read(take.with_suffix(".flac"))
    other = spoken(rng, str(rng.choice(voices)), len(x)) if beside == "talk" else knocks(rng, len(x))
    gain = np.abs(x).max() / np.abs(other).max() * 10 ** (-rng.uniform(*UNDER_DB) / 20)
    soundfile.write(out.with_suffix(".flac"), np.clip(x + gain * other, -1.0, 1.0), RATE, subtype="PCM_16")
    out.with_suffix(".toml").write_text(take.with_suffix(".toml").read_text())
    return out


def beginnings(words, take, answer):
    """(values that are weighed, whether a string's) of each extra."""
    sound = next(take.with_suffix(e) for e in (".flac", ".wav") if take.with_suffix(e).exists())
    command = [words.fit / "strokes", sound, take.with_suffix(".toml"), "--beginnings"]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    truth = np.array(answer["notes"] + [t for t, _ in answer["extras"]])
    rows = []
    for row in map(json.loads, done.stdout.splitlines()):
        off = np.abs(truth - row["at_s"]).min()
        if off < HERE_S or off > NOBODYS_S:
            rows.append((row["weighed"], bool(off < HERE_S)))
    return rows


def one_guitar(words, guitar, notes, out):
    """Rows (guitar, beside, counts, counts before), or what is fitted on."""
    maker = maker_of(words.bench)
    library = maker.Notes(str(notes), True)
    rows = []
    for condition in CONDITIONS:
        for seed in range(words.seeds):
            take = out / f"{guitar}_{condition}_{seed}"
            if not take.with_suffix(".json").exists():
                extras.made(maker, library, guitar, condition, seed, words.bench / "drills", take)
            answer = json.loads(take.with_suffix(".json").read_text())
            for beside in BESIDE:
                if words.fit and beside == "knocks":
                    continue
                heard = mixed(take, beside, VOICES[bool(words.fit)])
                if words.fit:
                    rows += beginnings(words, heard, answer)
                    continue
                of = [extras.judged(answer, extras.scored(p, heard)) if p else None for p in (words.program, words.before)]
                rows.append((guitar, beside, *of))
    return rows


def of_model(words):
    """What is fitted on, of takes of the string model."""
    with tempfile.TemporaryDirectory() as folder, concurrent.futures.ThreadPoolExecutor() as pool:
        subprocess.run([words.fit / "talk", str(MODEL_TAKES), folder], check=True)
        takes = sorted(pathlib.Path(folder).glob("*.json"))
        return [row for rows in pool.map(lambda t: beginnings(words, t.with_suffix(""), json.loads(t.read_text())), takes) for row in rows]


def fit(rows):
    """Constant and weights of the odds that it is a string's, the sorts being equally common."""
    x = np.array([[1.0, *v] for v, _ in rows])
    y = np.array([string for _, string in rows], float)
    each = np.where(y == 1, 0.5 / y.sum(), 0.5 / (1 - y).sum())
    loss = lambda w: (each * (np.logaddexp(0.0, x @ w) - y * (x @ w))).sum() + 1e-4 * (w[1:] ** 2).sum()
    w = minimize(loss, np.zeros(x.shape[1]), method="BFGS").x
    print(f"{len(y)} beginnings, {int(y.sum())} of strings")
    print(f"LIKE_NOTES: {w[0]:.3f}; LIKE_NOTES_BY: {', '.join(f'{v:.3f}' for v in w[1:])}")


def line(of, which):
    c = sum((r[which] for r in of), collections.Counter())
    played, found = (sum(c[k, what] for k in extras.KINDS) for what in ("played", "found"))
    return [len(of), played, extras.share(found, played), f"{c['false'] / len(of):.2f}"]


def tables(rows):
    head = ["beside the guitar", "takes", "notes too many played", "told right (95 %)", "false a take"]
    whole = [[b, *line([r for r in rows if r[1] == b], 2)] for b in BESIDE]
    if rows[0][3] is not None:
        whole += [[f"{b}, before", *line([r for r in rows if r[1] == b], 3)] for b in BESIDE]
    guitars = sorted({r[0] for r in rows})
    by = [[f"{extras.CALLED.get(g, g)}, {b}", *line([r for r in rows if r[:2] == (g, b)], 2)] for g in guitars for b in BESIDE]
    return [*table(head, whole), "", *table(head, by)]


def main():
    parser = options(__doc__, 1)
    parser.add_argument("--before", help="an earlier program, to be compared with")
    parser.add_argument("--fit", metavar="EXAMPLES", type=pathlib.Path, help="the folder of the built examples")
    words = parser.parse_args()
    if words.fit:
        return fit(of_all(words, one_guitar, words.only or extras.IN_SIGHT) + of_model(words))
    rows = [r for r in of_all(words, one_guitar, words.only) if r[0] not in extras.IN_SIGHT]
    lines = ["# Talk and knocks over recorded notes", "",
             "Made by `python3 tests/measure/other_sounds.py BENCH NOTES PROGRAM`; do not edit.", "",
             *machine.about(words.program), "",
             "\n\n".join(" ".join(part.split()) for part in __doc__.split("\n\n")[2:]), "",
             f"{words.seeds} seeds. In brackets: Wilson's 95 % interval.", "", *tables(rows), ""]
    print("\n".join(lines))
    if words.out:
        words.out.write_text("\n".join(lines))


if __name__ == "__main__":
    main()
