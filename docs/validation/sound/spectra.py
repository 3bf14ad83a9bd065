#!/usr/bin/env python3
"""Spectra of the test files by scipy, for comparison.

Tools: Python 3.11, numpy 1.24, scipy 1.10 (Debian 12).
Usage: spectra.py REPO [MILLING_CSV]

Writes sound/testdata/spectra.csv (Welch density and spectrogram of
sound/testdata/knock/bar.wav), internal/dsp/testdata/{windows,ring}.csv (windows,
linear prediction) and, with the milling record (one value a line,
10 kHz), sound/testdata/milling.csv: Welch density of the burst, 3.3 to 5.0 s.
"""
import csv
import os
import sys

import numpy as np
from scipy import signal
from scipy.io import wavfile

repo = sys.argv[1]


def path(*p):
    full = os.path.join(repo, *p)
    os.makedirs(os.path.dirname(full), exist_ok=True)
    return full


def write(name, header, rows):
    with open(name, "w", newline="") as f:
        f.write("# docs/validation/sound/spectra.py, scipy 1.10.1\n")
        w = csv.writer(f, lineterminator="\n")
        w.writerow(header)
        for r in rows:
            w.writerow([x if isinstance(x, (str, int)) else "%.12g" % x for x in r])


rate, raw = wavfile.read(path("sound/testdata/knock/bar.wav"))
x = raw / 2**15
f, p = signal.welch(x, rate, window="hann", nperseg=2048, noverlap=1024, detrend="constant")
rows = [["welch", 2048, k, p[k]] for k in range(0, len(p), 16)]
f, t, s = signal.spectrogram(x, rate, window="hann", nperseg=512, noverlap=512 - 300, detrend="constant", scaling="spectrum", mode="psd")
for col in [0, 17, 19, 24, 60]:
    rows += [["spectrogram", col, k, 10 * np.log10(s[k, col])] for k in range(1, 257, 9)]
write(path("sound/testdata/spectra.csv"), ["what", "column", "bin", "value"], rows)

rows = []
for name in ["hann", "hamming", "blackmanharris", "flattop"]:
    for n in [16, 37]:
        w = signal.get_window(name, n, fftbins=True)
        rows += [[name, n, k, w[k]] for k in range(n)]
write(path("internal/dsp/testdata/windows.csv"), ["window", "n", "k", "value"], rows)

rng = np.random.default_rng(11)
n = np.arange(400)
y = np.exp(-n / 90.0) * np.cos(0.31 * n) + 0.5 * np.exp(-n / 40.0) * np.cos(0.9 * n + 1) + 0.001 * rng.standard_normal(400)
rows = [["ring", k, v] for k, v in enumerate(y)]
order = 4  # least-squares prediction of each sample from the four before it
A = np.array([y[i - order : i][::-1] for i in range(order, len(y))])
b = y[order:]
a, *_ = np.linalg.lstsq(A, b, rcond=None)
res = b - A @ a
rows.append(["covariance_rms", 0, np.sqrt(np.mean(res**2))])
write(path("internal/dsp/testdata/ring.csv"), ["what", "k", "value"], rows)

if len(sys.argv) > 2:
    m = np.loadtxt(sys.argv[2])[33000:50000]
    f, p = signal.welch(m, 10000, window="hann", nperseg=4096, noverlap=2048, detrend="constant")
    peaks, _ = signal.find_peaks(10 * np.log10(p), distance=40)
    best = sorted(peaks, key=lambda k: -p[k])[:12]
    rows = []
    for k in sorted(best):
        a, b, c = 10 * np.log10(p[k - 1 : k + 2])
        d = (a - c) / (2 * (a - 2 * b + c))
        rows.append([int(k), f[k], f[k] + d * f[1], p[k]])
    write(path("sound/testdata/milling.csv"), ["bin", "bin_hz", "peak_hz", "density"], rows)
