#!/usr/bin/env python3
"""Make 240 recordings of thread cutting whose cause is known: 6 causes, 2 noise levels, 20 each.

Tools: Python 3.11, numpy 1.24, scipy 1.10, ffmpeg 5.1 with libopus and aac (Debian 12).
Usage: recordings.py SET FOLDER [COUNT]     SET is development, held-out, held-out-2 or held-out-3; COUNT per cause and level, 20

Shares no code with the program and none of its physics. The sets have the
same ranges and different seeds; whatever the program's weights were chosen on is
the development set. Every recording is five to seven passes with gaps. It holds,
weakly, what every machine makes: teeth in mesh, hum, the hiss of the cut, a room.
One cause is then put on top:

waves     a mode x'' + 2 z w x' + w^2 x = (K b / m) (y_last - x) + noise, solved pass after
          pass with the surface y_last that the last pass left; b rises with depth; what
          exceeds the chip is cut off, as the tool leaves the metal
gears     the shocks of one mesh: a pulse per tooth, teeth unlike each other, wheels out of true
ringing   the same kind of mode, without a surface: rung by the noise of the chip, or by shocks
          once to three times a turn
motor     hum of the mains and harmonics, a rotor out of balance that slips, or the joint of a belt
tearing   bursts of noise, a few milliseconds long, at random times and of random size
quiet     the hiss alone

The noise level is the rms of what was put on top, over all passes, against room and
hiss together, 100 Hz to 4 kHz (quiet: hiss against room). Then come a room (decaying
noise), a gain control in half of the recordings, and a telephone: Opus, AAC, or a
narrow band with 8-bit logarithmic samples. The stated spindle speed is wrong by up to
3 %, and the spindle sags under the cut.
"""
import csv
import multiprocessing
import os
import subprocess
import sys

import numpy as np
from scipy import signal
from scipy.io import wavfile

RATE = 16000
CAUSES = ["waves", "gears", "ringing", "motor", "tearing", "quiet"]
LEVELS = [20, 10]
SEEDS = {"development": 1000, "held-out": 500000, "held-out-2": 900000, "held-out-3": 1300000}
BAND = signal.butter(4, [100, 4000], "bandpass", fs=RATE, output="sos")


def rms(x):
    return np.sqrt(np.mean(x * x)) + 1e-30


def inband(x):
    return signal.sosfilt(BAND, x)


