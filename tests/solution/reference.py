"""Holds bath chemistry against numpy and scipy: tables by np.interp, roots by brentq, uncertainties by Monte Carlo
with a fixed seed, additions by a linear programme."""
import json
import sys

import numpy as np
from scipy.optimize import brentq, linprog

cases = json.load(sys.stdin)
rows = np.array(cases["rows"], dtype=float)  # wt%, g/mL
rng = np.random.default_rng(20260101)


def density(w):
    return np.interp(w, rows[:, 0], rows[:, 1])


def monte_carlo(case):
    n = 400_000

    def draw(name):
        mean, u = case[name]
        return rng.normal(mean, u, n)

    c = draw("volume") * draw("titrant") / draw("sample") * case["factor"]
    if "density" in case:
        c = c / draw("density")
    return [float(np.mean(c)), float(2 * np.std(c, ddof=1))]


def mass_percent(grams):
    return brentq(lambda w: 10 * w * density(w) - grams, rows[0, 0], rows[-1, 0], xtol=1e-12)


def addition(v, c, t, s, w):
    # draw-off d, water a, concentrate x: v - d + a + x = w, c (v - d) + s x = t w, least d
    found = linprog([1, 0, 0], A_eq=[[-1, 1, 1], [-c, 0, s]], b_eq=[w - v, t * w - c * v],
                    bounds=[(0, v), (0, None), (0, None)], method="highs")
    assert found.status == 0, found.message
    return [float(x) for x in found.x]


factors = {name: np.array(table, dtype=float) for name, table in cases["factors"].items()}
print(json.dumps({
    "monte_carlo": [monte_carlo(case) for case in cases["monte_carlo"]],
    "by_density": [float(np.interp(d, rows[:, 1], rows[:, 0])) for d in cases["densities"]],
    "grams_of": [float(10 * w * density(w)) for w in cases["masses"]],
    "mass_of": [mass_percent(g) for g in cases["grams"]],
    "solids": [[float(k * np.interp(k, table[:, 0], table[:, 1])) for k in cases["conductivities"]]
               for table in (factors["KCl"], factors["NaCl"], factors["442"])],
    "additions": [addition(*case) for case in cases["additions"]],
}))
