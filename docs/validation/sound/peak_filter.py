"""A peak filter run forwards and backwards, by scipy: iirpeak and lfilter.

Prints the filtered samples of a signal that is stated here and in the test.
"""
import sys

import numpy as np
import scipy
from scipy.signal import iirpeak, lfilter

print("# source: scipy %s, iirpeak and lfilter run both ways, Python %d.%d" % (scipy.__version__, *sys.version_info[:2]))
print("rate_hz,f_hz,width_hz,i,y")
n = np.arange(400)
for rate, f, width in [(8000.0, 428.5, 20.0), (48000.0, 1033.6, 60.0), (8000.0, 3500.0, 300.0)]:
    x = np.sin(2 * np.pi * f * n / rate) + 0.5 * np.cos(2 * np.pi * 0.31 * n) + ((n * 37) % 11 - 5) / 10
    b, a = iirpeak(f, f / width, fs=rate)
    y = lfilter(b, a, lfilter(b, a, x)[::-1])[::-1]
    for i in range(0, 400, 57):
        print("%g,%g,%g,%d,%.12g" % (rate, f, width, i, y[i]))
