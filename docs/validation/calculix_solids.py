#!/usr/bin/env python3
"""Bends and rings the bars of calculix_solids.json with CalculiX (ccx) as true
solids (C3D20R bricks), free in space, and prints calculix_solids.csv.

    python3 calculix_solids.py > calculix_solids.csv

Needs ccx on the path (Debian: calculix-ccx). Units: mm, N, t, s.
One half of the bar is meshed, cut along the plane of bending. A solid bar has a
bore of 2 % of its diameter, so that one mesh serves bars and tubes. Bending: the
force at one cross-section and the reactions at the two end sections are spread
over the sections; the deflection is that of the innermost fibre against the
straight line between the ends.
"""
import csv, hashlib, json, math, os, re, subprocess, sys, tempfile

HERE = os.path.dirname(os.path.abspath(__file__))
ROUND = 8  # elements round the half circle


class Mesh:
    def __init__(self, case):
        self.case, self.nodes, self.place, self.elements = case, {}, [], []
        radii = set()
        for d, bore, _ in case["sections"]:
            radii |= {d / 2, bore / 2 if bore else d / 100}
        radii = sorted(radii)
        fine = []
        for a, b in zip(radii, radii[1:]):
            n = max(1, math.ceil((b - a) / 4.0))
            fine += [(a + (b - a) * i / n, a + (b - a) * (i + 1) / n) for i in range(n)]
        x = 0.0
        for d, bore, length in case["sections"]:
            cuts = sorted({0.0, length} | {at - x for at, _ in case["loads"] if 0 < at - x < length})
            for a, b in zip(cuts, cuts[1:]):
                n = max(2, round((b - a) / 4.0))
                for i in range(n):
                    for r0, r1 in fine:
                        if r0 >= (bore / 2 if bore else 0) - 1e-9 and r1 <= d / 2 + 1e-9:
                            for j in range(ROUND):
                                self.brick(r0, r1, j, x + a + (b - a) * i / n, x + a + (b - a) * (i + 1) / n)
            x += length
        self.length = x

    def node(self, r, j, x):
        """j counts half elements round the half circle from the top."""
        key = (round(r, 6), j, round(x, 6))
        if key not in self.nodes:
            t = math.pi * j / (2 * ROUND)
            self.nodes[key] = len(self.nodes) + 1
            self.place.append((x, r * math.cos(t), r * math.sin(t)))
        return self.nodes[key]

    def brick(self, r0, r1, j, x0, x1):
        rm, xm, a, m, b = (r0 + r1) / 2, (x0 + x1) / 2, 2 * j, 2 * j + 1, 2 * j + 2
        n = self.node
        self.elements.append(
            [n(r0, a, x0), n(r1, a, x0), n(r1, b, x0), n(r0, b, x0), n(r0, a, x1), n(r1, a, x1), n(r1, b, x1), n(r0, b, x1)]
            + [n(rm, a, x0), n(r1, m, x0), n(rm, b, x0), n(r0, m, x0), n(rm, a, x1), n(r1, m, x1), n(rm, b, x1), n(r0, m, x1)]
            + [n(r0, a, xm), n(r1, a, xm), n(r1, b, xm), n(r0, b, xm)]
        )

    def section(self, x):
        return [i for (r, j, p), i in self.nodes.items() if abs(p - x) < 1e-6]

    def fibre(self, x):
        """The two innermost nodes at x, above and below the axis."""
        at = [(r, j, i) for (r, j, p), i in self.nodes.items() if abs(p - x) < 1e-6 and j in (0, 2 * ROUND)]
        inner = min(r for r, _, _ in at)
        return [i for r, _, i in at if r == inner]

    def deck(self):
        out = ["*NODE, NSET=ALL"]
        out += ["%d, %.9g, %.9g, %.9g" % (i + 1, x, y, z) for i, (x, y, z) in enumerate(self.place)]
        out.append("*ELEMENT, TYPE=C3D20R, ELSET=BAR")
        for i, e in enumerate(self.elements):
            v = [i + 1] + e
            out += [", ".join(map(str, v[:11])) + ",", ", ".join(map(str, v[11:]))]
        c = self.case
        out += ["*MATERIAL, NAME=M", "*ELASTIC", "%g, %g" % (c["E"], c["nu"]), "*DENSITY", "%g" % c["rho"], "*SOLID SECTION, ELSET=BAR, MATERIAL=M"]
        out += ["*NSET, NSET=CUT"] + ["%d," % i for (r, j, p), i in self.nodes.items() if j in (0, 2 * ROUND)]
        out += ["*BOUNDARY", "CUT, 3, 3"]
        head, tail = self.fibre(0.0), self.fibre(self.length)
        for at, force in c["loads"]:
            watch = head + tail + self.fibre(at)
            out += ["*NSET, NSET=W%d" % round(at)] + ["%d," % i for i in watch]
        for at, force in c["loads"]:
            out += ["*STEP", "*STATIC", "*BOUNDARY, OP=NEW", "CUT, 3, 3", "%d, 1, 2" % head[0], "%d, 2, 2" % tail[0]]
            out += ["*CLOAD, OP=NEW"]
            for x, f in ((at, force / 2), (0.0, -force / 2 * (1 - at / self.length)), (self.length, -force / 2 * at / self.length)):
                nodes = self.section(x)
                share = [math.hypot(self.place[i - 1][1], self.place[i - 1][2]) * (0.5 if abs(self.place[i - 1][2]) < 1e-9 else 1) for i in nodes]
                out += ["%d, 2, %.9g" % (i, f * s / sum(share)) for i, s in zip(nodes, share)]
            out += ["*NODE PRINT, NSET=W%d" % round(at), "U", "*END STEP"]
        out += ["*STEP", "*FREQUENCY", "11", "*BOUNDARY, OP=NEW", "CUT, 3, 3", "*NODE PRINT, NSET=ALL", "U", "*END STEP"]
        return "\n".join(out) + "\n"


