#!/usr/bin/env python3
"""Make recordings of things that are no cutting, to hear whether a cause is named for them all the same.

Tools: Python 3.11, numpy 1.24, scipy 1.10, ffmpeg 5.1, espeak-ng 1.51 (Debian 12).
Usage: elsewhere.py SET FOLDER [COUNT]     SET is development, held-out or kept; COUNT of each kind, 6

"kept" makes one short recording each of five kinds, which are kept in cause/testdata/elsewhere.

Shares no code with the program, and none with recordings.py. Kinds:

speech    a synthetic voice reads numbers and sentences, with pauses
music     a tune over chords, plucked or blown, with a beat or without one
whistling short notes with the lips, gliding and trembling a little
fan       air past blades: a hiss, a blade tone and its multiples, the hum of its motor; it runs through, or is switched
hammer    blows on a plate whose modes ring
sawing    strokes of a hand saw: hiss that swells and stops, two a second
barking   short harmonic bursts that fall in pitch
rain      drops on a roof, thousands a second, in showers
engine    a car that is started, revved and stopped: firing pulses at a speed that changes
drill     a hand drill, switched on and off, whose speed rises and sags
beeps     the same pure tone switched on and off evenly
silence   a quiet room with the noise of the microphone
"""
import csv
import os
import subprocess
import sys

import numpy as np
from scipy import signal
from scipy.io import wavfile

RATE = 16000
SEEDS = {"development": 31000, "held-out": 731000, "kept": 52000}
KEPT = ["speech", "music", "hammer", "sawing", "rain"]
KINDS = ["speech", "music", "whistling", "fan", "hammer", "sawing", "barking", "rain", "engine", "drill", "beeps", "silence"]
QUIET = ["ffmpeg", "-nostdin", "-v", "error", "-y", "-bitexact"]


def band(x, low, high):
    return signal.sosfilt(signal.butter(2, [low, high], "bandpass", fs=RATE, output="sos"), x)


def level(x):
    return x / (np.sqrt(np.mean(x * x)) + 1e-12)


def smooth(rng, n, slowest):
    """A random curve, about one standard deviation high, that moves no faster than the given Hz."""
    knots = max(int(n / RATE * slowest), 3)
    return np.interp(np.arange(n), np.linspace(0, n, knots), rng.standard_normal(knots))


def onoff(rng, n, on, off, rise=0.03):
    """A gate, open and shut for random times within the ranges, in seconds."""
    g, t = np.zeros(n), int(rng.uniform(*off) * RATE)
    spans = []
    while t < n:
        k = int(rng.uniform(*on) * RATE)
        g[t:t + k] = 1
        spans.append((t, min(t + k, n)))
        t += k + int(rng.uniform(*off) * RATE)
    w = np.hanning(max(int(rise * RATE), 3))
    return np.convolve(g, w / w.sum(), "same"), spans


def speech(rng, n):
    words = ("the of lathe bench seven tool morning coffee right turn forty two gear spindle look here again thread we will now try "
             "pitch slowly because after lunch depth ten what about it never mind").split()
    out = []
    while sum(map(len, out)) < n:
        text = " ".join(rng.choice(words, rng.integers(4, 14))) + "."
        voice = rng.choice(["en-gb", "en-us", "de", "fr", "en-gb+f3", "en-us+m4"]) if not out else voice
        raw = subprocess.run(["espeak-ng", "-v", voice, "-s", str(rng.integers(110, 190)), "-p", str(rng.integers(20, 80)), "--stdout", text], check=True, capture_output=True).stdout
        x = np.frombuffer(raw[44:], dtype="<i2").astype(float)
        out += [signal.resample_poly(x, 320, 441), np.zeros(int(rng.uniform(0.1, 1.5) * RATE))]
    return np.concatenate(out)[:n]


