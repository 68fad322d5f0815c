#!/usr/bin/env python3
"""Two reports of one take, made by programs for two systems: alike.py ONE.json OTHER.json

All that is no number must be the same. Numbers may differ by what two systems' libraries of mathematics leave in the last figure
that is written: that is told, and more than it is a fault."""

import json
import sys

# Figures are written to three decimals.
LAST = 1.001e-3


def differences(one, other, at=""):
    """Places at which two values differ, with how far; text and shapes that differ end it."""
    if isinstance(one, dict) and isinstance(other, dict):
        assert one.keys() == other.keys(), (at, one.keys() ^ other.keys())
        for key in one:
            yield from differences(one[key], other[key], f"{at}.{key}")
    elif isinstance(one, list) and isinstance(other, list):
        assert len(one) == len(other), (at, len(one), len(other))
        for i, (a, b) in enumerate(zip(one, other)):
            yield from differences(a, b, f"{at}[{i}]")
    elif isinstance(one, float) and isinstance(other, float):
        if one != other:
            yield at, abs(one - other)
    else:
        assert one == other, (at, one, other)


def main():
    one, other = (json.load(open(path)) for path in sys.argv[1:3])
    found = list(differences(one, other))
    worst = max((far for _, far in found), default=0.0)
    print(f"   {len(found)} numbers differ" + (f", by {worst:g} at most" if found else ""))
    beyond = [(at, far) for at, far in found if far > LAST]
    assert not beyond, beyond[:5]


main()
