#!/usr/bin/env python3
"""Make recordings of thread cutting whose contents are known.

Tools: Python 3.11, numpy 1.24, scipy 1.10, ffmpeg 5.1 with libopus (Debian 12).
Usage: listen_make.py FOLDER          (the tests read sound/testdata/listen)

Shares no code with the program. A motor hums throughout (mains 50 and 100 Hz, rotor
at 24.3 Hz and twice that); the gear train is in mesh throughout (40 and 26.25 cycles
a turn, with wavering speed); while cutting there is band-limited hiss, swelling once
a turn because the work runs out, and a tone near 412 Hz that belongs to the part
and grows by a fixed factor from pass to pass. A room adds decaying echoes. The
files go through Opus at 32 kbit/s, as a telephone would send them.
"""
import csv
import os
import subprocess
import sys

import numpy as np
from scipy import signal
from scipy.io import wavfile

RATE = 16000
folder = sys.argv[1]
os.makedirs(folder, exist_ok=True)
rows = []


def cut(name, seed, rpm, passes, chatter, growth, swell=0.5, mesh=0.02):
    rng = np.random.default_rng(seed)
    total = passes[-1][1] + 1.5
    n = int(total * RATE)
    t = np.arange(n) / RATE
    # The spindle wavers by 0.05 % with the belt.
    turns = np.cumsum(rpm / 60 * (1 + 5e-4 * np.sin(2 * np.pi * 0.37 * t + 1))) / RATE
    x = 0.001 * rng.standard_normal(n)
    x += 0.01 * np.sin(2 * np.pi * 50.02 * t) + 0.02 * np.sin(2 * np.pi * 100.04 * t + 1) + 0.006 * np.sin(2 * np.pi * 48.6 * t)
    for order, size in [(40, 1.0), (80, 0.4), (26.25, 0.7), (52.5, 0.3)]:
        x += mesh * size * np.sin(2 * np.pi * order * turns + rng.uniform(0, 6))
    hiss = signal.sosfilt(signal.butter(2, [600, 3500], "bandpass", fs=RATE, output="sos"), rng.standard_normal(n))
    gate = np.zeros(n)
    tone = np.zeros(n)
    for k, (a, b) in enumerate(passes):
        i, j = int(a * RATE), int(b * RATE)
        edge = np.minimum(1, np.minimum(np.arange(j - i), np.arange(j - i)[::-1]) / (0.03 * RATE))
        gate[i:j] = edge
        size = chatter[1] * growth**k
        # A mode driven by noise: narrow, not a pure sine.
        f, z = chatter[0] * (1 + 0.0001 * k), 0.0015
        w = 2 * np.pi * f / RATE
        r = np.exp(-z * w)
        m = signal.lfilter([1], [1, -2 * r * np.cos(w), r * r], rng.standard_normal(j - i + RATE))[RATE:]
        tone[i:j] = size * edge * m / np.std(m)
    work = gate * hiss * 0.05 * (1 + swell * np.sin(2 * np.pi * turns)) + tone
    # Echoes: fifteen reflections over 0.25 s.
    room = np.zeros(int(0.25 * RATE))
    room[0] = 1
    room[rng.integers(40, len(room), 15)] += 0.05 * rng.standard_normal(15)
    y = signal.fftconvolve(x + work, room)[:n]
    y *= 0.5 / np.max(np.abs(y))
    save(name, y)
    rows.append([name, "rpm", rpm])
    rows.append([name, "growth", growth])
    rows.append([name, "tone_hz", chatter[0]])
    for a, b in passes:
        rows.append([name, "start", a])
        rows.append([name, "end", b])


def save(name, y):
    wav = os.path.join(folder, "tmp.wav")
    wavfile.write(wav, RATE, y.astype(np.float32))
    subprocess.run(["ffmpeg", "-nostdin", "-v", "error", "-y", "-bitexact", "-i", wav, "-c:a", "libopus", "-b:a", "32k", os.path.join(folder, name)], check=True)
    os.remove(wav)


six = [(1.5 + 5.5 * k, 5.5 + 5.5 * k) for k in range(5)]
cut("slow.opus", 31, 203.4, six, (412.0, 0.004), 1.5)
cut("fast.opus", 32, 262.7, six, (412.0, 0.012), 0.8)
rng = np.random.default_rng(33)
save("tone.opus", 0.3 * np.sin(2 * np.pi * 600 * np.arange(12 * RATE) / RATE) + 0.002 * rng.standard_normal(12 * RATE))
with open(os.path.join(folder, "truth.csv"), "w", newline="") as f:
    w = csv.writer(f, lineterminator="\n")
    w.writerow(["file", "what", "value"])
    w.writerows(rows)
