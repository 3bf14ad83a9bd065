#!/usr/bin/env python3
"""Waves from pass to pass, and from turn to turn, computed in other ways than the
package vibe computes them. Prints vibe.csv.

carry      one mode; |T| searched for its largest value and for |T| = 1 with
           scipy.optimize, Phi from the stiffness, mass and damper
time       one mode; the equation of motion with the last pass's wave as input,
           integrated by Runge-Kutta (4th order, 20 kHz); amplitude and phase fitted
rubbing    one mode; largest |T| with a damper C b / v added to the mode's own
alternate  one mode; the speed goes to and fro between N and q N: growth per pass
passes     one mode; a schedule of widths and speeds with the surface kept along the
           helix, every pass integrated by Runge-Kutta; growth of one wave
matrix     three inclined modes, flanks with unequal chips, rubbing: the 2x2 carry-over
           by Runge-Kutta, one run for each direction of the wave, and its eigenvalues
within     two inclined modes with a cutting force: eigenvalues of the state matrix
lobe       turn-to-turn, root of the characteristic equation with its overlap
slowed     turn-to-turn at one speed: exact border by D-subdivision, searched with brentq
gain       a sharp 60 degree V going from 0.6 to 0.7 mm deep: how the force square to the
           edges changes when the tool moves by a hair, by finite differences of Kienzle's
           law over many short pieces of both flanks
contact    one mode, loss of contact and the deepest of all earlier passes: what three
           last passes leave of marks, same or other speed, with and without infeed

Lengths mm, forces N, time s, mass t.
"""
import sys

import numpy as np
import scipy
from scipy.optimize import brentq, fsolve, minimize_scalar

FN, K1, Z, KC = 400.0, 5000.0, 0.03, 2000.0  # Hz, N/mm, -, N/mm^2
WN = 2 * np.pi * FN
M1, C1 = K1 / WN**2, 2 * Z * K1 / WN
BLIM = 2 * K1 * Z * (1 + Z) / KC


def out(kind, *fields):
    print(",".join([kind] + [f if isinstance(f, str) else f"{f:.7g}" for f in fields]))


def transfer(f, b, extra=0.0):
    """T by solving the equation of motion for a swinging surface."""
    w = 2 * np.pi * f
    dynamic = K1 - M1 * w**2 + 1j * w * (C1 + extra)
    return KC * b / (dynamic + KC * b)


def peak(b, extra=0.0):
    grid = np.linspace(50, 1500, 2901)
    f0 = grid[np.argmax(abs(transfer(grid, b, extra)))]
    r = minimize_scalar(lambda f: -abs(transfer(f, b, extra)), bounds=(f0 - 1, f0 + 1), method="bounded", options={"xatol": 1e-9})
    return -r.fun, r.x


def carry():
    for q in (0.5, 0.8, 1.0, 1.2, 1.5, 2.0, 3.0):
        b = q * BLIM
        t, f = peak(b)
        lo = hi = 0.0
        if t > 1 + 1e-9:
            g = lambda x: abs(transfer(x, b)) - 1
            lo, hi = brentq(g, 300, f), brentq(g, f, 1500)
        out("carry", q, b, t, f, lo, hi)


def rk4(deriv, y, t, dt):
    a = deriv(t, y)
    b = deriv(t + dt / 2, y + dt / 2 * a)
    c = deriv(t + dt / 2, y + dt / 2 * b)
    d = deriv(t + dt, y + dt * c)
    return y + dt / 6 * (a + 2 * b + 2 * c + d)


def fit(t, y, w):
    """Complex amplitude of y at w, for y = Re(a exp(iwt))."""
    basis = np.column_stack([np.cos(w * t), -np.sin(w * t)])
    c = np.linalg.lstsq(basis, y, rcond=None)[0]
    return c[0] + 1j * c[1]


