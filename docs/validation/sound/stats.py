#!/usr/bin/env python3
"""Averages with random effects and unequal-variance intervals, for comparison.

Tools: Python 3.11, scipy 1.10, statsmodels 0.13 (Debian 12).
Usage: stats.py > sound/testdata/stats.csv

The first data set is the trials of BCG vaccine (log relative risk and variance) of
Colditz et al. 1994, JAMA 271:698, as given in many texts on combining studies; on
it statsmodels confirms the arithmetic below.
"""
import numpy as np
from scipy import optimize, stats
from statsmodels.stats.meta_analysis import combine_effects

bcg_y = [-0.8893, -1.5854, -1.3481, -1.4416, -0.2175, -0.7861, -1.6209, 0.0120, -0.4694, -1.3713, -0.3394, 0.4459, -0.0173]
bcg_v = [0.3256, 0.1946, 0.4154, 0.0200, 0.0512, 0.0069, 0.2230, 0.0040, 0.0564, 0.0730, 0.0124, 0.5325, 0.0714]
sets = {
    "bcg": (bcg_y, bcg_v),
    "taps": ([386.9, 387.4, 386.2, 387.9, 386.6], [0.01, 0.04, 0.02, 0.09, 0.01]),
    "no spread": ([10.0, 10.1, 9.95], [0.04, 0.05, 0.03]),
    "two": ([100.0, 101.5], [0.1, 0.4]),
}
print("# docs/validation/sound/stats.py, scipy 1.10, statsmodels 0.13")
print("set,what,value")
for name, (y, v) in sets.items():
    for a, b in zip(y, v):
        print(f"{name},y,{a!r}\n{name},variance,{b!r}")
    y, v = np.array(y), np.array(v)

    def q(tau2):
        w = 1 / (v + tau2)
        return np.sum(w * (y - np.sum(w * y) / np.sum(w)) ** 2) - (len(y) - 1)

    tau2 = optimize.brentq(q, 0, 100, xtol=1e-15) if q(0) > 0 else 0.0  # Paule and Mandel
    w = 1 / (v + tau2)
    mean = np.sum(w * y) / np.sum(w)
    se = np.sqrt(np.sum(w * (y - mean) ** 2) / ((len(y) - 1) * np.sum(w)))  # Hartung and Knapp
    if name == "bcg":
        r = combine_effects(y, v, method_re="iterated", use_t=True, atol=1e-14, maxiter=2000)
        assert abs(r.mean_effect_re - mean) < 1e-7 and abs(r.sd_eff_w_re_hksj - se) < 1e-7
    print(f"{name},mean,{mean:.12g}\n{name},se,{se:.12g}")
for df in [1, 2, 4, 9.5, 30, 1e6]:
    print(f"t,{df!r},{stats.t.ppf(0.975, df):.12g}")
a = [386.9, 387.4, 386.2, 387.9, 386.6]
b = [388.1, 388.3, 388.0, 388.4]
va, vb = np.var(a, ddof=1) / len(a), np.var(b, ddof=1) / len(b)
t = stats.ttest_ind(b, a, equal_var=False)
df = (va + vb) ** 2 / (va**2 / (len(a) - 1) + vb**2 / (len(b) - 1))
half = stats.t.ppf(0.975, df) * np.sqrt(va + vb)
d = np.mean(b) - np.mean(a)
assert abs(d / np.sqrt(va + vb) - t.statistic) < 1e-9 and abs(2 * stats.t.sf(abs(t.statistic), df) - t.pvalue) < 1e-9
print(f"welch,low,{d - half:.12g}\nwelch,high,{d + half:.12g}")
