package shaft

import (
	"math"
	"testing"

	"thrum/internal/outside"
	"thrum/unit"
)

var (
	steel = Stuff{E: 205 * unit.Gigapascal, Poisson: 0.29, Density: 7850 * unit.KilogramPerCubicMetre}
	brass = Stuff{E: 97 * unit.Gigapascal, Poisson: 0.31, Density: 8490 * unit.KilogramPerCubicMetre}
)

func rod(d, l float64) Section {
	return Section{Diameter: unit.Length(d), Length: unit.Length(l)}
}

// bar makes a bar; bernoulli leaves out shear and rotary inertia, as Euler and
// Bernoulli did.
func bar(t testing.TB, w Work, bernoulli bool) *Bar {
	t.Helper()
	b, err := New(w)
	if err != nil {
		t.Fatal(err)
	}
	if bernoulli {
		for i := range b.sects {
			b.sects[i].phi, b.sects[i].inert = 0, 0
		}
	}
	return b
}

// bends returns the deflection at the force, in micrometres.
func bends(t testing.TB, b *Bar, at, force float64) float64 {
	t.Helper()
	c, err := b.Compliances([]unit.Length{unit.Length(at)})
	if err != nil {
		t.Fatal(err)
	}
	return c[0].UmPerN() * force
}

func frequencies(t testing.TB, b *Bar, n int) []float64 {
	t.Helper()
	ms, err := b.Modes(n)
	if err != nil {
		t.Fatal(err)
	}
	var out []float64
	for _, m := range ms {
		out = append(out, m.Frequency.Hz())
	}
	return out
}

// held is a way of holding a bar, for tables.
func held(m Stuff, head, tail Joint, s ...Section) Work {
	return Work{Sections: s, Stuff: m, Head: head, Tail: tail}
}

// TestFrequencyConstants compares with the constants of uniform bars without
// shear: f = lambda^2 / (2 pi L^2) sqrt(EI / rho A).
func TestFrequencyConstants(t *testing.T) {
	const source = "Blevins, Formulas for Natural Frequency and Mode Shape, table 8-1; also Rao, Mechanical Vibrations"
	for _, c := range []struct {
		name       string
		head, tail Joint
		lambda     []float64
	}{
		{"fixed-free", Clamped(), Free(), []float64{1.87510407, 4.69409113, 7.85475744}},
		{"fixed-pinned", Clamped(), Pinned(), []float64{3.92660231, 7.06858275, 10.21017612}},
		{"pinned-pinned", Pinned(), Pinned(), []float64{math.Pi, 2 * math.Pi, 3 * math.Pi}},
		{"fixed-fixed", Clamped(), Clamped(), []float64{4.73004074, 7.85320462, 10.9956079}},
	} {
		const d, l = 12.0, 200.0
		b := bar(t, held(steel, c.head, c.tail, rod(d, l)), true)
		scale := math.Sqrt(float64(steel.E)*d*d/16/float64(steel.Density)) / (2 * math.Pi * l * l)
		for i, f := range frequencies(t, b, 3) {
			outside.Check(t, outside.Claim{
				What: c.name + " bar, frequency constant of mode " + string(rune('1'+i)), Source: source, Status: outside.Memory,
				Published: c.lambda[i], Ours: math.Sqrt(f / scale), Unit: "-", Tolerance: 1e-4 * c.lambda[i],
			})
		}
	}
}

// TestClosedForms compares with the textbook deflections of bars without shear.
func TestClosedForms(t *testing.T) {
	const source = "beam tables, e.g. Roark's Formulas for Stress and Strain, table of straight beams"
	const d, l, force = 14.0, 180.0, 100.0
	ei := float64(steel.E) * math.Pi * d * d * d * d / 64
	for _, at := range []float64{0.1, 0.25, 0.5, 0.5858, 0.75, 0.9} {
		a := at * l
		c := l - a
		for _, k := range []struct {
			name       string
			head, tail Joint
			um         float64
		}{
			{"cantilever", Clamped(), Free(), a * a * a / (3 * ei)},
			{"chuck and rigid centre", Clamped(), Pinned(), a * a * a * c * c * (3*l + c) / (12 * ei * l * l * l)},
			{"between centres", Pinned(), Pinned(), a * a * c * c / (3 * ei * l)},
		} {
			want := k.um * force * 1000
			b := bar(t, held(steel, k.head, k.tail, rod(d, l)), true)
			outside.Check(t, outside.Claim{
				What: "bend under the force, " + k.name, Source: source, Status: outside.Memory,
				Published: want, Ours: bends(t, b, a, force), Unit: "um", Tolerance: 1e-7 * want,
			})
		}
	}
	// A chuck that tilts and gives, a centre that gives: force method.
	kt, kr, kc := 50e3, 8e7, 8e3
	f := func(x, a float64) float64 {
		if x > a {
			x, a = a, x
		}
		return x*x*(3*a-x)/(6*ei) + 1/kt + x*a/kr
	}
	for _, at := range []float64{0.2, 0.6, 1} {
		a := at * l
		r := f(l, a) / (f(l, l) + 1/kc)
		want := (f(a, a) - r*f(l, a)) * force * 1000
		b := bar(t, held(steel, Joint{unit.Stiffness(kt), unit.AngularStiffness(kr)}, Joint{Radial: unit.Stiffness(kc)}, rod(d, l)), true)
		outside.Check(t, outside.Claim{
			What: "bend under the force, springy chuck and centre", Source: "force method for one redundant support, any book on statics", Status: outside.Memory,
			Published: want, Ours: bends(t, b, a, force), Unit: "um", Tolerance: 1e-7 * want,
		})
	}
}