def time():
    for q, f in ((1.5, 417.787), (1.5, 412.0), (1.5, 350.0), (1.5, 480.0), (0.8, 412.0), (1.0, 412.0)):
        b, w, dt = q * BLIM, 2 * np.pi * f, 1 / 20000
        deriv = lambda t, y: np.array([y[1], (KC * b * (np.cos(w * t) - y[0]) - C1 * y[1] - K1 * y[0]) / M1])
        y, n = np.zeros(2), 12000
        ts, ys = np.empty(n), np.empty(n)
        for i in range(n):
            ts[i], ys[i] = i * dt, y[0]
            y = rk4(deriv, y, i * dt, dt)
        a = fit(ts[n // 2 :], ys[n // 2 :], w)
        out("time", q, f, abs(a), np.degrees(np.angle(a)))


def rubbing():
    b = 2 * BLIM
    for c in (30.0, 100.0, 300.0, 600.0):  # N/mm
        for v in (2, 5, 10, 20, 40, 80):  # m/min
            t, f = peak(b, c * b / (v * 1000 / 60))
            if f > 60:  # below, it is the static share of a mode that rubbing has stilled
                out("rubbing", c, v, t, f)


def alternate():
    f = np.linspace(50, 1500, 580001)
    for q in (1.2, 1.5, 2.0, 3.0):
        for s in (1, 0.98, 0.95, 0.92, 0.90, 0.85, 0.80, 0.70):
            both = abs(transfer(f, q * BLIM)) * abs(transfer(s * f, q * BLIM))
            out("alternate", q, s, np.sqrt(both.max()))


def passes():
    """The surface is kept as a function of the spindle's angle and cut again and again."""
    widths = np.array([0.5, 0.8, 1.1, 1.4, 1.6, 1.8, 1.8, 1.8]) * BLIM
    for name, speeds in (("same", [200.0] * 8), ("last", [200.0] * 6 + [170.0] * 2), ("faster", [200.0] * 6 + [230.0] * 2)):
        for waves in (118.0, 125.0, 130.0):  # per turn
            amp = 1.0 + 0j  # of the surface against the spindle's angle
            for b, rpm in zip(widths, speeds):
                w = 2 * np.pi * waves * rpm / 60
                dt, old = 1 / 20000, amp
                deriv = lambda t, y: np.array([y[1], (KC * b * ((old * np.exp(1j * w * t)).real - y[0]) - C1 * y[1] - K1 * y[0]) / M1])
                y, n = np.zeros(2), 8000
                ts, ys = np.empty(n), np.empty(n)
                for i in range(n):
                    ts[i], ys[i] = i * dt, y[0]
                    y = rk4(deriv, y, i * dt, dt)
                amp = fit(ts[n // 2 :], ys[n // 2 :], w)
            out("passes", name, waves, abs(amp))


# three modes of the tool side: Hz, N/mm, damping, direction (radial, tangential, axial)
SLANT = [
    (310.0, 9000.0, 0.04, (1.0, 0.35, 0.2)),
    (430.0, 6000.0, 0.03, (0.2, -0.3, 1.0)),
    (520.0, 12000.0, 0.05, (0.8, 0.6, -0.1)),
]
# elements of edge: length mm, Kn N/mm^2, normal (radial, axial); thrust ratio 0.5
EDGES = [(0.30, 950.0, (0.5, 0.8660254)), (0.12, 1400.0, (1.0, 0.0)), (0.30, 500.0, (0.5, -0.8660254))]
THRUST = 0.5


def slant_system(modes, edges, rub):
    """Modal equations: q" + 2 z w q' + w^2 q = e . F / m, u = sum e q."""
    w = np.array([2 * np.pi * m[0] for m in modes])
    e = np.array([np.array(m[3]) / np.linalg.norm(m[3]) for m in modes])  # mode by direction x, y, z
    mass = np.array([m[1] for m in modes]) / w**2
    z = np.array([m[2] for m in modes])
    stiff, damp = np.zeros((3, 2)), np.zeros((3, 2))  # force on the tool per movement of the tool against the surface, and per its speed
    for length, kn, (nx, nz) in edges:
        back = np.array([-nx, 1 / THRUST, -nz])  # square to the edge, and the cutting force the way the surface moves
        stiff += kn * length * np.outer(back, [nx, nz])
        damp += rub * length * np.outer([-nx, 0, -nz], [nx, nz])
    return w, e, mass, z, stiff, damp


def matrix():
    for rub in (0.0, 0.4):  # N s/mm^2
        w, e, mass, z, stiff, damp = slant_system(SLANT, EDGES, rub)
        plane = e[:, [0, 2]]
        for f in (290.0, 335.0, 420.0, 470.0, 560.0):
            om, dt, n = 2 * np.pi * f, 1 / 40000, 24000
            cols = []
            for wave in (np.array([1.0, 0.0]), np.array([0.0, 1.0])):

                def deriv(t, y):
                    q, p = y[:3], y[3:]
                    u, v = plane.T @ q, plane.T @ p
                    force = stiff @ (u - wave * np.cos(om * t)) + damp @ v
                    return np.concatenate([p, (e @ force) / mass - 2 * z * w * p - w**2 * q])

                y = np.zeros(6)
                ts, us = np.empty(n), np.empty((n, 2))
                for i in range(n):
                    ts[i], us[i] = i * dt, plane.T @ y[:3]
                    y = rk4(deriv, y, i * dt, dt)
                cols.append([fit(ts[n // 2 :], us[n // 2 :, j], om) for j in range(2)])
            t = np.array(cols).T
            out("matrix", rub, f, max(abs(np.linalg.eigvals(t))))


def within():
    edges = lambda b: [(b, 1000.0, (1.0, 0.0))]
    for angle in (-75, -60, -45, -30, -15, 15, 30, 45, 60, 75):
        a = np.radians(angle)
        for ratio in (0.6, 0.85, 1.3):
            for b in (0.2, 0.8):
                modes = [(300.0, 6000.0, 0.03, (np.cos(a), np.sin(a), 0.0)), (300.0 * np.sqrt(ratio), 6000.0 * ratio, 0.03, (-np.sin(a), np.cos(a), 0.0))]
                w, e, mass, z, stiff, _ = slant_system(modes, edges(b), 0.0)
                s = np.diag(w**2) - (e @ stiff @ e[:, [0, 2]].T) / mass[:, None]
                state = np.block([[np.zeros((2, 2)), np.eye(2)], [-s, -np.diag(2 * z * w)]])
                r = np.linalg.eigvals(state)
                worst = r[np.argmax(r.real)]
                free = np.linalg.eigvals(s)
                out("within", angle, ratio, b, worst.real, abs(worst.imag) / 2 / np.pi, abs(free.imag).max() / abs(free).max())


LATHES = {"A": (250.0, 2.26e5, 0.012, 1000.0), "B": (FN, K1, Z, KC), "C": (150.0, 2e4, 0.05, 1384.0)}


def lobe():
    for name, (fn, k, z, kc) in LATHES.items():
        wn = 2 * np.pi * fn
        phi = lambda w: 1 / (k * (1 - (w / wn) ** 2 + 2j * z * w / wn))
        bmin, wmin = 2 * k * z * (1 + z) / kc, wn * np.sqrt(1 + 2 * z)
        for u in (1.0, 0.6):
            for j in range(4):

                def at(w):
                    """Width and speed for which iw is a root, by Newton from the closed form of full overlap."""
                    g = phi(w)
                    eps0 = (np.pi + 2 * np.angle(g)) % (2 * np.pi)

                    def both(p):
                        v = 1 + kc * p[0] * g * (1 - u * np.exp(-1j * p[1]))
                        return [v.real, v.imag]

                    p, _, ok, _ = fsolve(both, [-1 / (2 * kc * g.real), eps0], full_output=True, xtol=1e-13)
                    return p[0], p[1] % (2 * np.pi), ok

                b = lambda w: at(w)[0] if at(w)[2] == 1 else 1e3  # too little overlap for that phase
                r = minimize_scalar(b, bounds=(wmin * 0.995, wmin * 1.06), method="bounded", options={"xatol": 1e-6})
                width, eps, ok = at(r.x)
                assert ok == 1
                out("lobe", name, u, j, width, r.x / 2 / np.pi, 60 * r.x / (2 * np.pi) / (j + eps / 2 / np.pi))


def slowed():
    """x" + 2 z x' + x = w (x(t - tau) - x), z = 0.02: least w > 0 with a root on the
    imaginary axis, over all frequencies at which the phase closes."""
    z = 0.02
    for speed in (0.15, 0.25, 0.40, 0.50, 0.70, 1.00):
        tau = 2 * np.pi / speed
        # imaginary part: 2 z o = -w sin(o tau);  real: 1 - o^2 + w - w cos(o tau) = 0
        g = lambda o: (1 - o * o) * np.sin(o * tau) - 2 * z * o * (1 - np.cos(o * tau))
        grid = np.linspace(1.0001, 6, 600001)
        v = g(grid)
        best = np.inf
        for i in np.nonzero(v[:-1] * v[1:] < 0)[0]:
            o = brentq(g, grid[i], grid[i + 1], xtol=1e-14)
            s = np.sin(o * tau)
            if abs(s) > 1e-6 and -2 * z * o / s > 0:
                best = min(best, -2 * z * o / s)
        out("slowed", speed, best)


def gain():
    s30, c30 = np.sin(np.pi / 6), np.cos(np.pi / 6)
    for name, kc, m in (("1018", 1350.0, 0.21), ("1045", 1500.0, 0.22), ("304", 2150.0, 0.20)):
        for a in (0.0, 5.0, 10.0, 30.0):
            depth, along = 0.1, 0.1 * np.tan(np.radians(a))
            lengths = np.full(500, 0.7 / c30 / 500)

            def force(x, z):
                """Radial and axial force on the tool, moved by x into the work and z along."""
                f = np.zeros(2)
                for side in (1, -1):
                    h = (depth + x) * s30 + side * (along + z) * c30
                    if h > 1e-9:
                        f += THRUST * kc * (lengths * h ** (1 - m)).sum() * np.array([s30, side * c30])
                return f

            d = 1e-7
            fx = (force(d, 0) - force(-d, 0)) / (2 * d)
            fz = (force(0, d) - force(0, -d)) / (2 * d)
            if a == 30.0:  # the trailing flank only touches: move the leading one alone, into the work
                h = 0.1
                k = THRUST * kc * (1 - m) * h**-m * 0.7 / c30
                fx, fz = np.array([k * s30 * s30, k * s30 * c30]), np.array([k * s30 * c30, k * c30 * c30])
            out("gain", name, kc, m, a, fx[0], fz[1], fx[1])


def contact():
    """What three last passes leave of marks of 6 um grown at 200 rev/min, b = 2 b_lim,
    when the tool can leave the metal. Surface: the deepest of all passes."""
    waves, turns = 127.0, 6
    b = 2 * BLIM
    size = int(waves * turns) * 40
    phase = 2 * np.pi * waves * turns * np.arange(size) / size
    for infeed in (0.05, 0.015, 0.0):
        for q in (1.0, 0.7):
            surface = 0.006 * np.cos(phase)  # depth of the cut surface below nominal, mm
            for _ in range(3):
                dt = turns * 60 / (200 * q) / size
                x, v = KC * b * infeed / (K1 + KC * b), 0.0  # how far the tool is pushed out, and its speed
                new = np.empty(size)
                for i in range(size):
                    h0 = infeed - surface[i]

                    def acc(x, v):
                        h = h0 - x
                        return (max(h, 0.0) * KC * b - C1 * v - K1 * x) / M1

                    a1 = acc(x, v)
                    a2 = acc(x + dt / 2 * v, v + dt / 2 * a1)
                    a3 = acc(x + dt / 2 * (v + dt / 2 * a1), v + dt / 2 * a2)
                    a4 = acc(x + dt * (v + dt / 2 * a2), v + dt * a3)
                    new[i] = max(surface[i], infeed - x)
                    x, v = x + dt * v + dt * dt / 6 * (a1 + a2 + a3), v + dt / 6 * (a1 + 2 * a2 + 2 * a3 + a4)
                surface = new - infeed
                surface -= surface[size // 2 :].mean()
            tail = surface[size // 2 :]
            out("contact", infeed, q, np.sqrt(2) * tail.std() / 0.006)


print(f"# tool: numpy {np.__version__}, scipy {scipy.__version__}, python {sys.version.split()[0]}")
print("# input: in the script")
for part in (carry, time, rubbing, alternate, passes, matrix, within, lobe, slowed, gain, contact):
    part()
