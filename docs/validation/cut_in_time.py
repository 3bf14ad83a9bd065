#!/usr/bin/env python3
"""Complete cuts with loss of contact, followed through time in another way than the
package vibe does it: the equations of motion by Runge-Kutta (4th order, explicit),
where vibe solves oscillators exactly under a force that it finds implicitly. Prints
cut_in_time.csv.

sines  one mode, one edge; passes on a blank with waves of two numbers a turn: rms of the
       surface after each pass, one wave of it, and the part of the time out of the metal
vee    three modes, one of them aslant; two flanks and a nose, modified infeed,
       rubbing, a slower pass, a pass without infeed: the same for each edge
story  one mode, one edge, an unsteady force (2 % rms below 10 kHz) from rest, 16 runs with
       different random numbers: rms over all runs of the surface after each pass
white  one mode, one edge, linear: rms after each pass on a surface of white noise, from the
       power spectrum and |T|, no time integration
ratio  the same: rms of one more pass at another speed over that before it

Lengths mm (um where the name says so), forces N, time s, mass t.
"""
import sys

import numpy as np

FN, K1, Z, KC = 400.0, 5000.0, 0.03, 2000.0  # Hz, N/mm, -, N/mm^2
BLIM = 2 * K1 * Z * (1 + Z) / KC
UNSTEADY = 0.02


def out(kind, *fields):
    print(",".join([kind] + [f if isinstance(f, str) else f"{f:.6g}" for f in fields]))


class Lathe:
    """modes: (Hz, N/mm, damping, direction); edges: (normal radial, axial, N/mm per chip, N s/mm of rubbing)"""

    def __init__(self, modes, edges, thrust, runs=1):
        self.w = np.array([2 * np.pi * m[0] for m in modes])[:, None]
        self.e = np.array([np.array(m[3], float) / np.linalg.norm(m[3]) for m in modes])
        self.m = np.array([m[1] for m in modes])[:, None] / self.w**2
        self.z = np.array([m[2] for m in modes])[:, None]
        self.n = np.array([[a, 0.0, c] for a, c, _, _ in edges])
        self.back = np.array([[-a, 1 / thrust, -c] for a, c, _, _ in edges])
        self.k = np.array([e[2] for e in edges])[:, None]
        self.d = np.array([e[3] for e in edges])[:, None]
        self.ne = self.n @ self.e.T  # edge by mode
        self.me = self.e @ self.back.T  # mode by edge
        self.mr = self.e @ self.n.T
        self.runs = runs

    def run(self, surface, target, dt, rub=1.0, noise=None, linear=False, sub=1):
        """surface: edge by run by step, changed in place; target: edge by step"""
        size = surface.shape[2]
        q = np.zeros((len(self.w), self.runs))
        p = np.zeros_like(q)
        off = 0
        h2 = dt / sub

        def acc(q, p, gap, hiss):
            h = gap + self.ne @ q
            f = self.k * h + hiss
            r = rub * self.d * (self.ne @ p)
            if not linear:
                cut = h > 0
                f, r = f * cut, r * cut
            return (self.me @ f - self.mr @ r) / self.m - 2 * self.z * self.w * p - self.w**2 * q

        before = surface.copy()
        for i in range(size):
            # step i of the surface is cut by the state at the end of step i
            for k in range(sub):
                s0, s1, s2 = k / sub, (k + 0.5) / sub, (k + 1) / sub
                a, b, c = (self.gap(before, target, i, s, noise) for s in (s0, s1, s2))
                k1 = acc(q, p, *a)
                k2 = acc(q + h2 / 2 * p, p + h2 / 2 * k1, *b)
                k3 = acc(q + h2 / 2 * (p + h2 / 2 * k1), p + h2 / 2 * k2, *b)
                k4 = acc(q + h2 * (p + h2 / 2 * k2), p + h2 * k3, *c)
                q = q + h2 * p + h2 * h2 / 6 * (k1 + k2 + k3)
                p = p + h2 / 6 * (k1 + 2 * k2 + 2 * k3 + k4)
            path = target[:, i, None] + self.ne @ q
            if linear:
                surface[:, :, i] = path
            else:
                off += np.all(path <= before[:, :, i], axis=0).mean()
                surface[:, :, i] = np.maximum(before[:, :, i], path)
        return off / size

    def gap(self, before, target, i, s, noise):
        """between the ends of step i-1 and step i"""
        j = max(i - 1, 0)
        g = (1 - s) * (target[:, j, None] - before[:, :, j]) + s * (target[:, i, None] - before[:, :, i])
        hiss = 0.0 if noise is None else (1 - s) * noise[:, :, j] + s * noise[:, :, i]
        return g, hiss


