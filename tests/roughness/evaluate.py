"""Evaluates one trace with SciPy: five sampling lengths in the middle. In and out: JSON; lengths in µm."""
import json
import sys

import numpy as np
from scipy import signal, stats

order = json.load(sys.stdin)
z = np.array(order["heights"])
spacing = order["spacing"]
t = np.arange(len(z)) - (len(z) - 1) / 2
z = z - np.polyval(np.polyfit(t, z, 1), t)


def mean_line(z, points):
    alpha = np.sqrt(np.log(2) / np.pi)
    reach = int(np.floor(1.4 * points))
    k = np.arange(-reach, reach + 1)
    weights = np.exp(-np.pi * (k / (alpha * points)) ** 2)
    pad = np.zeros(reach)
    both = [np.concatenate([pad, line, pad]) for line in (z, np.ones(len(z)))]
    top, foot = [signal.fftconvolve(line, weights, mode="valid") for line in both]
    return top / foot


z = mean_line(z, order["short"] / spacing)
points = order["cutoff"] / spacing
rough = z - mean_line(z, points)
count = int(round(5 * points))
first = (len(z) - count) // 2
r = rough[first:first + count]
parts = r.reshape(5, -1)
rq = np.sqrt(np.mean(r ** 2))
json.dump({
    "ra": np.mean(np.abs(r)),
    "rq": rq,
    "rq_mean": np.mean(np.sqrt(np.mean(parts ** 2, axis=1))),
    "rp": np.mean(parts.max(axis=1)),
    "rv": np.mean(-parts.min(axis=1)),
    "rz": np.mean(np.ptp(parts, axis=1)),
    "rt": np.ptp(r),
    "rsk": np.mean(r ** 3) / rq ** 3,
    "rku": np.mean(r ** 4) / rq ** 4,
    "skew": stats.skew(r),
    "kurtosis": stats.kurtosis(r, fisher=False),
}, sys.stdout)
