"""Photographs of threads with a known number of marks per turn, by the ray tracer POV-Ray.

Each row of the table of cases becomes one JPEG: the thread is written as a mesh of
triangles with normals, POV-Ray renders it under lamps, ImageMagick adds blur, noise and
JPEG. Nothing here is shared with the program: the profile is the one of ISO 68-1 with the
rounded root of H/6, and the tool's movement is put in as what it is, a displacement of the
whole profile at the angle that was being cut.

Usage: traced.py CASES.csv OUTDIR [name ...]
Debian 12: apt-get install povray imagemagick  (POV-Ray 3.7.0.10, ImageMagick 6.9.11)

Columns of the table:
  name, pitch_mm, major_mm, starts, hand
  marks          marks per turn, 0 for none
  radial_um      amplitude of the tool's movement towards the axis
  axial_um       and along it
  lay_um         depth of the scratches that the edge leaves along the groove (random, the same all the way round)
  torn_um        random roughness that changes along the groove (no period)
  drift          change of marks per turn from one end of the picture to the other, as a share
  distance_mm    from the lens to the axis
  field          height of the picture at the axis, in major diameters
  roll_deg       of the axis against the picture's rows, clockwise as seen
  lamp_deg       direction of the lamp: 0 from the camera, 90 from above, -90 from below
  skew_deg       the same lamp turned along the axis
  back           light of the background, 0 to 1
  ends           yes: the thread begins and ends in the picture
  width, height  of the picture in pixels
  blur_px, noise, quality, seed
"""
import csv, math, os, random, subprocess, sys, tempfile


def profile(pitch):
    """Height of the groove over its lowest point and its slope, against x from its middle."""
    h = math.sqrt(3) / 2 * pitch
    rho, depth = h / 6, 17 / 24 * h

    def at(x):
        a = abs(x)
        if a <= rho * math.cos(math.pi / 6):
            y = rho - math.sqrt(rho * rho - a * a)
            slope = a / math.sqrt(rho * rho - a * a)
        else:
            y, slope = a * math.sqrt(3) - rho, math.sqrt(3)
        return y, math.copysign(slope, x)

    return at, depth


def bumps(rnd, n, period):
    """A random smooth function of one variable with unit root mean square, and its slope."""
    parts = [(rnd.gauss(0, 1), rnd.uniform(*period), rnd.uniform(0, 2 * math.pi)) for _ in range(n)]
    norm = math.sqrt(sum(a * a for a, _, _ in parts) / 2)

    def at(x):
        v = s = 0.0
        for a, k, p in parts:
            v += a * math.cos(k * x + p)
            s -= a * k * math.sin(k * x + p)
        return v / norm, s / norm

    return at


