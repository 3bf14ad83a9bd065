#!/usr/bin/env python3
"""Fit the taps of sound/testdata/knock by scipy, for comparison.

Tools: Python 3.11, numpy 1.24, scipy 1.10 (Debian 12).
Usage: knock_fit.py REPO

Each tap is cut out at the time that knock_make.py struck it and a sum of dying sine
waves is fitted by scipy.optimize.curve_fit (trust-region reflective), at the full
sampling rate and without any filter, started 2 % off in frequency and 40 % off in
damping. Only the number of modes is taken as known. Writes
sound/testdata/knock/scipy.csv.
"""
import csv
import os
import sys

import numpy as np
from scipy import optimize
from scipy.io import wavfile

folder = os.path.join(sys.argv[1], "sound", "testdata", "knock")
strokes = {
    "bar.wav": [0.25, 0.85, 1.45, 2.05, 2.65],
    "centre.wav": [0.25, 0.85, 1.45, 2.05, 2.65],
    "close.wav": [0.25, 0.85, 1.45],
}
modes = {}
with open(os.path.join(folder, "truth.csv")) as f:
    for r in csv.DictReader(f):
        modes.setdefault(r["file"], []).append((float(r["damped_hz"]), float(r["damping"])))


def model(t, *p):
    y = np.zeros_like(t)
    for f, a, c, s in np.reshape(p, (-1, 4)):
        y += np.exp(-a * t) * (c * np.cos(2 * np.pi * f * t) + s * np.sin(2 * np.pi * f * t))
    return y


rows = []
for name, times in strokes.items():
    rate, raw = wavfile.read(os.path.join(folder, name))
    x = raw / 2**15
    for tap, at in enumerate(times):
        i = int(round((at + 0.0012) * rate))
        y = x[i : i + int(0.3 * rate)]
        t = np.arange(len(y)) / rate
        start = []
        for k, (f, z) in enumerate(modes[name]):
            f0 = f * (1.004 if k % 2 else 0.996)
            z0 = z * 1.4
            start += [f0, 2 * np.pi * f0 * z0, 0.0, 0.0]
        p = np.array(start)
        cols = np.column_stack([g(2 * np.pi * p[4 * k] * t) * np.exp(-p[4 * k + 1] * t) for k in range(len(p) // 4) for g in (np.cos, np.sin)])
        amp, *_ = np.linalg.lstsq(cols, y, rcond=None)
        for k in range(len(p) // 4):
            p[4 * k + 2], p[4 * k + 3] = amp[2 * k], amp[2 * k + 1]
        fit, cov = optimize.curve_fit(model, t, y, p0=p, x_scale=np.tile([1, 1, 0.01, 0.01], len(p) // 4), method="trf", max_nfev=2000)
        se = np.sqrt(np.diag(cov))
        for k in range(len(p) // 4):
            f, a = fit[4 * k], fit[4 * k + 1]
            z = a / np.hypot(a, 2 * np.pi * f)
            rows.append([name, tap, "%.6f" % f, "%.6f" % se[4 * k], "%.8f" % z, "%.8f" % (z * se[4 * k + 1] / a)])
with open(os.path.join(folder, "scipy.csv"), "w", newline="") as f:
    f.write("# docs/validation/sound/knock_fit.py, scipy 1.10.1\n")
    w = csv.writer(f, lineterminator="\n")
    w.writerow(["file", "tap", "freq_hz", "freq_se", "damping", "damping_se"])
    w.writerows(rows)
