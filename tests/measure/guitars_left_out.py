"""Attack times guitar by guitar, each by weights that have not seen it:

    python3 tests/measure/guitars_left_out.py TAKES [-o reports/guitars.md]

TAKES holds GUITAR_NAME.flac with GUITAR_NAME.json (`onsets_s`, and `rise_ms`: milliseconds from -20 to -6 dB and from -35
to -20 dB), made from the notes of tests/measure/guitars.py. The weights of the folds lie in tests/measure/left_out; a
guitar in no group of fit_ear.py is judged by the shipped weights, which have not seen it either. Needs numpy and scipy;
builds the example `attacks` of the listening crate.
"""

import collections
import pathlib

import numpy as np

from guitar_takes import SHOWN, hear_all, hearing_options, weights_of
from pairing import pair
from tables import number, table

CLEAR_MS = (2.5, 3.0)
DIGITS = (4, 4, 2, 2, 1, 2, 2)


def f_measure(n, truth, found):
    return 2 * n / max(1, truth + found)


def main():
    parser = hearing_options(__doc__, "attacks")
    parser.add_argument("-o", "--out", type=pathlib.Path)
    words = parser.parse_args()
    rows = collections.defaultdict(lambda: dict(e=[], z=[], every=[], n=[0, 0, 0, 0]))
    for guitar, truth, heard in hear_all(words, "attacks"):
        found, sd = ([o[key] for o in heard["onsets"]] for key in ("time_s", "uncertainty_ms"))
        row, t, rise = rows[guitar], np.array(truth["onsets_s"]), truth["rise_ms"]
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
    lines = []
    for guitar, r in sorted(rows.items()):
        e, (near, nearer, t, f) = np.abs(r["e"]), r["n"]
        timed = [np.std(r["e"]), np.percentile(e, 95), 100 * (e > 5).mean(), np.std(r["z"])] if len(e) else [np.nan] * 4
        heard_of = [f_measure(near, t, f), f_measure(nearer, t, f)]
        every = np.std([z for z, _ in r["every"]])
        lines.append([SHOWN.get(guitar, guitar), weights_of(guitar)[0], t, len(e), *heard_of, *timed, every])
    means = [np.nanmean([line[k] for line in lines]) for k in range(4, len(lines[0]))]
    lines.append(["mean over guitars", "", "", "", *means])
    head = ["guitar", "weights", "notes", "clear", "F25c", "F5c", "SD ms", "95 % within ms", "beyond 5 ms %", "error / stated", "of all notes"]
    text = "\n".join(table(head, [[*line[:4], *(number(None if np.isnan(x) else x, d) for x, d in zip(line[4:], DIGITS))] for line in lines]))
    of = sorted((u, z) for r in rows.values() for z, u in r["every"])
    thirds = [of[k * len(of) // 3:(k + 1) * len(of) // 3] for k in range(3)]
    parts = [(name, part) for name, part in zip(["all", "surest third", "middle third", "least sure third"], [of, *thirds])]
    stated = [[name, len(part), f"{part[0][0]:.2f} to {part[-1][0]:.2f}", f"{np.std([z for _, z in part]):.2f}"] for name, part in parts]
    text += "\n\n" + "\n".join(table(["all notes of all guitars", "notes", "stated ms", "error / stated"], stated))
    print(text)
    if words.out:
        before = words.out.read_text().split("<!-- table -->")
        words.out.write_text(before[0] + "<!-- table -->\n\n" + text + "\n\n<!-- table -->" + before[2])


if __name__ == "__main__":
    main()
