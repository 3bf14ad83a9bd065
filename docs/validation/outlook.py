#!/usr/bin/env python3
"""How often waves grow in plausible cases, and the rubbing that own cuts tell, computed
in other ways than the package vibe computes them. Prints outlook.csv.

  outlook.py ../../vibe/data/plausible.csv outlook.cases.csv

The table of plausible ranges and the stiffness of the cut in each pass (checked on its
own, see gain in vibe.py) are read; everything else is made here:

below    with or without the centre: figures of carry-over and of log10 growth below which
         5, 25, 50, 75 and 95 of 100 cases lie
share    part of the cases in which waves grow tenfold (marks), less than threefold
         (quiet), and in which the centre helps
own_cuts speeds and growths seen, and the rubbing C fitted to them: likely, low, high

A bar of 20 Timoshenko elements on springs, all its modes, each case solved anew; the
draws are numpy's, unsorted by class; growth on a fine grid of frequencies.

Lengths mm, forces N, time s, mass t.
"""
import csv
import sys

import numpy as np
import scipy
from scipy.linalg import eigh
from scipy.optimize import brentq, minimize_scalar
from scipy.stats import norm, t as student

E, NU, RHO = 205e3, 0.29, 7850e-12
D, LENGTH = 12.0, 150.0
CHUCK, TILT, TAIL = 50e3, 8e7, 8e3  # N/mm, N mm/rad, N/mm
TOOL, TOOL_AXIAL = 20e3, 15e3
CASES, SEED = 3000, 2024
ELEMENTS = 20


def out(kind, *fields):
    print(",".join([kind] + [f if isinstance(f, str) else f"{f:.6g}" for f in fields]))


def table(path):
    rows = [r for r in csv.reader(open(path)) if r and not r[0].startswith("#")]
    return {r[0]: (float(r[2]), float(r[3]) if r[3] else 0.0, float(r[4])) for r in rows[1:]}


def drawn(z, low, likely, high):
    end = np.where(z < 0, low, high)
    return likely * np.exp(np.log(end / likely) * abs(z) / norm.ppf(0.95))


def beam():
    """Stiffness and consistent mass of a round bar, shear after Cowper."""
    a, i = np.pi * D**2 / 4, np.pi * D**4 / 64
    g, k = E / 2 / (1 + NU), 6 * (1 + NU) / (7 + 6 * NU)
    h = LENGTH / ELEMENTS
    phi = 12 * E * i / (k * g * a * h**2)
    ke = E * i / h**3 / (1 + phi) * np.array([
        [12, 6 * h, -12, 6 * h], [6 * h, (4 + phi) * h**2, -6 * h, (2 - phi) * h**2],
        [-12, -6 * h, 12, -6 * h], [6 * h, (2 - phi) * h**2, -6 * h, (4 + phi) * h**2]])
    # mass by Gauss integration of the exact shapes of a Timoshenko element
    me = np.zeros((4, 4))
    for x, w in zip(*np.polynomial.legendre.leggauss(6)):
        s = (x + 1) / 2
        n = np.array([
            1 - 3 * s**2 + 2 * s**3 + phi * (1 - s), h * (s - 2 * s**2 + s**3 + phi * (s - s**2) / 2),
            3 * s**2 - 2 * s**3 + phi * s, h * (-s**2 + s**3 + phi * (s**2 - s) / 2)]) / (1 + phi)
        r = np.array([
            6 * (s**2 - s) / h, 1 - 4 * s + 3 * s**2 + phi * (1 - s), 6 * (s - s**2) / h, -2 * s + 3 * s**2 + phi * s]) / (1 + phi)
        me += w / 2 * h * RHO * (a * np.outer(n, n) + i * np.outer(r, r))
    size = 2 * (ELEMENTS + 1)
    kk, mm = np.zeros((size, size)), np.zeros((size, size))
    for e in range(ELEMENTS):
        s = slice(2 * e, 2 * e + 4)
        kk[s, s] += ke
        mm[s, s] += me
    return kk, mm, i, phi, h


def at_place(x, h, phi):
    """Row that picks the deflection at x."""
    e = min(int(x / h), ELEMENTS - 1)
    s = x / h - e
    row = np.zeros(2 * (ELEMENTS + 1))
    row[2 * e : 2 * e + 4] = np.array([
        1 - 3 * s**2 + 2 * s**3 + phi * (1 - s), h * (s - 2 * s**2 + s**3 + phi * (s - s**2) / 2),
        3 * s**2 - 2 * s**3 + phi * s, h * (-s**2 + s**3 + phi * (s**2 - s) / 2)]) / (1 + phi)
    return row


