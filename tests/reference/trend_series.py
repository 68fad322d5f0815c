"""Compares the trend statistics of takegauge-stats with pymannkendall and SciPy on random series.

    python3 tests/reference/trend_series.py FOLDER_OF_BUILDS [SERIES]

Series of 8 to 80 values at random days, a third of them rounded so that values tie, with and without a trend; the seed is
fixed. Slope, interval in Sen's form and intercept are scipy.stats.theilslopes', S, its variance with ties, tau, Z and p are
pymannkendall's, the exact p is scipy.stats.kendalltau's. Every figure must agree within a relative 1e-9.
"""

import json
import os
import subprocess
import sys

import numpy as np
import pymannkendall
from scipy import stats

SEED = 20261125


def random_series(count):
    rng = np.random.default_rng(SEED)
    for k in range(count):
        n = int(rng.integers(8, 81))
        days = np.sort(rng.choice(np.arange(4 * n), n, replace=False)) / 7
        values = rng.normal(0, 2, n) + rng.choice([0, -0.5, 1]) * days
        if k % 3 == 0:
            values = np.round(values)
        yield {"times": days.tolist(), "values": values.tolist()}


def wanted(series):
    t, y = np.array(series["times"]), np.array(series["values"])
    line = stats.theilslopes(y, t, 0.95)
    mk = pymannkendall.original_test(y)
    exact = None
    if len(np.unique(y)) == len(y) and len(y) <= 40:
        exact = stats.kendalltau(np.arange(len(y)), y, method="exact").pvalue
    return {"theil_sen": [line.slope, line.intercept, line.low_slope, line.high_slope],
            "mann_kendall": [mk.s, mk.var_s, mk.Tau, mk.z, mk.p], "exact_p": exact}


def main():
    if len(sys.argv) not in (2, 3):
        sys.exit(__doc__)
    program = os.path.join(sys.argv[1], "examples", "trends")
    series = list(random_series(int(sys.argv[2]) if len(sys.argv) > 2 else 300))
    text = "".join(json.dumps(s) + "\n" for s in series)
    done = subprocess.run([program], input=text, check=True, capture_output=True, text=True)
    got = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(got) == len(series), (len(got), len(series))
    failed = 0
    for k, (ours, s) in enumerate(zip(got, series)):
        for name, value in wanted(s).items():
            same = ours[name] == value if value is None else np.allclose(ours[name], value, rtol=1e-9, atol=1e-12)
            if not same:
                failed += 1
                print(f"series {k} of {len(s['values'])} values (seed {SEED}), {name}: {ours[name]} against {value}")
    exact = sum(g["exact_p"] is not None for g in got)
    print(f"{len(series)} random series compared ({exact} with the exact null), {failed} figures differ")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