def music(rng, n):
    x, beat = np.zeros(n), rng.uniform(0.25, 0.6)
    scale = 110 * 2 ** (np.array([0, 2, 4, 5, 7, 9, 11, 12, 14, 16, 17, 19]) / 12) * 2 ** rng.uniform(0, 1)
    plucked = rng.random() < 0.5
    for k in range(int(n / RATE / beat)):
        at = int(k * beat * RATE)
        chord = rng.integers(0, 6) if k % 4 == 0 else chord
        for note, loud in [(scale[chord] / 2, 0.7), (scale[chord + 2], 0.4), (scale[chord + 4], 0.4), (scale[rng.integers(3, 12)] * 2, 1)]:
            if rng.random() < 0.2:
                continue
            m = min(int(beat * RATE * rng.choice([1, 2])), n - at)
            t = np.arange(m) / RATE
            env = np.exp(-t / 0.3) if plucked else np.minimum(1, t / 0.05) * np.minimum(1, (t[-1] - t + 1e-3) / 0.05)
            for h in range(1, 8):
                x[at:at + m] += loud * env * np.sin(2 * np.pi * note * h * t * (1 + 0.003 * np.sin(2 * np.pi * 5 * t) * (not plucked))) / h ** 1.3
        if rng.random() < 0.7:
            m = min(2000, n - at)
            x[at:at + m] += rng.uniform(0, 0.6) * rng.standard_normal(m) * np.exp(-np.arange(m) / 300)
    return x


def whistling(rng, n):
    g, spans = onoff(rng, n, (0.6, 3.0), (0.4, 1.6), 0.08)
    f = np.zeros(n)
    for a, b in spans:
        f[a:b] = rng.uniform(700, 2200)
    f = f * (1 + 0.004 * smooth(rng, n, 4)) * (1 + 0.006 * np.sin(2 * np.pi * 5.5 * np.arange(n) / RATE))
    return g * (np.sin(2 * np.pi * np.cumsum(f) / RATE) + 0.05 * band(rng.standard_normal(n), 700, 4000))


def fan(rng, n):
    mains, t = rng.choice([50.0, 60.0]), np.arange(n) / RATE
    speed = mains / rng.choice([1, 2]) * (1 - rng.uniform(0.02, 0.12))
    blades = rng.integers(3, 9)
    if rng.random() < 0.5:
        run = np.ones(n)
    else:
        run, _ = onoff(rng, n, (3, 8), (2, 5), 0.8)
    phase = np.cumsum(speed * np.clip(run, 0, 1) * (1 + 0.001 * smooth(rng, n, 1))) / RATE
    x = run ** 3 * level(band(rng.standard_normal(n), rng.uniform(60, 200), rng.uniform(800, 4000)))
    for k in range(1, 5):
        x += run ** 2 * rng.uniform(0.1, 1.2) / k * np.sin(2 * np.pi * (k * blades * phase + rng.uniform()))
    for k in (1, 2, 4):
        x += (run > 0.1) * rng.uniform(0, 0.4) * np.sin(2 * np.pi * (k * mains * t + rng.uniform()))
    return x


def hammer(rng, n):
    modes = [(rng.uniform(200, 3500), rng.uniform(0.02, 0.3), rng.uniform(0.2, 1)) for _ in range(rng.integers(3, 9))]
    x, at = 0.003 * rng.standard_normal(n), int(rng.uniform(0.2, 1) * RATE)
    pace = rng.uniform(0.3, 1.5)
    while at < n:
        m = min(RATE, n - at)
        t = np.arange(m) / RATE
        size = rng.lognormal(0, 0.3)
        for f, tau, a in modes:
            x[at:at + m] += size * a * rng.uniform(0.6, 1) * np.exp(-t / tau) * np.sin(2 * np.pi * f * t)
        at += int(pace * rng.lognormal(0, 0.1) * RATE)
    return x


def sawing(rng, n):
    stroke = np.sin(2 * np.pi * np.cumsum(rng.uniform(0.8, 2.2) * (1 + 0.05 * smooth(rng, n, 1))) / RATE)
    g, _ = onoff(rng, n, (4, 9), (1, 3))
    force = np.maximum(stroke, 0) + rng.uniform(0, 0.4) * np.maximum(-stroke, 0)
    teeth = rng.uniform(200, 700) * np.abs(stroke)
    buzz = np.sin(2 * np.pi * np.cumsum(teeth) / RATE)
    return g * force * (level(band(rng.standard_normal(n), rng.uniform(300, 900), rng.uniform(2500, 6000))) + rng.uniform(0, 0.7) * buzz)


def barking(rng, n):
    x, f = np.zeros(n), rng.uniform(250, 700)
    at = int(rng.uniform(0.3, 1.5) * RATE)
    while at < n:
        m = min(int(rng.uniform(0.12, 0.3) * RATE), n - at)
        t = np.arange(m) / RATE
        phase = 2 * np.pi * np.cumsum(f * rng.uniform(0.95, 1.05) * (1.15 - 0.9 * t)) / RATE
        y = sum(np.sin(h * phase) / h for h in range(1, 9)) + 0.5 * rng.standard_normal(m)
        x[at:at + m] += y * np.hanning(m) * rng.uniform(0.7, 1)
        at += m + int(rng.choice([rng.uniform(0.15, 0.4), rng.uniform(1, 3)], p=[0.7, 0.3]) * RATE)
    return x