def mesh(case, out, x_from, x_to, step):
    """Writes the mesh of the thread between two places along the axis, as seen from +z of the eye."""
    rnd = random.Random(int(case["seed"]))
    f = lambda k: float(case[k])
    pitch, radius, starts = f("pitch_mm"), f("major_mm") / 2, int(case["starts"])
    hand = -1 if case["hand"] == "left" else 1
    lead = pitch * starts
    shape, depth = profile(pitch)
    lay = bumps(rnd, 16, (30 / pitch, 120 / pitch))
    torn = [bumps(rnd, 40, (20, 400)) for _ in range(6)]
    starts_at = [rnd.uniform(0, 2 * math.pi) for _ in range(starts)]
    middle = rnd.uniform(0, 2 * math.pi)
    edge = 0.5 - 1 / 16  # crest of P/8

    def groove(n, u, psi):
        """Radius, dr/dx across the groove and dr/dphi along it."""
        turn, start = divmod(n, starts)
        phi = psi + 2 * math.pi * hand * turn
        rate = f("marks")
        wave, dwave = 0.0, 0.0
        if rate:
            # The number of marks in a turn drifts evenly along the thread.
            drift = f("drift") / 20
            angle = rate * (phi + drift * phi * phi / (4 * math.pi)) + starts_at[start] + middle
            wave, dwave = math.cos(angle), -math.sin(angle) * rate * (1 + drift * phi / (2 * math.pi))
        x = u * pitch - f("axial_um") / 1000 * wave
        y, slope = shape(x)
        r = radius - depth + y + f("radial_um") / 1000 * wave
        along = f("radial_um") / 1000 * dwave - slope * f("axial_um") / 1000 * dwave
        if f("lay_um"):
            v, s = lay(u * pitch)
            r += f("lay_um") / 1000 * v
            slope += f("lay_um") / 1000 * s
        if f("torn_um"):
            k = (u + 0.5) * 5
            i, w = min(4, int(k)), k - min(4, int(k))
            a, da = torn[i](phi)
            b, db = torn[i + 1](phi)
            r += f("torn_um") / 1000 * (a * (1 - w) + b * w)
            slope += f("torn_um") / 1000 * (b - a) * 5 / pitch
            along += f("torn_um") / 1000 * (da * (1 - w) + db * w)
        return r, slope, along

    fine = 28 if f("lay_um") else 16
    groove_u = [edge * (2 * k / fine - 1) for k in range(fine + 1)]
    crest_u = [edge, 0.5, 1 - edge]
    # Finely where marks can be seen, coarsely towards the silhouettes.
    half, fine_half = math.radians(93), math.radians(62)
    rows, wide_rows = int(2 * fine_half / step) + 1, 50
    rim = [fine_half + (half - fine_half) * (j + 1) / wide_rows for j in range(wide_rows)]
    psis = [-p for p in reversed(rim)] + [-fine_half + 2 * fine_half * j / (rows - 1) for j in range(rows)] + rim
    rows = len(psis)
    first = math.floor(x_from / pitch - 1 - starts)
    last = math.ceil(x_to / pitch + 1 + starts)
    points, normals, faces = [], [], []
    for n in range(first, last + 1):
        for kind, us in (("groove", groove_u), ("crest", crest_u)):
            base, wide = len(points), len(us)
            for psi in psis:
                for u in us:
                    x = pitch * (n + u) + hand * lead * psi / (2 * math.pi)
                    if kind == "groove":
                        r, slope, along = groove(n, u, psi)
                    else:
                        r, slope, along = radius, 0.0, 0.0
                    about = along - slope * hand * lead / (2 * math.pi)
                    # Eye: x to the right, y up, z towards it. psi runs downwards in front.
                    y, z = -math.sin(psi), math.cos(psi)
                    ty, tz = -math.cos(psi), -math.sin(psi)  # direction of growing psi
                    points.append((x, r * y, r * z))
                    normals.append((-slope, y - about / r * ty, z - about / r * tz))
            for j in range(rows - 1):
                for k in range(wide - 1):
                    a = base + j * wide + k
                    faces.append((a, a + 1, a + wide))
                    faces.append((a + 1, a + wide + 1, a + wide))
    inside = [x_from <= p[0] <= x_to for p in points]
    faces = [t for t in faces if inside[t[0]] and inside[t[1]] and inside[t[2]]]
    # POV-Ray's z runs away from the eye.
    vec = lambda v: "<%.5f,%.5f,%.5f>" % (v[0], v[1], -v[2])
    out.write("mesh2 {\nvertex_vectors { %d" % len(points))
    for p in points:
        out.write(",\n" + vec(p))
    out.write("}\nnormal_vectors { %d" % len(normals))
    for p in normals:
        out.write(",\n" + vec(p))
    out.write("}\nface_indices { %d" % len(faces))
    for t in faces:
        out.write(",\n<%d,%d,%d>" % t)
    out.write("}\n}\n")


