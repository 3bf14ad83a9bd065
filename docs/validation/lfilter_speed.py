#!/usr/bin/env python3
"""How long scipy's lfilter takes for the linear cut of one mode and one edge: 20 passes of
10 turns at 200 rev/min and 50000 steps a second, each pass the surface of the last one
through T(z). Prints the processor time in seconds, the best of five, and the rms of the
last surface over that of the first. The Go side and the comparison: bench/simulate_test.go.

T(z) is that of the same exact oscillator under a force that goes straight from step to step.
"""
import time

import numpy as np
from scipy.linalg import expm
from scipy.signal import lfilter

FN, K1, Z, KC, Q = 400.0, 5000.0, 0.03, 2000.0, 1.2
STEPS, PASSES, DT = 150000, 20, 1 / 50000


def filter_of_pass():
    w = 2 * np.pi * FN
    m, b = K1 / w**2, Q * 2 * K1 * Z * (1 + Z) / KC
    # state (q, q', force per mass, its slope): the exponential gives the exact step
    a = np.zeros((4, 4))
    a[0, 1] = 1
    a[1] = [-w * w, -2 * Z * w, 1, 0]
    a[2, 3] = 1
    e = expm(a * DT)[:2]
    step, ramp = e[:, 2], e[:, 3] / DT
    f, g0, g1 = e[:, :2], step - ramp, ramp
    # movement per force: q = C (zI - F)^-1 (g0 + z g1) / m
    den = np.array([1, -np.trace(f), np.linalg.det(f)])
    num = np.zeros(3)
    adj = lambda v: np.array([v[0], -f[1, 1] * v[0] + f[0, 1] * v[1]])  # C (zI - F)^adj v, powers z, 1
    num[:2] += adj(g1)
    num[1:] += adj(g0)
    num /= m
    # y = K b Phi (s - y)
    return KC * b * num, den + KC * b * num


def main():
    b, a = filter_of_pass()
    seed = 1e-4 * np.random.default_rng(1).standard_normal(STEPS)
    best = 1e9
    for _ in range(5):
        s, start = seed, time.process_time()
        for _ in range(PASSES):
            s = lfilter(b, a, s)
        best = min(best, time.process_time() - start)
    print(f"{best:.6f} {s.std() / seed.std():.6g}")


main()
