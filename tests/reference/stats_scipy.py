"""Compares takegauge-stats with SciPy, NumPy, statsmodels and pymannkendall on fixed vectors.

    cargo build --release -p takegauge-stats --example vectors
    python3 tests/reference/stats_scipy.py target/release

The argument is the folder of release builds, or a file with the example's output. Needs scipy, numpy, statsmodels and pymannkendall.
Every figure must agree within a relative 1e-9 (absolute 1e-12 near 0) unless its line says otherwise. Exit 0 if all
agree, 1 if not.
"""

import json
import os
import subprocess
import sys

import numpy as np
import pymannkendall
import statsmodels.api as sm
from scipy import stats
from statsmodels.stats.multitest import multipletests
from statsmodels.stats.proportion import proportion_confint

HERE = os.path.dirname(os.path.abspath(__file__))
VECTORS = os.path.join(HERE, "vectors.json")


def ours(argument):
    if os.path.isdir(argument):
        program = os.path.join(argument, "examples", "vectors")
        return json.loads(subprocess.run([program, VECTORS], check=True, capture_output=True, text=True).stdout)
    with open(argument) as f:
        return json.load(f)


def winsorised_sum_of_squares(x, share):
    w = np.asarray(stats.mstats.winsorize(x, limits=(share, share)))
    return ((w - w.mean()) ** 2).sum()


def references(v):
    a, b, c = (np.array(v[k]) for k in "abc")
    n, sd = len(a), a.std(ddof=1)
    t, y, tied = (np.array(v[k]) for k in ("times", "values", "tied"))
    cut = int(0.2 * n)
    h = n - 2 * cut
    trimmed_se = np.sqrt(winsorised_sum_of_squares(a, 0.2) / (h * (h - 1)))
    yield "one.mean", a.mean()
    yield "one.sd", sd
    yield "one.quantiles", np.quantile(a, [0, 0.1, 0.25, 0.5, 0.9, 1])
    yield "one.lag1", sm.tsa.acf(a, nlags=1)[1]
    yield "one.median", np.median(a)
    yield "one.mad_sd", stats.median_abs_deviation(a, scale="normal")
    yield "one.trimmed_mean", [stats.trim_mean(a, 0.2), trimmed_se]
    low, high = stats.t.interval(0.95, n - 1, loc=a.mean(), scale=stats.sem(a))
    yield "one.mean_interval", [a.mean(), low, high]
    chi = stats.chi2.ppf([0.975, 0.025], n - 1)
    yield "one.sd_interval", [sd, *np.sqrt((n - 1) * sd**2 / chi)]
    predictive = stats.t(n - 1, loc=a.mean(), scale=sd * np.sqrt(1 + 1 / n))
    yield "one.chance_outside", predictive.sf(9.0) + predictive.cdf(-9.0)
    yield "one.covariances", sm.tsa.acovf(a, adjusted=False, nlag=1)
    welch = stats.ttest_ind(a, b, equal_var=False)
    ci = welch.confidence_interval(0.95)
    yield "several.welch", [welch.statistic, welch.df, welch.pvalue, ci.low, ci.high]
    yuen = stats.ttest_ind(a, b, equal_var=False, trim=0.2)
    yield "several.yuen", [yuen.statistic, yuen.df, yuen.pvalue]
    levene = stats.levene(a, b, c, center="median")
    yield "several.brown_forsythe", [levene.statistic, levene.pvalue]
    ratio = a.var(ddof=1) / b.var(ddof=1)
    f = stats.f.ppf([0.975, 0.025], len(a) - 1, len(b) - 1)
    yield "several.sd_ratio", np.sqrt([ratio, *(ratio / f)])
    line = stats.theilslopes(y, t, 0.95)
    yield "trend.theil_sen", [line.slope, line.intercept, line.low_slope, line.high_slope]
    mk = pymannkendall.original_test(y)
    yield "trend.mann_kendall", [mk.s, mk.var_s, mk.Tau, mk.z, mk.p]
    yield "trend.mann_kendall_exact_p", stats.kendalltau(np.arange(len(y)), y, method="exact").pvalue
    mk = pymannkendall.original_test(tied)
    yield "trend.mann_kendall_tied", [mk.s, mk.var_s, mk.z, mk.p]
    k, m = v["hits"], v["tried"]
    yield "rates.wilson", [k / m, *proportion_confint(k, m, 0.05, "wilson")]
    yield "rates.clopper_pearson", [k / m, *proportion_confint(k, m, 0.05, "beta")]
    yield "rates.upper_limit", stats.binomtest(k, m, alternative="less").proportion_ci(0.95, "exact").high
    yield "rates.upper_limit_none", stats.binomtest(0, 100, alternative="less").proportion_ci(0.95, "exact").high
    yield "holm", multipletests(v["p_values"], method="holm")[1]
    around = np.array(v["angles"])
    direction = stats.circmean(around, high=np.pi, low=-np.pi)
    yield "circular", [direction, abs(np.exp(1j * around).mean()), stats.circstd(around, high=np.pi, low=-np.pi)]
    places = np.array(v["places"])
    model = sm.OLS(a, np.eye(5)[places]).fit()
    chi = stats.chi2.ppf([0.975, 0.025, 0.05], model.df_resid)
    yield "within_places", [model.mse_resid, *(model.ssr / chi)]
    wls = sm.WLS(y, np.array(v["columns"]).T, weights=v["weights"]).fit()
    yield "least_squares.coefficients", wls.params
    yield "least_squares.standard_errors", wls.bse
    i = np.array(v["intervals"])
    yield "npvi", 100 * np.mean(np.abs(np.diff(i)) / ((i[1:] + i[:-1]) / 2))


def main():
    if len(sys.argv) != 2:
        sys.exit(__doc__)
    with open(VECTORS) as f:
        vectors = json.load(f)
    got, failed, compared = ours(sys.argv[1]), 0, 0
    for path, wanted in references(vectors):
        value = got
        for key in path.split("."):
            value = value[key]
        value, wanted = np.atleast_1d(np.array(value, float)), np.atleast_1d(np.array(wanted, float))
        compared += value.size
        if value.shape != wanted.shape or not np.allclose(value, wanted, rtol=1e-9, atol=1e-12):
            failed += 1
            print(f"{path}: {value} against {wanted}")
    print(f"{compared} figures compared, {failed} of the results differ")
    sys.exit(1 if failed else 0)


if __name__ == "__main__":
    main()