class Machine:
    """One lathe, one thread, one recording's timing."""

    def __init__(self, rng):
        self.rng = rng
        self.rpm = rng.uniform(60, 420)
        self.mains = rng.choice([50.0, 60.0])
        wheels = rng.choice(np.arange(20, 81), 5, replace=False)
        stud = 1 if rng.random() < 0.7 else 2
        # Cycles a turn of each mesh, as fractions: stud pair, then two change gear pairs.
        a, b, c, d, e = [int(w) for w in wheels]
        self.meshes = [(f"stud gears {a} and {b}", a * stud, 1), (f"change gears {b} and {c}", a * stud, 1) if rng.random() < 0.5
                       else (f"change gears {c} and {d}", a * c * stud, b), (f"change gears {d} and {e}", a * d * stud, b)]
        if self.rpm < 150 and rng.random() < 0.7:
            self.meshes.append(("headstock gears 20 and 48", 48, 1))
        self.passes = []
        t = rng.uniform(1.3, 2.5)
        for _ in range(rng.integers(5, 8)):
            length = rng.uniform(1.6, 3.2)
            self.passes.append((t, t + length))
            t += length + rng.uniform(1.3, 2.4)
        self.n = int(t * RATE)
        self.t = np.arange(self.n) / RATE
        self.gate = np.zeros(self.n)
        self.spans = []
        for a, b in self.passes:
            i, j = int(a * RATE), int(b * RATE)
            rise = int(rng.uniform(0.02, 0.15) * RATE)
            edge = np.minimum(1, np.minimum(np.arange(j - i), np.arange(j - i)[::-1]) / rise)
            self.gate[i:j] = edge
            self.spans.append((i, j))
        load = signal.lfilter([1 - 0.9998], [1, -0.9998], self.gate)
        wander = 1 + rng.uniform(2e-4, 1.5e-3) * np.sin(2 * np.pi * rng.uniform(0.1, 0.6) * self.t + rng.uniform(0, 6))
        speed = self.rpm / 60 * (1 - rng.uniform(0, 0.008) * load) * wander
        # In three of ten the machine is stopped between passes.
        self.running = np.ones(self.n)
        if rng.random() < 0.3:
            run = signal.lfilter([1 - 0.9997], [1, -0.9997], np.where(signal.convolve(self.gate, np.ones(int(0.8 * RATE)), "same") > 0, 1.0, 0.0))
            self.running = np.clip(run, 0, 1)
            speed = speed * self.running
        self.turns = np.cumsum(speed) / RATE
        self.load = load

    def deeper(self, power):
        """1 in the last pass, less before: the cut widens as the square root of the pass."""
        k = np.arange(1, len(self.passes) + 1) / len(self.passes)
        return k ** power

    def noise(self, low, high):
        sos = signal.butter(2, [low, high], "bandpass", fs=RATE, output="sos")
        return signal.sosfilt(sos, self.rng.standard_normal(self.n))

    def hiss(self):
        rng = self.rng
        x = self.noise(rng.uniform(300, 900), rng.uniform(2500, 6500))
        x *= 1 + rng.uniform(0, 0.4) * np.sin(2 * np.pi * self.turns + rng.uniform(0, 6))
        size = self.deeper(rng.uniform(0, 0.5))
        for k, (i, j) in enumerate(self.spans):
            x[i:j] *= size[k] * rng.uniform(0.9, 1.1)
        return x * self.gate / rms(x)

    def room_noise(self):
        white = self.rng.standard_normal(self.n)
        return signal.lfilter([1], [1, -self.rng.uniform(0.5, 0.95)], white)

    def mesh(self, k):
        """A pulse per tooth of the k-th mesh."""
        rng = self.rng
        _, num, den = self.meshes[k]
        phase = self.turns * num / den
        tooth = phase % 1
        x = np.zeros(self.n)
        for h, fall in enumerate(rng.uniform(0.2, 0.6) ** np.arange(4)):
            x += fall * np.cos(2 * np.pi * (h + 1) * phase + rng.uniform(0, 6))
        teeth = int(rng.integers(20, 80))
        unlike = 1 + rng.uniform(0, 0.25) * rng.standard_normal(teeth)
        x *= unlike[np.floor(phase).astype(int) % teeth]
        x *= 1 + rng.uniform(0, 0.4) * np.sin(2 * np.pi * self.turns * rng.choice([1, num / den / teeth]) + rng.uniform(0, 6))
        return x * self.running + 0 * tooth

    def hum(self):
        rng = self.rng
        f = self.mains * (1 + rng.uniform(-8e-4, 8e-4))
        x = np.zeros(self.n)
        for k in range(1, 7):
            x += rng.uniform(0.2, 1) * (1.5 if k == 2 else 0.5 if k % 2 else 0.7) / k * np.sin(2 * np.pi * k * f * self.t + rng.uniform(0, 6))
        return x * self.running


def mode(rng):
    return rng.uniform(150, 1600), np.exp(rng.uniform(np.log(0.008), np.log(0.045)))


def waves(m):
    """Pass after pass over the surface that the last one left."""
    rng = m.rng
    f, z = mode(rng)
    w = 2 * np.pi * f
    worst = rng.uniform(1.35, 3.0)  # width of the cut against Tlusty's limit 2 z (1 + z) in the last pass
    widths = worst * 2 * z * (1 + z) * np.sqrt(np.arange(1, len(m.spans) + 1) / len(m.spans))
    longest = max(j - i for i, j in m.spans)
    surface = np.zeros(longest)
    chip = rng.uniform(15, 60)  # against the seed
    x = np.zeros(m.n)
    for k, (i, j) in enumerate(m.spans):
        n = j - i
        stiff = widths[k] * w * w
        force = rng.standard_normal(longest) * w * w * 0.02 + stiff * surface
        # Closed loop: x'' + 2 z w x' + (w^2 + stiff) x = force, by the bilinear rule with the peak put right.
        wc = np.sqrt(w * w + stiff)
        bend = wc / np.tan(wc / 2 / RATE)
        b, a = signal.bilinear([1], [1, 2 * z * w, wc * wc], fs=bend / 2)
        y = signal.lfilter(b, a, force)
        y = chip * np.tanh(y / chip)  # the tool leaves the metal
        surface = y
        x[i:j] = y[:n] * m.gate[i:j]
    return np.diff(x, prepend=0)


def gears(m):
    k = int(m.rng.integers(len(m.meshes)))
    x = m.mesh(k)
    idle = 10 ** (-m.rng.uniform(2, 20) / 20)  # without load
    return x * (idle + (1 - idle) * m.load), m.meshes[k][0]


