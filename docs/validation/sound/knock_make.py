#!/usr/bin/env python3
"""Make recordings of taps whose modes are known.

Tools: Python 3.11, numpy 1.24, scipy 1.10 (Debian 12). Shares no code with the
program: each part is a sum of single-mass oscillators (impulse response of the
velocity in closed form) driven by a half-sine push of the hammer, convolved on a
grid eight times finer than the recording, then thinned out, and noise is added.

Usage: knock_make.py FOLDER golden | snr SEED COUNT | pink SEED COUNT

golden  the few files kept in sound/testdata/knock (16-bit WAV) with truth.csv
snr     COUNT recordings of 6 taps at each of 6 noise levels (32-bit float), for the
        table of errors and coverage; knock_table_test.go reads them
pink    the same with noise whose power falls as 1/f, as that of rooms does
"""
import csv
import os
import sys

import numpy as np
from scipy import signal
from scipy.io import wavfile

RATE = 22050
FINE = 8


def ring(modes, seconds, contact, rate=RATE):
    """Velocity of the part after one push, at the given rate."""
    fine = rate * FINE
    t = np.arange(int(seconds * fine)) / fine
    tc = np.arange(int(contact * fine) + 1) / fine
    force = np.sin(np.pi * tc / contact) / contact / fine
    h = np.zeros(len(t))
    for f, zeta, size in modes:
        w = 2 * np.pi * f  # natural, undamped
        wd = w * np.sqrt(1 - zeta * zeta)
        h += size * np.exp(-zeta * w * t) * (np.cos(wd * t) - zeta * w / wd * np.sin(wd * t))
    y = signal.fftconvolve(h, force)[: len(t)]
    return signal.decimate(signal.decimate(y, 4, ftype="fir"), 2, ftype="fir")


def taps(modes, strokes, total, rng, contact=0.4e-3, spread=0.3, rate=RATE):
    """A recording: strokes are (time, strength); sizes of modes differ by tap."""
    x = np.zeros(int(total * rate))
    for at, strength in strokes:
        own = [(f, z, a * strength * np.exp(spread * rng.standard_normal())) for f, z, a in modes]
        y = ring(own, min(1.2, total - at), contact, rate)
        i = int(at * rate)
        y = y[: len(x) - i]
        x[i : i + len(y)] += y
    return x


def damped(f, z):
    return f * np.sqrt(1 - z * z)


BAR = [(387.0, 0.021, 1.0), (1203.0, 0.009, 0.5), (2410.0, 0.015, 0.3)]
CENTRE = [(1011.0, 0.034, 1.0), (1209.5, 0.0095, 0.4), (2410.0, 0.015, 0.3)]
CLOSE = [(640.0, 0.008, 1.0), (662.0, 0.010, 0.7)]


def save(folder, name, x, peak=0.7):
    x = x / np.max(np.abs(x)) * peak if peak else x
    wavfile.write(os.path.join(folder, name), RATE, np.round(x.clip(-1, 32767 / 32768) * 2**15).astype(np.int16))


def golden(folder):
    rng = np.random.default_rng(7001)
    rows = []

    def truth(name, modes):
        rows.extend([name, f, z, damped(f, z)] for f, z, _ in modes)

    def noisy(x, level):
        return x + level * np.max(np.abs(x)) * rng.standard_normal(len(x))

    strokes = [(0.25 + 0.6 * i, 1 + 0.2 * (i % 3)) for i in range(5)]
    save(folder, "bar.wav", noisy(taps(BAR, strokes, 3.3, rng), 0.002))
    truth("bar.wav", BAR)
    save(folder, "centre.wav", noisy(taps(CENTRE, strokes, 3.3, rng), 0.002))
    truth("centre.wav", CENTRE)
    save(folder, "close.wav", noisy(taps(CLOSE, strokes[:3], 2.1, rng), 0.003))
    truth("close.wav", CLOSE)
    # Faults: the second stroke is a double one (18 ms), the third is clipped, the
    # fourth is faint; there is mains hum at 50 and 100 Hz throughout.
    x = taps(BAR, [(0.25, 1), (0.85, 0.8), (0.868, 0.5), (1.45, 9.0), (2.05, 0.03), (2.65, 1.1)], 3.3, rng)
    t = np.arange(len(x)) / RATE
    x = x / np.max(np.abs(x[: int(1.4 * RATE)])) * 0.5
    x += 0.003 * rng.standard_normal(len(x)) + 0.01 * np.sin(2 * np.pi * 50 * t) + 0.006 * np.sin(2 * np.pi * 100 * t + 1)
    save(folder, "faults.wav", x, peak=None)
    truth("faults.wav", BAR)
    with open(os.path.join(folder, "truth.csv"), "w", newline="") as f:
        w = csv.writer(f)
        w.writerow(["file", "natural_hz", "damping", "damped_hz"])
        w.writerows(rows)


def white(rng, n):
    return rng.standard_normal(n)


def pink(rng, n):
    """Noise whose power falls as 1/f above 20 Hz, of standard deviation 1."""
    c = np.fft.rfft(rng.standard_normal(n))
    f = np.fft.rfftfreq(n, 1 / RATE)
    y = np.fft.irfft(c / np.sqrt(np.maximum(f, 20)), n)
    return y / np.std(y)


def snr(folder, seed, count, noise):
    rng = np.random.default_rng(seed)
    rows = []
    for level in [10, 15, 20, 30, 40, 50]:  # dB: largest sample of the recording against the standard deviation of the noise
        for k in range(count):
            f = rng.uniform(150, 1800)
            modes = [(f, np.exp(rng.uniform(np.log(0.004), np.log(0.06))), 1.0),
                     (f * rng.uniform(1.5, 2.6), np.exp(rng.uniform(np.log(0.004), np.log(0.04))), rng.uniform(0.3, 1.0))]
            strokes = [(0.3 + 0.7 * i, 1.0) for i in range(6)]
            x = taps(modes, strokes, 4.6, rng, contact=0.3e-3, spread=0.2)
            x /= np.max(np.abs(x))
            x = 0.5 * (x + 10 ** (-level / 20) * noise(rng, len(x)))
            name = f"snr{level:02d}-{k:03d}.wav"
            wavfile.write(os.path.join(folder, name), RATE, x.astype(np.float32))
            for m, (fn, z, _) in enumerate(modes):
                rows.append([name, level, m, fn, z, damped(fn, z)])
    with open(os.path.join(folder, "truth.csv"), "w", newline="") as f:
        w = csv.writer(f)
        w.writerow(["file", "level_db", "mode", "natural_hz", "damping", "damped_hz"])
        w.writerows(rows)


if __name__ == "__main__":
    os.makedirs(sys.argv[1], exist_ok=True)
    if sys.argv[2] == "golden":
        golden(sys.argv[1])
    else:
        snr(sys.argv[1], int(sys.argv[3]), int(sys.argv[4]), pink if sys.argv[2] == "pink" else white)
