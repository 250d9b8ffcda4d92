# The same work with SciPy, vectorised as far as it goes; prints milliseconds and sums. SciPy 1.17.
import csv
import sys
import time

import numpy as np
from scipy import special

with open(sys.argv[1]) as table:
    rows = list(csv.DictReader(table))
n = np.array([float(r["n"]) for r in rows])[:, None]
c = np.array([float(r["ac"]) for r in rows])[:, None]
binomial = np.array([r["model"].startswith("binomial") for r in rows])


def curves():
    # The functions below the distributions: no checks, one call for all plans.
    most = np.minimum(400 * (c + 1) / n, 100)
    q = most * np.arange(101) / 100 / 100
    a = special.bdtr(np.minimum(c, n)[binomial], n[binomial].astype(int), q[binomial])
    b = special.pdtr(c[~binomial], n[~binomial] * q[~binomial])
    return a.sum() + b.sum()


lots = np.tile(np.arange(1, 2001), 5).astype(float)
bad = np.ceil(np.repeat(np.arange(1, 6), 2000) * lots / 100 - 1e-9)


def zeros():
    # All lots at once: P of no failure by log gamma, the smallest n by halving; far faster than a product a lot.
    good = lots - bad
    whole = special.gammaln(good + 1) - special.gammaln(lots + 1)
    low, high = np.zeros_like(lots), good + 1
    while np.any(high - low > 1):
        n = np.floor((low + high) / 2)
        pa = np.exp(whole + special.gammaln(lots - n + 1) - special.gammaln(np.maximum(good - n, 0) + 1))
        enough = (pa <= 0.1 + 1e-9) | (n > good)
        open_ = high - low > 1
        high = np.where(open_ & enough, n, high)
        low = np.where(open_ & ~enough, n, low)
    return high.sum()


def best(work, runs):
    fastest, value = float("inf"), work()
    for _ in range(runs):
        begun = time.perf_counter()
        value = work()
        fastest = min(fastest, time.perf_counter() - begun)
    return fastest * 1e3, value


print(*best(curves, 10), *best(zeros, 5))