def ringing(m):
    rng = m.rng
    f, z = mode(rng)
    size = m.deeper(rng.uniform(0, 0.5))
    drive = np.zeros(m.n)
    kind = rng.choice(["chip", "shocks"])
    for k, (i, j) in enumerate(m.spans):
        if kind == "chip":
            drive[i:j] = rng.standard_normal(j - i) * size[k]
        else:
            per = rng.choice([1, 2, 3])
            turn = np.floor(m.turns[i:j] * per + 1e-9)
            hits = np.flatnonzero(np.diff(turn) > 0)
            hits = np.clip(hits + rng.normal(0, 3e-4 * RATE, len(hits)).astype(int), 0, j - i - 1)
            drive[i + hits] = size[k] * rng.lognormal(0, 0.3, len(hits))
            drive[i:j] += 0.02 * rng.standard_normal(j - i) * size[k]
    w = 2 * np.pi * f / RATE
    r = np.exp(-z * w)
    return signal.lfilter([1], [1, -2 * r * np.cos(w), r * r], drive) * np.maximum(m.gate, 0.0)


def motor(m):
    rng = m.rng
    kind = rng.choice(["hum", "rotor", "belt"], p=[0.4, 0.35, 0.25])
    if kind == "hum":
        x = m.hum()
    else:
        poles = rng.choice([2, 4])
        f = m.mains * 2 / poles * (1 - rng.uniform(0.015, 0.05)) * (1 - 0.012 * rng.uniform(0, 1) * m.load)
        if kind == "belt":
            f = f * rng.uniform(0.15, 0.45)  # the joint comes round more slowly than the pulley
        phase = np.cumsum(f) / RATE
        x = np.zeros(m.n)
        top = 4 if kind == "rotor" else 25
        for k in range(1, top + 1):
            x += rng.uniform(0.3, 1) / (1 if kind == "belt" else k ** 0.5) * np.sin(2 * np.pi * k * phase + rng.uniform(0, 6))
        x *= m.running
    return x * (1 + rng.uniform(-0.1, 0.35) * m.load), kind


def tearing(m):
    rng = m.rng
    x = np.zeros(m.n)
    rate = rng.uniform(25, 140)
    long = rng.uniform(0.0015, 0.006)
    for i, j in m.spans:
        for at in rng.uniform(i, j, rng.poisson(rate * (j - i) / RATE)):
            n = int(6 * long * RATE)
            at = int(at)
            burst = rng.standard_normal(n) * np.exp(-np.arange(n) / (long * RATE)) * rng.lognormal(0, 0.7)
            burst = burst[: max(0, min(n, j - at))]
            x[at:at + len(burst)] += burst
    sos = signal.butter(2, [rng.uniform(300, 800), rng.uniform(3500, 7000)], "bandpass", fs=RATE, output="sos")
    return signal.sosfilt(sos, x)


def cutting(x, m):
    return inband(x)[m.gate > 0.5]


def record(seed, cause, level):
    rng = np.random.default_rng(seed)
    m = Machine(rng)
    hiss, room = m.hiss(), m.room_noise()
    detail = ""
    hiss /= rms(cutting(hiss, m))
    room /= rms(cutting(room, m))
    if cause == "quiet":
        x = hiss + room * 10 ** (-level / 20)
        size = 1
    else:
        mixed = hiss + room * 10 ** (rng.uniform(-12, 6) / 20)
        mixed /= rms(cutting(mixed, m))
        made = globals()[cause](m)
        if isinstance(made, tuple):
            made, detail = made
        made = made / rms(cutting(made, m))
        x = mixed * 10 ** (-level / 20) + made
        size = 1
    # What every machine makes, well below: gears and hum.
    for k in range(len(m.meshes)):
        g = m.mesh(k)
        x = x + size * 10 ** (rng.uniform(-40, -20) / 20) * g / rms(cutting(g, m)) * (0.5 + 0.5 * m.load)
    h = m.hum()
    x = x + size * 10 ** (rng.uniform(-40, -20) / 20) * h / rms(cutting(h, m))
    return m, x, detail


