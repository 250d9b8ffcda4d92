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


def zeros():
    # P of no failure in n pieces is a product that only falls: all n of one lot at once, the first below the risk.
    total = 0
    for percent in range(1, 6):
        for lot in range(1, 2001):
            bad = -(-percent * lot // 100)
            good = lot - bad
            k = np.arange(0, good + 1)
            pa = np.cumprod((good - k) / (lot - k))
            total += 1 + int(np.argmax(pa <= 0.1 + 1e-13))
    return total


def best(work, runs):
    fastest, value = float("inf"), work()
    for _ in range(runs):
        begun = time.perf_counter()
        value = work()
        fastest = min(fastest, time.perf_counter() - begun)
    return fastest * 1e3, value


print(*best(curves, 10), *best(zeros, 5))
