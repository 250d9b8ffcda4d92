"""Holds surface analysis against numpy and scipy: oxide depth by a root of the interpolated profile, ratio
uncertainty by Monte Carlo with a fixed seed, pitting numbers in binary."""
import json
import sys

import numpy as np
from scipy.optimize import brentq

cases = json.load(sys.stdin)
rng = np.random.default_rng(20260102)


def depth(case):
    time, oxygen = np.array(case["rows"], dtype=float).T
    n = len(time) - case["bulk_rows"]
    bulk = oxygen[n:].mean()
    top = int(np.argmax(oxygen[:n]))
    half = (oxygen[top] + bulk) / 2
    f = lambda t: np.interp(t, time, oxygen) - half
    first = next(i for i in range(top, n) if oxygen[i] <= half)
    t = brentq(f, time[first - 1], time[first], xtol=1e-14)
    return [t * case["rate"], t, float(half)]


def ratio(case):
    n = 400_000
    cr = rng.normal(*case["cr"], n)
    fe = rng.normal(*case["fe"], n)
    return [float(np.mean(cr / fe)), float(2 * np.std(cr / fe, ddof=1))]


print(json.dumps({
    "depths": [depth(case) for case in cases["depths"]],
    "ratios": [ratio(case) for case in cases["ratios"]],
    "pren": [[cr + 3.3 * mo + 16 * n, cr + 3.3 * (mo + 0.5 * w) + 16 * n, cr + 3.3 * mo + 30 * n]
             for cr, mo, w, n in cases["pren"]],
}))