def rain(rng, n):
    drops = rng.poisson(rng.uniform(200, 3000) / RATE, n) * rng.lognormal(0, 0.8, n)
    x = band(drops * rng.choice([-1, 1], n), rng.uniform(300, 1200), rng.uniform(3000, 7000))
    return x * np.exp(rng.uniform(0, 0.8) * smooth(rng, n, 0.5)) + 0.02 * rng.standard_normal(n)


def engine(rng, n):
    g, _ = onoff(rng, n, (6, 15), (1.5, 4), 0.5)
    idle = rng.uniform(700, 1000)
    rev = idle + rng.uniform(200, 2500) * np.maximum(smooth(rng, n, 0.6), 0)
    phase = np.cumsum(rev / 60 * 2) / RATE  # four cylinders
    fire = signal.sawtooth(2 * np.pi * phase, 0.2) ** 3 * (1 + 0.2 * np.sin(np.pi * phase / 2))
    return g * (level(band(fire, 40, 1500)) + 0.3 * level(band(rng.standard_normal(n), 100, 3000)) * (rev / idle))


def drill(rng, n):
    g, spans = onoff(rng, n, (1.5, 5), (0.8, 3), 0.15)
    load = np.zeros(n)
    for a, b in spans:
        load[a:b] = rng.uniform(0, 0.3) * np.linspace(0, 1, b - a) + 0.03 * smooth(rng, b - a, 5)
    f = rng.uniform(250, 500) * g * (1 - load)
    phase = 2 * np.pi * np.cumsum(f) / RATE
    x = sum(rng.uniform(0.3, 1) / h * np.sin(h * phase) for h in range(1, 7))
    return g * (x + rng.uniform(0.3, 1.5) * band(rng.standard_normal(n), 500, 6000))


def beeps(rng, n):
    on = rng.uniform(0.5, 2.5)
    f, period = rng.uniform(300, 2500), on + rng.uniform(0.5, 2)
    t = np.arange(n) / RATE
    g = np.convolve((t % period < on).astype(float), np.ones(80) / 80, "same")
    return g * np.sin(2 * np.pi * f * t) + 0.01 * rng.standard_normal(n)


def silence(rng, n):
    return signal.lfilter([1], [1, -rng.uniform(0.3, 0.95)], rng.standard_normal(n)) * 1e-3


def main():
    chosen, folder = sys.argv[1], sys.argv[2]
    count = int(sys.argv[3]) if len(sys.argv) > 3 else 6
    os.makedirs(folder, exist_ok=True)
    rows = []
    for k, kind in enumerate(KEPT if chosen == "kept" else KINDS):
        for i in range(count):
            rng = np.random.default_rng(SEEDS[chosen] + 100 * k + i)
            n = int((14 if chosen == "kept" else rng.uniform(12, 30)) * RATE)
            x = globals()[kind](rng, n)
            if kind != "silence":
                x = level(x) + 10 ** (-rng.uniform(20, 45) / 20) * level(signal.lfilter([1], [1, -0.9], rng.standard_normal(n)))
                x *= rng.uniform(0.1, 0.8) / np.max(np.abs(x))
            name = f"{kind}-{i}." + ("ogg" if chosen == "kept" else str(rng.choice(["ogg", "wav"])))
            path = os.path.join(folder, name)
            plain = path + ".tmp.wav"
            wavfile.write(plain, RATE, np.clip(np.round(x * 32767), -32768, 32767).astype(np.int16))
            if name.endswith("ogg"):
                subprocess.run(QUIET + ["-i", plain, "-ar", "48000", "-c:a", "libopus", "-b:a", "20k" if chosen == "kept" else "32k", path], check=True)
            else:  # through AAC
                subprocess.run(QUIET + ["-i", plain, "-ar", "48000", "-c:a", "aac", "-b:a", "64k", path + ".m4a"], check=True)
                subprocess.run(QUIET + ["-i", path + ".m4a", path], check=True)
                os.remove(path + ".m4a")
            os.remove(plain)
            rows.append([name, kind, int(rng.integers(60, 420))])
    with open(os.path.join(folder, "made.csv"), "w", newline="") as f:
        w = csv.writer(f, lineterminator="\n")
        w.writerow(["file", "kind", "given_rpm"])
        w.writerows(rows)


if __name__ == "__main__":
    main()
