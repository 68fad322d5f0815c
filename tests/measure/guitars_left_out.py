"""Attack times guitar by guitar, each by weights that have not seen it:

    python3 tests/measure/guitars_left_out.py TAKES [-o reports/guitars.md]

TAKES holds GUITAR_NAME.flac with the drill as GUITAR_NAME.toml and GUITAR_NAME.json (`onsets_s`, and `rise_ms`:
milliseconds from -20 to -6 dB and from -35 to -20 dB), made from the notes of tests/measure/guitars.py. The weights of the
folds lie in tests/measure/left_out, those of the smaller net alone (`--left-out` names another folder); a guitar in no
group of fit_ear.py is judged by the shipped weights, which have not seen it either. Needs numpy and scipy; builds the
examples `attacks` of the listening and `timed` of the taking crate.
"""

import collections
import pathlib

import numpy as np

from guitar_takes import SHOWN, hear_all, hearing_options, weights_of
from pairing import pair
from tables import number, table

CLEAR_MS = (2.5, 3.0)
DIGITS = (4, 4, 2, 2, 1, 2, 2)
HEAD = ["guitar", "weights", "notes", "clear", "F25c", "F5c", "SD ms", "95 % within ms", "beyond 5 ms %", "error / stated",
        "of all notes"]


def f_measure(n, truth, found):
    return 2 * n / max(1, truth + found)


def judged(heard_of_all, weights):
    """Tables of the guitars, one by one, and of all their notes by how sure they are; `weights` names a guitar's."""
    rows = collections.defaultdict(lambda: dict(e=[], z=[], every=[], n=[0, 0, 0, 0]))
    for guitar, truth, heard in heard_of_all:
        add(rows[guitar], truth, heard["onsets"])
    lines = [[SHOWN.get(guitar, guitar), weights(guitar)[0], *figures(row)] for guitar, row in sorted(rows.items())]
    means = [np.nanmean([line[k] for line in lines]) for k in range(4, len(lines[0]))]
    lines.append(["mean over guitars", "", "", "", *means])
    shown = [[*line[:4], *(number(None if np.isnan(x) else x, d) for x, d in zip(line[4:], DIGITS))] for line in lines]
    of = sorted((u, z) for row in rows.values() for z, u in row["every"])
    thirds = [of[k * len(of) // 3:(k + 1) * len(of) // 3] for k in range(3)]
    stated = [[name, len(part), f"{part[0][0]:.2f} to {part[-1][0]:.2f}", f"{np.std([z for _, z in part]):.2f}"]
              for name, part in zip(["all", "surest third", "middle third", "least sure third"], [of, *thirds])]
    return table(HEAD, shown) + [""] + table(["all notes of all guitars", "notes", "stated ms", "error / stated"], stated)


def add(row, truth, onsets):
    """A take's errors and counts."""
    found, sd = ([o[key] for o in onsets] for key in ("time_s", "uncertainty_ms"))
    t, rise = np.array(truth["onsets_s"]), truth["rise_ms"]
    met = pair(t, found, 0.05)
    every = [(1e3 * (found[j] - t[i]), sd[j]) for i, j in met]
    clear = [e for e, (i, _) in zip(every, met) if rise[i][0] <= CLEAR_MS[0] and rise[i][1] <= CLEAR_MS[1]]
    middle = np.median([e for e, _ in every])
    enough = len(clear) >= 5
    shift = np.median([e for e, _ in clear]) if enough else middle
    at = np.array(found) - shift / 1e3
    row["every"] += [((e - middle) / u, u) for e, u in every]
    counts = [len(pair(t, at, 0.025)), len(pair(t, at, 0.005)), len(t), len(at)]
    row["n"] = [a + b for a, b in zip(row["n"], counts)]
    if enough:
        row["e"] += [e - shift for e, _ in clear]
        row["z"] += [(e - shift) / u for e, u in clear]


def figures(row):
    """Notes, clear ones, and what HEAD names of them."""
    e, (near, nearer, t, f) = np.abs(row["e"]), row["n"]
    timed = [np.std(row["e"]), np.percentile(e, 95), 100 * (e > 5).mean(), np.std(row["z"])] if len(e) else [np.nan] * 4
    return [t, len(e), f_measure(near, t, f), f_measure(nearer, t, f), *timed, np.std([z for z, _ in row["every"]])]


def main():
    parser = hearing_options(__doc__)
    parser.add_argument("-o", "--out", type=pathlib.Path)
    words = parser.parse_args()
    blind = judged(hear_all(words, "listen", "attacks", "quick"), lambda g: weights_of(g, "quick", words.left_out))
    drilled = judged(hear_all(words, "take", "timed", "quick", "thorough", drilled=True),
                     lambda g: weights_of(g, "thorough", words.left_out))
    text = "\n".join(["## Heard blind (`onsets`)", "", *blind, "", "## With the drill (`score`)", "", *drilled])
    print(text)
    if words.out:
        before = words.out.read_text().split("<!-- table -->")
        words.out.write_text(before[0] + "<!-- table -->\n\n" + text + "\n\n<!-- table -->" + before[2])


if __name__ == "__main__":
    main()
