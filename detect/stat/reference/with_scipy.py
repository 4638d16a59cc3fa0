"""Figures of scipy for the functions of detect/stat, as JSON on standard output.

make reference runs it and keeps the output, with the versions that made it, in
detect/stat/testdata/scipy.json; TestReference_Scipy compares.
"""
import json
import platform

import numpy
import scipy
from scipy import stats

rng = numpy.random.default_rng(20250103)
cases = {"made_by": {"python": platform.python_version(), "numpy": numpy.__version__, "scipy": scipy.__version__}}

lines = []
for n in (8, 25, 60):
    for ties in (False, True):
        t = numpy.sort(rng.uniform(0, 100, n))
        y = 4.5 - 0.002 * t + rng.normal(0, 0.05, n)
        if ties:
            t, y = numpy.round(t, -1), numpy.round(y, 1)
        fit = stats.theilslopes(y, t, 0.90, method="separate")
        lines.append({"t": t.tolist(), "y": y.tolist(), "slope": fit[0], "intercept": fit[1], "lo": fit[2], "hi": fit[3]})
cases["theil_sen"] = lines

cases["garwood"] = [
    {"n": n, "confidence": c,
     "lo": 0.0 if n == 0 else stats.chi2.ppf((1 - c) / 2, 2 * n) / 2, "hi": stats.chi2.ppf(1 - (1 - c) / 2, 2 * n + 2) / 2}
    for n in (0, 1, 7, 22, 140) for c in (0.8, 0.9, 0.95)]

cases["rates"] = [
    {"count1": a, "t1": t1, "count2": b, "t2": t2, "null": r,
     "p": stats.binomtest(a, a + b, r * t1 / (r * t1 + t2), alternative="greater").pvalue}
    for a, t1, b, t2, r in ((9, 1, 3, 1, 1), (60, 2, 210, 10, 1), (12, 1, 100, 7, 1.2), (0, 1, 5, 2, 1))]

spreads = []
for n in (5, 10, 41):
    x = rng.standard_t(3, n)
    spreads.append({"x": x.tolist(), "median": float(numpy.median(x)), "mad": stats.median_abs_deviation(x)})
cases["mad"] = spreads

counts = [rng.poisson(11, 12).tolist(), rng.negative_binomial(4, 0.3, 15).tolist()]
cases["dispersion"] = [
    {"counts": c, "phi": float(numpy.var(c, ddof=1) / numpy.mean(c)),
     "p": stats.chi2.sf((len(c) - 1) * numpy.var(c, ddof=1) / numpy.mean(c), len(c) - 1)} for c in counts]

print(json.dumps(cases, indent=1))