def room_and_phone(rng, x):
    tail = int(rng.uniform(0.15, 0.5) * RATE)
    late = rng.standard_normal(tail) * 10 ** (-3 * np.arange(tail) / tail)
    ir = np.zeros(tail + 1)
    ir[0] = 1
    ir[1 + int(0.003 * RATE):] += late[: tail - int(0.003 * RATE)] / np.sqrt(np.sum(late ** 2)) * 10 ** (-rng.uniform(-3, 8) / 20)
    x = signal.fftconvolve(x, ir)[: len(x)]
    x = signal.sosfilt(signal.butter(2, rng.uniform(60, 160), "highpass", fs=RATE, output="sos"), x)
    agc = rng.random() < 0.5
    if agc:
        ratio, up = rng.uniform(1.5, 4), rng.uniform(0.3, 1.5)
        level = np.sqrt(signal.lfilter([1 - np.exp(-1 / (0.05 * RATE))], [1, -np.exp(-1 / (0.05 * RATE))], x * x)) + 1e-6
        decay = np.exp(-1 / (up * RATE / 64))
        coarse = level[::64].copy()
        for i in range(1, len(coarse)):  # falls slowly
            coarse[i] = max(coarse[i], coarse[i - 1] * decay)
        held = np.interp(np.arange(len(x)), np.arange(0, len(x), 64), coarse)
        top = np.max(held)
        x = x * np.minimum((held / top) ** (1 / ratio - 1), 10)
    x = x * (rng.uniform(0.1, 0.8) / np.max(np.abs(x)))
    return x, agc


def phone(rng, x, path):
    codec = rng.choice(["opus24", "opus32", "aac", "narrow"], p=[0.3, 0.3, 0.25, 0.15])
    pcm = lambda y: np.clip(np.round(y * 32767), -32768, 32767).astype(np.int16)
    if codec == "narrow":
        y = signal.resample_poly(signal.sosfilt(signal.butter(6, [250, 3400], "bandpass", fs=RATE, output="sos"), x), 1, 2)
        law = np.sign(y) * np.log1p(255 * np.abs(np.clip(y, -1, 1))) / np.log(256)
        law = np.round(law * 127) / 127
        y = np.sign(law) * (256 ** np.abs(law) - 1) / 255
        wavfile.write(path, RATE // 2, pcm(y))
        return codec
    wavfile.write(path + ".tmp.wav", RATE, pcm(x))
    out = path + (".m4a" if codec == "aac" else ".ogg")
    how = ["-c:a", "aac", "-b:a", "48k"] if codec == "aac" else ["-c:a", "libopus", "-b:a", codec[4:] + "k"]
    quiet = ["ffmpeg", "-nostdin", "-v", "error", "-y", "-bitexact"]
    subprocess.run(quiet + ["-i", path + ".tmp.wav"] + how + [out], check=True)
    subprocess.run(quiet + ["-i", out, "-ar", str(RATE), "-c:a", "pcm_s16le", path], check=True)
    os.remove(path + ".tmp.wav")
    os.remove(out)
    return codec


def make(job):
    """One recording: its row of the table, and its known lines."""
    chosen, folder, number, level, cause, i = job
    seed = SEEDS[chosen] + 1000 * LEVELS.index(level) + 100 * CAUSES.index(cause) + i
    m, x, detail = record(seed, cause, level)
    rng = np.random.default_rng(seed + 7_000_000)
    name = f"{number:03d}.wav"
    x, agc = room_and_phone(rng, x)
    codec = phone(rng, x, os.path.join(folder, name))
    given = round(m.rpm * (1 + rng.uniform(-0.03, 0.03)))
    row = [name, cause, level, f"{m.rpm:.2f}", given, m.mains, len(m.passes), codec, "yes" if agc else "no", detail]
    return row, [[name, what, num, den] for what, num, den in m.meshes]


def main():
    chosen, folder = sys.argv[1], sys.argv[2]
    count = int(sys.argv[3]) if len(sys.argv) > 3 else 20
    os.makedirs(folder, exist_ok=True)
    jobs = [(chosen, folder, level, cause, i) for level in LEVELS for cause in CAUSES for i in range(count)]
    with multiprocessing.Pool() as pool:
        made = pool.map(make, [(c, f, k, *rest) for k, (c, f, *rest) in enumerate(jobs)], chunksize=4)
    rows, lines = [m[0] for m in made], [line for m in made for line in m[1]]
    for file, head, body in [("truth.csv", ["file", "cause", "snr_db", "rpm", "given_rpm", "mains_hz", "passes", "codec", "gain_control", "detail"], rows), ("lines.csv", ["file", "name", "num", "den"], lines)]:
        with open(os.path.join(folder, file), "w", newline="") as f:
            w = csv.writer(f, lineterminator="\n")
            w.writerow(head)
            w.writerows(body)


if __name__ == "__main__":
    main()
