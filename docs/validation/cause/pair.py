#!/usr/bin/env python3
"""Make the example recordings: two parts cut at two speeds, whose waves grow from pass to pass.

Tools: as recordings.py, from which the physics is taken. Usage: pair.py FOLDER
The same work and tool, a mode at 412 Hz with 2 % damping, cut at 200 and at 254 rpm.
There is no lucky speed: waves grow at both, at the same frequency.
"""
import os
import subprocess
import sys

import numpy as np
from scipy.io import wavfile

import recordings as r

folder = sys.argv[1]
os.makedirs(folder, exist_ok=True)
r.mode = lambda rng: (412.0, 0.02)


def save(name, x):
    wav = os.path.join(folder, "tmp.wav")
    wavfile.write(wav, r.RATE, np.round(x / np.max(np.abs(x)) * 20000).astype(np.int16))
    subprocess.run(["ffmpeg", "-nostdin", "-v", "error", "-y", "-bitexact", "-i", wav, "-c:a", "libopus", "-b:a", "24k", os.path.join(folder, name)], check=True)
    os.remove(wav)


class Uniform:
    """The generator of recordings.py, with the spindle speed set by hand."""

    def __init__(self, seed, rpm):
        self.rng, self.rpm = np.random.default_rng(seed), rpm

    def __getattr__(self, name):
        return getattr(self.rng, name)

    def uniform(self, low=0.0, high=1.0, size=None):
        if (low, high) == (60, 420):
            return self.rpm
        if (low, high) == (1.35, 3.0):
            return 2.2
        return self.rng.uniform(low, high, size)

    def random(self):
        return max(self.rng.random(), 0.31)  # the spindle runs on between passes


for name, seed, rpm in [("slow.opus", 41, 200.0), ("fast.opus", 42, 254.0)]:
    rng = Uniform(seed, rpm)
    m = r.Machine(rng)
    hiss, room, tone = m.hiss(), m.room_noise(), r.waves(m)
    x = tone / r.rms(r.cutting(tone, m)) + 0.15 * hiss / r.rms(r.cutting(hiss, m)) + 0.03 * room / r.rms(r.cutting(room, m))
    for k in range(len(m.meshes)):
        g = m.mesh(k)
        x = x + 0.02 * g / r.rms(r.cutting(g, m))
    h = m.hum()
    x = x + 0.02 * h / r.rms(r.cutting(h, m))
    x, _ = r.room_and_phone(np.random.default_rng(seed + 2), x)  # without gain control
    save(name, x)
    print(name, rpm, "rpm,", len(m.passes), "passes, mains", m.mains)