def first(per_turn, size):
    return min(per_turn, size // 4)


def tell(kind, case, number, surface, per_turn, waves, off):
    """rms and one wave of each edge's surface, over whole turns"""
    size = surface.shape[2]
    f = first(per_turn, size)
    for e in range(surface.shape[0]):
        s = surface[e, 0, f:]
        n = (size - f) // per_turn * per_turn
        i = np.arange(size - n, size)
        mean = s.mean()
        c = 2 / n * np.sum((surface[e, 0, i] - mean) * np.exp(-2j * np.pi * waves * i / per_turn))
        out(kind, case, number, e, 1000 * np.sqrt(((s - mean) ** 2).mean()), 1000 * c.real, 1000 * c.imag, off)


def blank(n, per_turn, turns, waves):
    """waves: (per turn, radial, axial, phase), on edges with the normals n"""
    i = np.arange(int(round(per_turn * turns)))
    return np.array([[sum((e[0] * r + e[2] * a) * np.cos(2 * np.pi * w * i / per_turn + ph) for w, r, a, ph in waves)] for e in n])


def sines():
    for case, infeeds, speeds in (
        ("real", (0.05, 0.05, 0.05, 0.05), (200, 200, 200, 200)),
        ("last", (0.05, 0.05, 0.03, 0.03), (200, 200, 140, 140)),
        ("spring", (0.05, 0.05, 0.0, 0.0), (200, 200, 200, 140)),
    ):
        per_turn, turns = 12000, 2
        lathe = Lathe([(FN, K1, Z, (1, 0, 0))], [(1.0, 0.0, KC * 2 * BLIM, 0.0)], 1.0)
        surface = blank(lathe.n, per_turn, turns, ((127, 0.004, 0, 0.3), (119, 0.003, 0, 1.1)))
        depth = 0.0
        for k, (d, rpm) in enumerate(zip(infeeds, speeds)):
            depth += d
            target = np.full((1, surface.shape[2]), depth)
            off = lathe.run(surface, target, 60 / rpm / per_turn)
            tell("sines", case, k + 1, surface, per_turn, 127, off)


SLANT = [(420.0, 8000.0, 0.03, (1, 0, 0)), (510.0, 9000.0, 0.03, (0, 0, 1)), (700.0, 15000.0, 0.05, (0.6, 0.5, 0.6))]


def vee():
    per_turn, turns = 12000, 2
    s30, c30 = 0.5, np.sqrt(0.75)
    length, flat, kn, c, dia = 0.9, 0.3, 1000.0, 12.0, 20.0
    # straight in and along the thread, per pass; the rubbing C is in N/mm
    passes = ((0.05, 0.02, 200), (0.05, 0.02, 200), (0.04, 0.0, 150), (0.0, 0.0, 200), (0.05, 0.02, 200))
    normals = ((s30, c30), (1.0, 0.0), (s30, -c30))
    widths = (length, flat, length)
    edges = [(n[0], n[1], kn * w, w * c) for n, w in zip(normals, widths)]
    lathe = Lathe(SLANT, edges, 0.5)
    surface = blank(lathe.n, per_turn, turns, ((127, 0.03, 0.0, 0.3), (151, 0.02, 0.03, 1.1)))
    x = z = 0.0
    for k, (dx, dz, rpm) in enumerate(passes):
        x, z = x + dx, z + dz
        target = np.array([[n[0] * x + n[1] * z] * surface.shape[2] for n in normals])
        v = np.pi * dia * rpm / 60
        off = lathe.run(surface, target, 60 / rpm / per_turn, rub=1 / v)
        tell("vee", "modified", k + 1, surface, per_turn, 127, off)


# b / b_lim, then infeed and speed of each pass; the last four go on after the ninth pass of b2
STORIES = {
    "b0.8": (0.8, [0.05] * 12, [200] * 12),
    "b1.5": (1.5, [0.05] * 12, [200] * 12),
    "alternate": (2.0, [0.05] * 12, [200, 170] * 6),
    "b2": (2.0, [0.05] * 12, [200] * 12),
    "clean": (2.0, [0.05] * 3, [140] * 3),
    "light": (2.0, [0.015] * 3, [140] * 3),
    "spring": (2.0, [0.0] * 3, [200] * 3),
    "springslow": (2.0, [0.0] * 3, [140] * 3),
}


def story():
    runs, per_turn, turns = 16, 4000, 4
    size = per_turn * turns
    ninth = None
    for name, (q, infeeds, speeds) in STORIES.items():
        random = np.random.default_rng(1)
        k = KC * q * BLIM
        lathe = Lathe([(FN, K1, Z, (1, 0, 0))], [(1.0, 0.0, k, 0.0)], 1.0, runs)
        surface, depth, done = (np.zeros((1, runs, size)), 0.0, 0) if len(infeeds) == 12 else (ninth.copy(), 0.45, 9)
        for number, (d, rpm) in enumerate(zip(infeeds, speeds), done + 1):
            depth += d
            rate = rpm / 60 * per_turn
            noise = UNSTEADY * k * d * np.sqrt(rate / 2 / 10000) * random.standard_normal((1, runs, size))
            lathe.run(surface, np.full((1, size), depth), 1 / rate, noise=noise)
            s = surface[0, :, first(per_turn, size) :]
            out("story", name, number, 1000 * np.sqrt(s.var(axis=1).mean()))
            if name == "b2" and number == 9:
                ninth = surface.copy()


def transfer(f, b):
    w, m = 2 * np.pi * f, K1 / (2 * np.pi * FN) ** 2
    return KC * b / (K1 - m * w**2 + 1j * w * 2 * Z * np.sqrt(K1 * m) + KC * b)


def white():
    f = (np.arange(200000) + 0.5) / 20  # to 10 kHz
    for q in (0.8, 1.5):
        for n in (1, 2, 5, 10):
            out("white", q, n, 0.1 * np.sqrt((abs(transfer(f, q * BLIM)) ** (2 * n)).mean()))
    ten = abs(transfer(f, 1.5 * BLIM)) ** 20
    for s in (1, 0.95, 0.9, 0.8, 0.7, 1.1, 1.25):
        after = ten * abs(transfer(s * f, 1.5 * BLIM)) ** 2
        out("ratio", s, np.sqrt(after.mean() / ten.mean()))


print(f"# tool: numpy {np.__version__}, python {sys.version.split()[0]}")
print("# input: in the script")
for part in (sines, vee, white, story):
    part()
    sys.stdout.flush()
