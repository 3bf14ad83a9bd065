#!/usr/bin/env python3
"""Reading over wires and balls by brute geometry, for comparison with package gauge.

The flanks are helicoids that are straight in the axial plane. A wire is a straight
cylinder whose axis stays square to the direction of measurement, free to move in,
along and about that direction, as between the flat faces of a micrometer. For a given
lean, and a given distance from the thread's axis, each flank is searched for the point
that leaves the wire the least room to slide along the thread. The wire has been pressed
in as far as it goes when no room is left between the two flanks. The lean is then varied
until the wire lies deepest. Nothing is assumed about where or how it touches: no
equation of contact, no normal, no derivative is used. At the end a fine grid over both
flanks looks for places where the wire would cut in.

usage: over_wires.py cases.csv > result.csv
"""
import csv
import hashlib
import math
import multiprocessing
import platform
import sys

import numpy as np
import scipy
from scipy import optimize


def flank(r, theta, side, case):
    """Points of a flank; side +1 bounds the groove at +z (leading), -1 at -z (trailing)."""
    opens = 1.0 if case["kind"] == "wire" else -1.0  # the groove widens outwards, in a nut inwards
    tan = case["tan"][0 if side > 0 else 1]
    z = case["p"] * theta + side * (case["P"] / 4 + opens * (r - case["E"] / 2) * tan)
    return r * np.cos(theta), r * np.sin(theta), z


def room(r, theta, side, radius, lean, case):
    """How far the wire (ball), lying at z = 0, could slide towards a point of the flank."""
    x, y, z = flank(r, theta, side, case)
    square = (case["W"] / 2) ** 2 - (x - radius) ** 2
    if case["kind"] == "wire":
        middle, scale = y * math.tan(lean), 1 / math.cos(lean)
    else:
        middle, scale, square = 0.0, 1.0, square - y * y
    reach = np.where(square > 0, np.sqrt(np.maximum(square, 0)) * scale, -np.inf)
    inside = (r >= case["lo"] - 1e-9) & (r <= case["hi"] + 1e-9)
    return np.where(inside, side * (z - middle) - reach, np.inf)


def least_room(side, radius, lean, case):
    """The least room to one flank, and the diameter at which it is found: on the flank or on its edge."""
    r, theta = np.meshgrid(np.linspace(case["lo"], case["hi"], 41), np.linspace(-0.9, 0.9, 121), indexing="ij")
    coarse = room(r, theta, side, radius, lean, case)
    i, j = np.unravel_index(np.argmin(coarse[1:-1]), coarse[1:-1].shape)
    v = np.array([r[i + 1, j] / case["P"], theta[i + 1, j]])
    for step in (1e-2, 1e-5):  # the second round restarts the simplex, which may have shrunk too soon
        best = optimize.minimize(lambda u: float(room(u[0] * case["P"], u[1], side, radius, lean, case)), v,
                                 method="Nelder-Mead",
                                 options={"xatol": 1e-9, "fatol": 1e-13, "maxiter": 400,
                                          "initial_simplex": v + step * np.array([[0, 0], [1, 0], [0, 1]])})
        v = best.x
    found = (best.fun, 2 * v[0] * case["P"])
    for edge in (case["lo"], case["hi"]):  # the crest's and the root's edge are searched by themselves
        along = np.linspace(-0.9, 0.9, 601)
        k = int(np.argmin(room(edge, along, side, radius, lean, case)))
        if 0 < k < 600 and np.isfinite(room(edge, along[k - 1:k + 2], side, radius, lean, case)).all():
            best = optimize.minimize_scalar(lambda u: float(room(edge, u, side, radius, lean, case)),
                                            bounds=(along[k - 1], along[k + 1]), method="bounded", options={"xatol": 1e-9})
            found = min(found, (best.fun, 2 * edge))
    return found


def pressed_in(lean, case):
    """Distance of the wire's axis from the thread's axis when no room is left."""
    def left(radius):
        return least_room(+1, radius, lean, case)[0] + least_room(-1, radius, lean, case)[0]

    sign = 1 if case["kind"] == "wire" else -1  # a wire gains room outwards, a ball inwards
    lo = hi = case["guess"]
    while sign * left(lo) > 0:
        lo -= 0.05 * case["P"]
    while sign * left(hi) < 0:
        hi += 0.05 * case["P"]
    return optimize.brentq(left, lo, hi, xtol=1e-11, rtol=1e-14)


def cuts_in(radius, z0, lean, case):
    """Least room left over a fine grid of both flanks; about nought when all is well."""
    r, theta = np.meshgrid(np.linspace(case["lo"], case["hi"], 401), np.linspace(-1.5, 1.5, 3001), indexing="ij")
    return min((room(r, theta, s, radius, lean, case) - s * z0).min() for s in (+1, -1))


def solve(row):
    case = {"id": row["id"], "kind": row["kind"]}
    case["P"], case["E"], case["W"] = (float(row[k]) for k in ("pitch_mm", "pitch_diameter_mm", "size_mm"))
    case["p"] = case["P"] * int(row["starts"]) / (2 * math.pi)
    a1, a2 = math.radians(float(row["leading_deg"])), math.radians(float(row["trailing_deg"]))
    case["tan"] = (math.tan(a1), math.tan(a2))
    case["lo"], case["hi"] = float(row["minor_mm"]) / 2, float(row["major_mm"]) / 2
    half, skew = (a1 + a2) / 2, (a1 - a2) / 2
    out = case["W"] / 2 * math.cos(skew) / math.sin(half) - case["P"] / 2 / (case["tan"][0] + case["tan"][1])
    case["guess"] = case["E"] / 2 + (out if case["kind"] == "wire" else -out)
    lean = 0.0
    if case["kind"] == "wire":
        at = math.atan(2 * case["p"] / case["E"])
        found = optimize.minimize_scalar(lambda v: pressed_in(v, case), bounds=(0.7 * at, 1.1 * at),
                                         method="bounded", options={"xatol": 1e-7})
        lean = found.x
    radius = pressed_in(lean, case)
    (up, leading), (down, trailing) = (least_room(s, radius, lean, case) for s in (+1, -1))
    z0 = (up - down) / 2
    return [row["id"], f"{2 * radius + case['W']:.7f}", f"{math.degrees(lean):.4f}",
            f"{leading:.5f}", f"{trailing:.5f}", f"{1000 * cuts_in(radius, z0, lean, case):.4f}"]


def main():
    path = sys.argv[1]
    text = open(path, encoding="utf-8").read()
    print("# made by over_wires.py; do not edit")
    print(f"# tool: python {platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}")
    print(f"# input sha256: {hashlib.sha256(text.encode()).hexdigest()}")
    print("id,over_mm,lean_deg,leading_contact_mm,trailing_contact_mm,least_room_um")
    rows = csv.DictReader(line for line in text.splitlines() if not line.startswith("#"))
    with multiprocessing.Pool() as pool:
        for result in pool.imap(solve, rows):
            print(",".join(result), flush=True)


if __name__ == "__main__":
    main()
