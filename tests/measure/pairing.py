"""Which detection belongs to which true attack, and hits, precision, recall and F from it.

Times in seconds, both lists rising. Of all pairings within the window with the most pairs, the one with the least
total distance is taken: the count alone decides F, and a pairing for the count alone would put a played note on the
wrong true one and call it late.
"""

import numpy as np
from scipy.optimize import linear_sum_assignment
from scipy.stats import binomtest

ROUNDING = 1e-9


def pair(truth, found, window):
    """Pairs (i, j) of truth[i] and found[j] not further apart than `window` seconds."""
    truth, found = np.asarray(truth, float), np.asarray(found, float)
    if not len(truth) or not len(found):
        return []
    apart = np.abs(truth[:, None] - found[None, :])
    near = apart <= window + ROUNDING
    # A pair more outweighs any sum of distances.
    rows, columns = linear_sum_assignment(np.where(near, apart - window * (len(truth) + len(found)), 0.0))
    return [(i, j) for i, j in zip(rows, columns) if near[i, j]]


def f_measure(truth, found, window):
    """F, precision, recall; 0 where a list is empty."""
    hits = len(pair(truth, found, window))
    precision = hits / len(found) if len(found) else 0.0
    recall = hits / len(truth) if len(truth) else 0.0
    total = precision + recall
    return (2 * precision * recall / total if total else 0.0), precision, recall


def wilson(hits, n):
    """Wilson's 95 % interval of a share (Wilson 1927, J. Am. Stat. Assoc. 22:209)."""
    if n == 0:
        return None
    interval = binomtest(int(hits), int(n)).proportion_ci(0.95, method="wilson")
    return interval.low, interval.high