def run(m, text):
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
            tables.append({})
        elif "E I G E N V A L U E" in line:
            reading = "f"
        elif "P A R T I C I P A T I O N" in line:
            reading = ""
        elif reading == "u" and re.match(r"\s*\d+\s", line):
            v = line.split()
            tables[-1][int(v[0])] = [float(u) for u in v[1:]]
        elif reading == "f" and re.match(r"\s*\d+\s", line):
            freqs.append(float(line.split()[3]))
    loads = m.case["loads"]
    if len(tables) != len(loads) + len(freqs):
        sys.exit(r.stdout + r.stderr)
    bends = []
    for (at, _), t in zip(loads, tables):
        y = lambda x: sum(t[i][1] for i in m.fibre(x)) / 2
        bends.append(y(at) - y(0.0) * (1 - at / m.length) - y(m.length) * at / m.length)
    sideways = []
    for f, t in zip(freqs, tables[len(loads):]):
        mean = lambda k: max(abs(sum(t[i][k] for i in m.fibre(x)) / 2) for x in (0.0, m.length))
        if f > 50 and mean(1) > 2 * mean(0):
            sideways.append(f)
    return bends, sideways


def main():
    version = subprocess.run(["ccx", "-v"], capture_output=True, text=True).stdout.strip()
    with open(os.path.join(HERE, "calculix_solids.json"), "rb") as f:
        text = f.read()
    cases, whole = json.loads(text), hashlib.sha256(text).hexdigest()
    print("# source: CalculiX ccx, C3D20R solid bricks; %s" % version.replace("This is ", ""))
    print("# made by: calculix_solids.py")
    print("# input: calculix_solids.json sha256 %s" % whole)
    print("# input_sha256 is that of the ccx input file of the case; frequencies are those of the bar free in space")
    w = csv.writer(sys.stdout, lineterminator="\n")
    w.writerow(["case", "quantity", "at_mm", "force_n", "value", "unit", "input_sha256"])
    for case in cases:
        m = Mesh(case)
        text = m.deck()
        digest = hashlib.sha256(text.encode()).hexdigest()[:16]
        bends, freqs = run(m, text)
        for (at, force), y in zip(case["loads"], bends):
            w.writerow([case["name"], "deflection", at, force, "%.6g" % (y * 1000), "um", digest])
        for i, f in enumerate(freqs[:3]):
            w.writerow([case["name"], "frequency %d" % (i + 1), "", "", "%.6g" % f, "Hz", digest])


main()
