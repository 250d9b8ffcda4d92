import sys
import numpy as np
from scipy.integrate import trapezoid

for line in sys.stdin:
    head, times, values = line.strip().split(";")
    a, b, lo, hi = map(float, head.split())
    t = np.array(times.split(), dtype=float)
    v = np.array(values.split(), dtype=float)
    knots = np.concatenate([[a], t[(t > a) & (t < b)], [b]])
    area = trapezoid(np.interp(knots, t, v), knots) / 100
    grid = np.interp(np.arange(a, b) + 0.5, t, v)
    side = (grid > hi).astype(int) - (grid < lo).astype(int)
    print(area / (b - a), area / 60000, (side == 0).sum(), (side == 1).sum(), (side == -1).sum(),
          np.abs(np.diff(side)).sum())
