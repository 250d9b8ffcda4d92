# Lines "model sample accept lot quality" become probabilities of acceptance.
import math
import sys
from fractions import Fraction

from scipy import stats

for line in sys.stdin:
    model, sample, accept, lot, quality = line.split()
    n, c, lot = int(sample), int(accept), int(lot)
    if model == "binomial":
        p = stats.binom.cdf(c, n, float(quality) / 100)
    elif model == "poisson":
        p = stats.poisson.cdf(c, n * float(quality) / 100)
    else:
        p = stats.hypergeom.cdf(c, lot, math.ceil(Fraction(quality) * lot / 100), n)
    print(repr(float(p)))