// place is a load at a fraction of the length and what it bends there.
type place struct{ at, um float64 }

// TestGoldenCases compares with bars that were solved by a beam program of
// another hand, without and with shear and, as a bracket, by CalculiX.
func TestGoldenCases(t *testing.T) {
	const source = "numerical beam solution checked by closed forms, and CalculiX B32R elements where in brackets"
	centre := Joint{Radial: 8 * unit.NewtonPerMicrometre}
	chuck := Joint{50 * unit.NewtonPerMicrometre, 8e4 * unit.NewtonMetrePerRadian}
	for _, c := range []struct {
		name           string
		w              Work
		force          float64
		euler, timo    []place // deflection without and with shear
		ccx            []place
		fe, ft, fc     []float64 // frequencies without, with shear and rotary inertia, by CalculiX
		decimals, full float64   // tolerance of printed figures, um and Hz
	}{
		{
			name: "1: steel 12 x 60 in a chuck", w: held(steel, Clamped(), Free(), rod(12, 60)), force: 100,
			euler: []place{{1, 34.5051}}, timo: []place{{1, 35.259}}, ccx: []place{{1, 34.95}},
			fe: []float64{2383.0, 14934.3}, ft: []float64{2331.0, 13029.8}, fc: []float64{2362, 13256},
		},
		{
			name: "2: steel 16 x 200, chuck and rigid centre", w: held(steel, Clamped(), Pinned(), rod(16, 200)), force: 150,
			euler: []place{{.25, 4.9977}, {.5, 16.5850}, {.5858, 17.8547}, {.75, 12.9940}},
			timo:  []place{{.25, 5.452}, {.5, 17.189}, {.59, 18.426}, {.75, 13.421}}, ccx: []place{{.5, 17.090}, {.75, 13.391}},
			fe: []float64{1254.0, 4063.7, 8478.7}, ft: []float64{1231.9, 3876.3}, fc: []float64{1243.9, 3913.9},
		},
		{
			name: "3: steel 20 x 300 between centres", w: held(steel, Pinned(), Pinned(), rod(20, 300)), force: 200,
			euler: []place{{.25, 39.3035}, {.5, 69.8729}}, timo: []place{{.25, 39.812}, {.5, 70.551}}, ccx: []place{{.5, 69.986}},
			fe: []float64{445.95, 1783.81, 4013.58}, ft: []float64{443.59, 1747.02}, fc: []float64{447.5},
		},
		{
			name: "4: steel 12 x 150, springy chuck and centre", w: held(steel, chuck, centre, rod(12, 150)), force: 100,
			euler: []place{{.1, 2.5462}, {.25, 6.9132}, {.5, 17.8840}, {.75, 17.1859}, {.9, 12.0641}, {1, 12.2314}}, fe: []float64{1409.3},
		},
		{
			name: "4: the same without the centre", w: held(steel, chuck, Free(), rod(12, 150)), force: 100,
			euler: []place{{.1, 2.8204}, {.25, 12.1819}, {.5, 76.4241}, {.75, 245.2712}, {.9, 417.8163}, {1, 569.2678}}, fe: []float64{367.0},
		},
		{
			name: "5: steel 20 x 60 then 12 x 40 in a chuck", w: held(steel, Clamped(), Free(), rod(20, 60), rod(12, 40)), force: 100,
			euler: []place{{1, 29.6018}}, fe: []float64{2078.4, 7174.8},
		},
		{
			name: "6: brass 6 x 40 in a chuck", w: held(brass, Clamped(), Free(), rod(6, 40)), force: 50,
			euler: []place{{1, 172.8551}}, timo: []place{{1, 175.009}}, fe: []float64{1773.3, 11112.9}, ft: []float64{1750.9, 10235.1},
		},
	} {
		euler, timo := bar(t, c.w, true), bar(t, c.w, false)
		check := func(what string, published, ours, tolerance float64, u string) {
			outside.Check(t, outside.Claim{What: c.name + ": " + what, Source: source, Status: outside.Computed, Published: published, Ours: ours, Unit: u, Tolerance: tolerance})
		}
		l := euler.length
		for _, p := range c.euler {
			check("bend without shear", p.um, bends(t, euler, p.at*l, c.force), 2e-4, "um")
		}
		for _, p := range c.timo {
			// .59 stands for the printed place rounded to two decimals; the curve is flat there.
			check("bend with shear", p.um, bends(t, timo, p.at*l, c.force), 1.1e-3, "um")
		}
		for _, p := range c.ccx {
			check("bend, CalculiX", p.um, bends(t, timo, p.at*l, c.force), 0.015*p.um, "um")
		}
		// The reference used elements of its own; its second and third frequencies carry their error.
		for i, f := range c.fe {
			check("frequency without shear", f, frequencies(t, euler, 3)[i], 0.06+1e-4*f, "Hz")
		}
		for i, f := range c.ft {
			check("frequency with shear", f, frequencies(t, timo, 3)[i], 0.06+1e-4*f, "Hz")
		}
		for i, f := range c.fc {
			check("frequency, CalculiX", f, frequencies(t, timo, 3)[i], 0.0175*f, "Hz")
		}
	}
}