SCENE = """#version 3.7;
global_settings { assumed_gamma 1.0 }
camera { perspective location <0,0,%(negdist)g> direction <0,0,1> up <0,1,0> right <%(aspect)g,0,0> look_at <0,0,0> angle %(angle)g }
background { color rgb %(back)g*0.6 }
light_source { <%(lx)g,%(ly)g,%(lz)g> color rgb <1,0.98,0.95>*1.05 area_light <%(size)g,0,0>,<0,0,%(size)g>,3,3 adaptive 1 circular orient }
light_source { <60,20,%(negdist)g> color rgb <0.95,0.97,1>*0.22 shadowless }
plane { z, %(behind)g texture { pigment { color rgb <1,0.98,0.95>*%(back)g } finish { ambient 0.25 diffuse 0.55 } } }
#declare Steel = texture { pigment { color rgb <0.62,0.62,0.60> }
  finish { ambient 0.04 diffuse 0.62 specular 0.42 roughness 0.04 metallic 0.6 } }
union {
%(thread)s
%(shank)s
texture { Steel }
rotate <0,0,%(roll)g>
}
"""


def render(case, outdir):
    f = lambda k: float(case[k])
    width, height = int(case["width"]), int(case["height"])
    radius, dist = f("major_mm") / 2, f("distance_mm")
    tall = f("field") * 2 * radius
    wide = tall * width / height
    reach = 0.5 * math.hypot(wide, tall) * (1 + radius / dist) + 2 * f("pitch_mm")
    ends = case["ends"] == "yes"
    x_from, x_to = (-0.33 * wide, 0.3 * wide) if ends else (-reach, reach)
    shank = ""
    if ends:
        core = radius - 0.7 * f("pitch_mm")
        shank = "cylinder { <%g,0,0>,<%g,0,0>,%g }\ncylinder { <%g,0,0>,<%g,0,0>,%g }\ncylinder { <%g,0,0>,<%g,0,0>,%g }" % (
            -reach, x_from - 1.5 * f("pitch_mm"), radius, x_from - 2 * f("pitch_mm"), x_from + 0.1, core, x_to - 0.1, x_to + 0.6 * f("pitch_mm"), core)
    lamp, skew, far = math.radians(f("lamp_deg")), math.radians(f("skew_deg")), 9 * radius + 40
    with tempfile.TemporaryDirectory() as tmp:
        with open(os.path.join(tmp, "thread.inc"), "w") as out:
            mesh(case, out, x_from, x_to, 2 * math.pi / max(900, 8 * f("marks")))
        with open(os.path.join(tmp, "scene.pov"), "w") as out:
            out.write(SCENE % dict(
                negdist=-dist, aspect=width / height, angle=math.degrees(2 * math.atan(wide / 2 / dist)), back=f("back"),
                lx=far * math.sin(skew), ly=far * math.cos(skew) * math.sin(lamp), lz=-far * math.cos(skew) * math.cos(lamp),
                size=1.2 * radius, behind=radius + 12, thread='#include "thread.inc"', shank=shank, roll=-f("roll_deg")))
        subprocess.run(["povray", "+Iscene.pov", "+Oscene.png", f"+W{width}", f"+H{height}", "+A0.15", "+AM2", "+R2", "-D", "+WT2", "-GA"],
                       cwd=tmp, check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        turn = ["-rotate", case["turned_deg"]] if case.get("turned_deg") not in (None, "", "0") else []
        subprocess.run(["/usr/bin/convert", "scene.png", "-blur", "0x%s" % case["blur_px"], "-seed", case["seed"], "-attenuate", case["noise"],
                        "+noise", "Gaussian", *turn, "-sampling-factor", "4:2:0", "-quality", case["quality"], "-strip",
                        os.path.join(os.path.abspath(outdir), case["name"] + ".jpg")], cwd=tmp, check=True)


if __name__ == "__main__":
    with open(sys.argv[1]) as table:
        cases = list(csv.DictReader(line for line in table if not line.startswith("#")))
    for case in cases:
        if len(sys.argv) <= 3 or case["name"] in sys.argv[3:]:
            render(case, sys.argv[2])
            print(case["name"], flush=True)