def outlook(ranges, cases):
    kk, mm, _, phi, h = beam()
    speed = np.pi * D * float(cases["rpm"][0][0]) / 60
    doubt, thrust = float(cases["doubt"][0][0]), float(cases["thrust"][0][0])
    passes = np.array([[float(v) for v in r] for r in cases["pass"]])  # radial, axial N/mm; rubbing mm
    f = 20 * 1.006 ** np.arange(int(np.log(12000 / 20) / np.log(1.006)))
    w = 2 * np.pi * f
    z = np.random.default_rng(SEED).standard_normal((CASES, 7))
    growth = {}
    for centre, zeta in ((True, 0.045), (False, 0.02)):
        x = float(cases["place_with" if centre else "place_without"][0][0])
        row = at_place(x, h, phi)
        carry, grown = np.empty(CASES), np.empty(CASES)
        for n, (zd, zc, zt, ztool, zcut, zwear, zrub) in enumerate(z):
            k = kk.copy()
            chuck = drawn(zc, *ranges["stiffness of chuck"])
            k[0, 0] += CHUCK * chuck
            k[1, 1] += TILT * chuck
            if centre:
                k[-2, -2] += TAIL * drawn(zt, *ranges["stiffness of tailstock"])
            lam, v = eigh(k, mm)
            y = row @ v
            low, _, high = ranges["damping of the work"]
            zeta_n = drawn(zd, low, zeta, high)
            phi_x = sum(y[i] ** 2 / (lam[i] - w**2 + 2j * zeta_n * np.sqrt(lam[i]) * w) for i in range(len(lam)))
            tool = drawn(ztool, *ranges["stiffness of tool side"])
            phi_x = phi_x + 1 / TOOL / tool
            phi_z = (x / (E * np.pi * D**2 / 4) + 1 / TOOL_AXIAL) / tool
            wear = drawn(zwear, *ranges["wear of the edge"])
            cut = drawn(zcut, 1 / (1 + doubt), 1, 1 + doubt) * wear * (thrust + 0.6 * (wear - 1)) / thrust
            rub = drawn(zrub, *ranges["rubbing of the edge"]) / speed
            chain, best = np.zeros_like(f), 0.0
            for gx, gz, bx, bz in passes:
                tx = abs(cut * gx * phi_x / (1 + (cut * gx + 1j * w * rub * bx) * phi_x))
                tz = abs(cut * gz * phi_z / (1 + (cut * gz + 1j * w * rub * bz) * phi_z))
                t = np.maximum(tx, tz)
                best = max(best, t.max())
                chain = t * np.maximum(chain, 1)
            carry[n], grown[n] = best, chain.max()
        growth[centre] = grown
        name = "with" if centre else "without"
        for p in (5, 25, 50, 75, 95):
            out("below", name, p, np.percentile(carry, p), np.log10(np.percentile(grown, p)))
        out("share", name, "marks", (grown >= 10).mean())
        out("share", name, "quiet", (grown < 3).mean())
    without, with_ = growth[False], growth[True]
    out("share", "centre", "helps", ((without >= 3) & ((with_ < 3) | ((without >= 10) & (with_ < 10)))).mean())


def own_cuts():
    """One mode, 400 Hz, 5 N/um, 3 %, cut twice as wide as its limit, work of 12 mm."""
    fn, k, z, kc = 400.0, 5000.0, 0.03, 2000.0
    b = 2 * 2 * k * z * (1 + z) / kc
    wn = 2 * np.pi * fn
    m, c0 = k / wn**2, 2 * z * k / wn

    def most(c, rpm):
        v = np.pi * 12 * rpm / 60

        def t(f):
            w = 2 * np.pi * f
            g = kc * b
            return abs(g / (k - m * w**2 + 1j * w * (c0 + c * b / v) + g))

        grid = np.linspace(20, 1500, 1481)
        f0 = grid[np.argmax(t(grid))]
        if f0 == grid[0]:
            return t(1e-6)
        return -minimize_scalar(lambda f: -t(f), bounds=(f0 - 1, f0 + 1), method="bounded", options={"xatol": 1e-9}).fun

    for cuts in ([(800, 1.1)], [(800, 1.3), (300, 0.8)], [(1200, 1.5), (800, 0.9), (300, 0.75), (150, 0.3)]):
        def misfit(lc):
            return sum((np.log(g) - np.log(most(np.exp(lc), n))) ** 2 for n, g in cuts)

        grid = np.linspace(np.log(1), np.log(20000), 400)
        s = np.array([misfit(x) for x in grid])
        i = s.argmin()
        r = minimize_scalar(misfit, bounds=(grid[max(i - 1, 0)], grid[min(i + 1, len(grid) - 1)]), method="bounded", options={"xatol": 1e-7})
        within, q = 0.15**2, norm.ppf(0.95)
        nu = len(cuts) - 1
        if nu > 0 and r.fun / nu > within:
            within, q = r.fun / nu, student.ppf(0.95, nu)
        limit = r.fun + within * q**2
        over = lambda x: misfit(x) - limit
        lo = brentq(over, grid[0], r.x) if over(grid[0]) > 0 else grid[0]
        hi = brentq(over, r.x, grid[-1]) if over(grid[-1]) > 0 else grid[-1]
        out("own_cuts", *[float(v) for c in cuts for v in c], np.exp(r.x), np.exp(lo), np.exp(hi))


def read_cases(path):
    got = {}
    for r in csv.reader(open(path)):
        if r and not r[0].startswith("#"):
            got.setdefault(r[0], []).append(r[1:])
    return got


print(f"# tool: numpy {np.__version__}, scipy {scipy.__version__}, python {sys.version.split()[0]}")
print("# input: vibe/data/plausible.csv, outlook.cases.csv")
own_cuts()
outlook(table(sys.argv[1]), read_cases(sys.argv[2]))
