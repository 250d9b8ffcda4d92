# Lines "reading u lower upper" ("-" for no limit) become probabilities below, inside, above.
import sys
from decimal import Decimal

from scipy.stats import norm

for line in sys.stdin:
    y, u, lower, upper = line.split()
    below = 0.0 if lower == "-" else norm.cdf(float((Decimal(lower) - Decimal(y)) / Decimal(u)))
    above = 0.0 if upper == "-" else norm.sf(float((Decimal(upper) - Decimal(y)) / Decimal(u)))
    print(repr(float(below)), repr(float(1 - below - above)), repr(float(above)))
