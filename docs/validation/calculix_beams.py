#!/usr/bin/env python3
"""Bends and rings the bars of calculix_beams.json with CalculiX (ccx), B32R
beam elements, and prints calculix_beams.csv.

    python3 calculix_beams.py > calculix_beams.csv

Needs ccx on the path (Debian: calculix-ccx). Units: mm, N, t, s.
Each bar is cut into quadratic beam elements of about 5 mm; it bends in one plane.
"""
import csv, hashlib, json, os, re, subprocess, sys, tempfile

HERE = os.path.dirname(os.path.abspath(__file__))


def mesh(case):
    """Node places along the bar, two elements' worth of spacing at a time."""
    cuts = {0.0}
    x = 0.0
    for _, _, l in case["sections"]:
        x += l
        cuts.add(x)
    for at, _ in case["rests"] + case["loads"]:
        cuts.add(float(at))
    cuts = sorted(cuts)
    places = [0.0]
    for a, b in zip(cuts, cuts[1:]):
        n = max(2, round((b - a) / 5.0))
        places += [a + (b - a) * (i + 1) / (2 * n) for i in range(2 * n)]
    return places


def deck(case):
    """The input for ccx: one static step to a load, then the frequencies."""
    x = mesh(case)
    node = lambda at: min(range(len(x)), key=lambda i: abs(x[i] - at)) + 1
    out = ["*NODE, NSET=ALL"]
    out += ["%d, %.12g, 0, 0" % (i + 1, v) for i, v in enumerate(x)]
    ends = []
    at = 0.0
    for d, bore, l in case["sections"]:
        ends.append((at, at + l, d, bore))
        at += l
    number = 0
    for s, (a, b, d, bore) in enumerate(ends):
        out.append("*ELEMENT, TYPE=B32R, ELSET=S%d" % s)
        for i in range(0, len(x) - 2, 2):
            if a - 1e-9 <= x[i] and x[i + 2] <= b + 1e-9:
                number += 1
                out.append("%d, %d, %d, %d" % (number, i + 1, i + 2, i + 3))
    springs = list(case["rests"])
    if isinstance(case["tail"], (int, float)):
        springs.append([at, case["tail"]])
    for j, (place, k) in enumerate(springs):
        number += 1
        out += ["*ELEMENT, TYPE=SPRING1, ELSET=K%d" % j, "%d, %d" % (number, node(place))]
    out += ["*MATERIAL, NAME=M", "*ELASTIC", "%g, %g" % (case["E"], case["nu"]), "*DENSITY", "%g" % case["rho"]]
    for s, (a, b, d, bore) in enumerate(ends):
        if bore:
            out += ["*BEAM SECTION, ELSET=S%d, MATERIAL=M, SECTION=PIPE" % s, "%g, %g" % (d / 2, (d - bore) / 2), "0, 0, 1"]
        else:
            out += ["*BEAM SECTION, ELSET=S%d, MATERIAL=M, SECTION=CIRC" % s, "%g, %g" % (d, d), "0, 0, 1"]
    for j, (place, k) in enumerate(springs):
        out += ["*SPRING, ELSET=K%d" % j, "2", "%.1f" % k]
    out += ["*BOUNDARY", "ALL, 3, 3"]
    for place, kind in ((0.0, case["head"]), (at, case["tail"])):
        n = node(place)
        if kind == "clamped":
            out += ["%d, 1, 2" % n, "%d, 4, 6" % n]
        elif kind == "pinned":
            out += ["%d, 2, 2" % n] + (["%d, 1, 1" % n] if place == 0 else [])
    if case["head"] == "free":
        out += ["1, 1, 1"]
    for place, force in case["loads"]:
        n = node(place)
        out += ["*NSET, NSET=L%d" % n, "%d" % n]
    for place, force in case["loads"]:
        n = node(place)
        out += ["*STEP", "*STATIC", "*CLOAD, OP=NEW", "%d, 2, %g" % (n, force), "*NODE PRINT, NSET=L%d" % n, "U", "*END STEP"]
    out += ["*STEP", "*FREQUENCY", "9", "*NODE PRINT, NSET=ALL", "U", "*END STEP"]
    return "\n".join(out) + "\n"


def run(text, loads):
    """Runs ccx; returns the deflections under the loads and the frequencies of
    the modes in which the axis of the bar moves sideways (not twist or stretch)."""
    with tempfile.TemporaryDirectory() as d:
        with open(os.path.join(d, "bar.inp"), "w") as f:
            f.write(text)
        r = subprocess.run(["ccx", "bar"], cwd=d, capture_output=True, text=True)
        with open(os.path.join(d, "bar.dat")) as f:
            lines = f.read().splitlines()
    tables, freqs, reading = [], [], ""
    for line in lines:
        if "displacements" in line:
            reading = "u"
            tables.append([])
        elif "E I G E N V A L U E" in line:
            reading = "f"
        elif "P A R T I C I P A T I O N" in line:
            reading = ""
        elif reading == "u" and re.match(r"\s*\d+\s", line):
            tables[-1].append([float(v) for v in line.split()[1:]])
        elif reading == "f" and re.match(r"\s*\d+\s", line):
            freqs.append(float(line.split()[3]))
    if len(tables) != loads + len(freqs) or not freqs:
        sys.exit(r.stdout + r.stderr)
    bends = [t[0][1] for t in tables[:loads]]
    sideways = []
    for f, t in zip(freqs, tables[loads:]):
        along, across = max(abs(u[0]) for u in t), max(abs(u[1]) for u in t)
        if across > 10 and across > along:  # mass-normalised: tens at least
            sideways.append(f)
    return bends, sideways


def main():
    version = subprocess.run(["ccx", "-v"], capture_output=True, text=True).stdout.strip()
    with open(os.path.join(HERE, "calculix_beams.json"), "rb") as f:
        text = f.read()
    cases, whole = json.loads(text), hashlib.sha256(text).hexdigest()
    print("# source: CalculiX ccx, B32R beam elements; %s" % version.replace("This is ", ""))
    print("# made by: calculix_beams.py")
    print("# input: calculix_beams.json sha256 %s" % whole)
    print("# input_sha256 is that of the ccx input file of the case")
    w = csv.writer(sys.stdout, lineterminator="\n")
    w.writerow(["case", "quantity", "at_mm", "force_n", "value", "unit", "input_sha256"])
    for case in cases:
        text = deck(case)
        digest = hashlib.sha256(text.encode()).hexdigest()[:16]
        bends, freqs = run(text, len(case["loads"]))
        for (at, force), y in zip(case["loads"], bends):
            w.writerow([case["name"], "deflection", at, force, "%.6g" % (y * 1000), "um", digest])
        for i, f in enumerate(freqs[:3]):
            w.writerow([case["name"], "frequency %d" % (i + 1), "", "", "%.6g" % f, "Hz", digest])


main()
