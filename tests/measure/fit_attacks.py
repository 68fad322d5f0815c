"""Fits how much each sign of an attack counts (crates/listen/src/tuning/evidence.rs), a family of guitars left out at a time:

    python3 tests/measure/fit_attacks.py TAKES [--programs FOLDER] [--called FOLDER=GUITAR ...]

TAKES as guitars_left_out.py has them; each take is heard by weights of the locator that have not seen its guitar. Printed: the
weights found on all guitars and with each family left out, in octaves of the first sign; and, on the families left out,
F within 25 ms for thresholds at several odds, of the weights found and of those in the program. Logistic regression; needs
numpy and scipy; builds the example `weighed` of the listening crate.
"""

import re

import numpy as np
from scipy.optimize import minimize

from fit_ear import GROUPS
from guitar_takes import REPOSITORY, hear_all, hearing_options
from guitars_left_out import f_measure
from pairing import pair
from tables import table

SIGNS = ["STANDS_OUT", "CHANCE", "STRONGER_BEFORE", "STRONGER_AFTER", "PITCHED"]
IN_PROGRAM = REPOSITORY / "crates/listen/src/tuning/evidence.rs"
# A candidate belongs to an attack, and an attack counts as heard, within so long.
BELONGS_S, HEARD_S = 0.020, 0.025
RIDGE = 1e-3
ODDS = (1.0, 1.5, 2.0, 3.0, 4.0)


def family(guitar):
    """Guitars that are left out together: a fold of fit_ear.py, with the same kind of guitar of the other sound font."""
    own = guitar.replace("six-", "fluid-")
    return next((k for k, group in enumerate(GROUPS) if own in group), len(GROUPS))


def weighed(guitar, answers, heard):
    """Guitar, true attacks, and time and signs of every candidate."""
    found = heard["candidates"]
    times = np.array([c["time_s"] for c in found])
    terms = np.array([c["terms"] for c in found]).reshape(-1, len(SIGNS))
    return guitar, np.array(answers["onsets_s"]), times, terms


def labels(truth, times):
    """1 for the candidate nearest to each attack."""
    out = np.zeros(len(times))
    for t in truth:
        if len(times) and np.abs(times - t).min() < BELONGS_S:
            out[np.abs(times - t).argmin()] = 1
    return out


def fit(rows):
    """Weights and constant of the natural logarithm of the odds."""
    x = np.concatenate([r[3] for r in rows])
    y = np.concatenate([labels(r[1], r[2]) for r in rows])
    middle, spread = x.mean(0), x.std(0) + 1e-9
    z = np.c_[(x - middle) / spread, np.ones(len(x))]

    def loss(w):
        odds = z @ w
        chance = 1 / (1 + np.exp(-odds))
        ridge = np.r_[w[:-1], 0.0]
        return np.mean(np.logaddexp(0, odds) - y * odds) + RIDGE * ridge @ ridge, z.T @ (chance - y) / len(y) + 2 * RIDGE * ridge

    w = minimize(loss, np.zeros(z.shape[1]), jac=True, method="L-BFGS-B").x
    return w[:-1] / spread, w[-1] - w[:-1] / spread @ middle


def in_program():
    text = IN_PROGRAM.read_text()
    value = {n: float(v) for n, v in re.findall(r"const (\w+): f64 = (-?[\d.]+);", text)}
    return np.array([value[n] for n in SIGNS]), value["ODDS"]


def f_of(rows, evidence):
    """Mean over guitars of F within 25 ms, candidates of positive `evidence` told."""
    counts = {}
    for guitar, truth, times, terms in rows:
        told = times[evidence(guitar, terms) > 0]
        n = counts.setdefault(guitar, [0, 0, 0])
        for i, v in enumerate((len(pair(truth, told, HEARD_S)), len(truth), len(told))):
            n[i] += v
    return float(np.mean([f_measure(*n) for n in counts.values()]))


def main():
    words = hearing_options(__doc__).parse_args()
    rows = [weighed(*take) for take in hear_all(words, "listen", "weighed", "quick")]
    families = sorted({family(r[0]) for r in rows})
    left_out = {k: fit([r for r in rows if family(r[0]) != k]) for k in families}

    def line(name, found):
        weights, constant = found
        return [name, *(f"{w / weights[0]:.3f}" for w in weights), f"{constant / weights[0]:.2f}", f"{weights[0]:.2f}"]

    lines = [line("all", fit(rows)), *(line(f"without {', '.join(sorted({r[0] for r in rows if family(r[0]) == k}))}", f) for k, f in left_out.items())]
    own, zero = in_program()
    lines.append(["in the program", *(f"{w:.3f}" for w in own), f"{zero:.2f}", ""])
    print("\n".join(table(["found on", *SIGNS, "constant", "natural logarithm an octave"], lines)))

    def evidence(odds):
        return lambda guitar, terms: terms @ left_out[family(guitar)][0] + left_out[family(guitar)][1] - np.log(odds)

    of = [[f"{o:g}", f"{f_of(rows, evidence(o)):.5f}"] for o in ODDS]
    of.append(["in the program", f"{f_of(rows, lambda _, terms: terms @ own + zero):.5f}"])
    print("\n" + "\n".join(table(["threshold at odds", "F25 of families left out"], of)))


if __name__ == "__main__":
    main()
