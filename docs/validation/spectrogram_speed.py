#!/usr/bin/env python3
"""How long scipy's spectrogram takes for a recording: Hann windows of 4096 samples, each
1024 after the last, as levels in dB. Usage: spectrogram_speed.py FILE.wav. Prints the
processor time in seconds, the best of three, the number of columns and rows, and the mean
level in dB of the row nearest 412 Hz, as that of a sine: its rms against full scale.
The Go side and the comparison: bench/listen_test.go.
"""
import sys
import time

import numpy as np
from scipy import signal
from scipy.io import wavfile

rate, x = wavfile.read(sys.argv[1])
x = x / 32768
best = 1e9
for _ in range(3):
    start = time.process_time()
    f, t, s = signal.spectrogram(x, rate, "hann", 4096, 4096 - 1024, detrend=False, scaling="spectrum", mode="psd")
    level = 10 * np.log10(s + 1e-30)
    best = min(best, time.process_time() - start)
print(f"{best:.6f} {len(t)} {len(f)} {level[np.argmin(abs(f - 412))].mean():.4f}")
