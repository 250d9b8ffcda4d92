# Constants, quantiles and a simulation to hold our figures against. Lines of the answer: name, then numbers.
import sys
import numpy as np
from scipy import constants, stats

faraday = constants.physical_constants["Faraday constant"][0]
print("faraday", float(faraday))
print("hydrogen", float(constants.R * 298.15 / constants.atm * 3600 / (2 * faraday) * 1000))
for n in list(range(1, 31)) + [40, 60, 120]:
    print("t", n, float(stats.t.ppf(0.975, n)))
for n in range(3, 31):
    t = stats.t.ppf(1 - 0.05 / (2 * n), n - 2)
    print("grubbs", n, float((n - 1) / n**0.5 * (t * t / (n - 2 + t * t)) ** 0.5))

# Removal by charge and by weighing with normal errors; expanded means two standard deviations.
draws = 400_000
rng = np.random.default_rng(20261126)
normal = lambda value, expanded: rng.normal(value, expanded / 2, draws)
ew, rho = 18.99, 7.94
depth = (
    normal(150, 3.0) * normal(5, 0.05) * 60 * normal(ew, ew * 0.03) * normal(0.85, 0.04) * 1e4
    / (faraday * normal(rho, rho * 0.005) * normal(1000, 40))
)
print("charge", float(depth.mean()), float(2 * depth.std(ddof=1)))
depth = 1e4 * (normal(50.0000, 0.004) - normal(49.9206, 0.004)) / (normal(rho, rho * 0.005) * normal(100, 3))
print("weighing", float(depth.mean()), float(2 * depth.std(ddof=1)))
depth = (normal(12000, 2.0) - normal(11980, 2.0)) / 2
print("dimensions", float(depth.mean()), float(2 * depth.std(ddof=1)))

# Coupons: efficiencies on the standard input.
found = np.array([float(x) for x in sys.stdin.read().split()])
low, high = stats.t.interval(0.95, len(found) - 1, loc=found.mean(), scale=stats.sem(found))
print("coupons", float(found.mean()), float(found.std(ddof=1)), float((high - low) / 2))
