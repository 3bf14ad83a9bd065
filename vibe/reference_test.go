package vibe

import (
	"fmt"
	"math"
	"math/cmplx"
	"strconv"
	"testing"

	"thrum/cut"
	"thrum/internal/outside"
	"thrum/shaft"
	"thrum/unit"
)

const (
	script  = "docs/validation/vibe.py: numpy and scipy, response solved and searched"
	stepped = "docs/validation/vibe.py: numpy, Runge-Kutta time integration"
)

type row struct {
	words  []string
	number []float64
}

// rows reads one kind of docs/validation/vibe.csv.
func rows(t *testing.T, kind string) []row {
	t.Helper()
	return rowsOf(t, "../docs/validation/vibe.csv", kind)
}

func rowsOf(t *testing.T, file, kind string) []row {
	t.Helper()
	all := outside.Table(t, file)
	var out []row
	for _, rec := range all {
		if rec[0] != kind {
			continue
		}
		r := row{words: rec[1:]}
		for _, w := range rec[1:] {
			v, err := strconv.ParseFloat(w, 64)
			if err != nil {
				v = math.NaN()
			}
			r.number = append(r.number, v)
		}
		out = append(out, r)
	}
	if len(out) == 0 {
		t.Fatalf("no rows of kind %q", kind)
	}
	return out
}

func claim(t *testing.T, what, source string, published, ours, relative float64, unit string) {
	t.Helper()
	outside.Check(t, outside.Claim{
		What: what, Source: source, Status: outside.Computed, Published: published, Ours: ours, Unit: unit,
		Tolerance: relative * math.Abs(published),
	})
}

func TestCarryOverTable(t *testing.T) {
	h := single(t, table)
	limit, at := table.Limit(tableK)
	for _, r := range rows(t, "carry") {
		q, b, most, f, lo, hi := r.number[0], r.number[1], r.number[2], r.number[3], r.number[4], r.number[5]
		what := fmt.Sprintf("one mode, b = %g b_lim: ", q)
		claim(t, what+"b", script, b, q*limit.MM(), 1e-5, "mm")
		p := assess(t, input(t, h, 200, wide(unit.Length(b)))).Passes[0]
		claim(t, what+"largest carry-over", script, most, p.CarryOver.Likely, 1e-4, "")
		claim(t, what+"its frequency", script, f, p.Frequency.Hz(), 1e-4, "Hz")
		claim(t, what+"carry-over over ten passes", script, math.Pow(most, 10), math.Pow(p.CarryOver.Likely, 10), 1e-3, "")
		claim(t, what+"by how much the cut may stiffen", script, 1/q, p.Margin, 3e-3, "")
		formula, where := table.Peak(unit.Stiffness(tableK * b))
		claim(t, what+"largest carry-over, closed form", script, most, formula, 1e-5, "")
		claim(t, what+"its frequency, closed form", script, f, where.Hz(), 1e-5, "Hz")
		if q == 1 {
			claim(t, what+"frequency at the limit", script, f, at.Hz(), 1e-5, "Hz")
			continue // the band is a point
		}
		band, ok := table.Band(unit.Stiffness(tableK * b))
		if ok != (lo > 0) || (len(p.Grows) == 1) != (lo > 0) {
			t.Errorf("%s bands %v and %v, want edges %g and %g", what, band, p.Grows, lo, hi)
			continue
		}
		if lo > 0 {
			claim(t, what+"lower edge", script, lo, p.Grows[0].Low.Hz(), 2e-4, "Hz")
			claim(t, what+"upper edge", script, hi, p.Grows[0].High.Hz(), 2e-4, "Hz")
			claim(t, what+"lower edge, closed form", script, lo, band.Low.Hz(), 1e-5, "Hz")
			claim(t, what+"upper edge, closed form", script, hi, band.High.Hz(), 1e-5, "Hz")
		}
	}
}

func TestTimeIntegration(t *testing.T) {
	limit, _ := table.Limit(tableK)
	for _, r := range rows(t, "time") {
		q, f, amp, phase := r.number[0], r.number[1], r.number[2], r.number[3]
		c := CarryOver(unit.Stiffness(tableK*q*limit.MM()), table.Receptance(unit.Frequency(f)))
		what := fmt.Sprintf("b = %g b_lim at %g Hz: ", q, f)
		claim(t, what+"carry-over", stepped, amp, cmplx.Abs(c), 1e-3, "")
		claim(t, what+"phase", stepped, phase, cmplx.Phase(c)*180/math.Pi, 1e-3, "degrees")
	}
}

func TestRubbingTable(t *testing.T) {
	h := single(t, table)
	limit, _ := table.Limit(tableK)
	for _, r := range rows(t, "rubbing") {
		c, v, most := r.number[0], r.number[1], r.number[2]
		n := unit.Rotation(v * 1000 / (math.Pi * 20))
		in := input(t, h, n, wide(2*limit))
		in.Process = Process{unit.Stiffness(c), unit.Stiffness(c), unit.Stiffness(c)}
		p := assess(t, in).Passes[0]
		claim(t, fmt.Sprintf("b = 2 b_lim, C = %g N/m, %g m/min: largest carry-over", 1000*c, v), script, most, p.CarryOver.Likely, 5e-4, "")
	}
}

func TestAlternatingSpeeds(t *testing.T) {
	h := single(t, table)
	limit, _ := table.Limit(tableK)
	for _, r := range rows(t, "alternate") {
		q, s, growth := r.number[0], r.number[1], r.number[2]
		// The two passes of a pair; a wave that starts in the second would hide the product
		// of both wherever that is smaller, so the product itself is searched.
		in := input(t, h, 200, wide(unit.Length(q)*limit), wide(unit.Length(q)*limit))
		in.Passes[1].Speed = unit.Rotation(200 * s)
		in.fill()
		r, err := newRun(in)
		if err != nil {
			t.Fatal(err)
		}
		sp := r.spectra()
		move := shifted(s, h.ratio)
		product := make(spectrum, len(h.hz))
		for i := range product {
			product[i] = math.Sqrt(sp[0][i] * move.read(sp[1], i))
		}
		f, ours := h.peak(product), 0.0
		for i := range 401 { // the peak of a product is not quite a parabola
			g := f * unit.Frequency(0.98+0.04*float64(i)/400)
			ours = max(ours, math.Sqrt(cmplx.Abs(r.exactAt(0, g))*cmplx.Abs(r.exactAt(1, g*unit.Frequency(s)))))
		}
		claim(t, fmt.Sprintf("b = %g b_lim, speeds N and %g N in turn: growth per pass", q, s), script, growth, ours, 3e-3, "")
	}
}

func TestScheduleTable(t *testing.T) {
	h := single(t, table)
	limit, _ := table.Limit(tableK)
	last := map[string]float64{"same": 200, "last": 170, "faster": 230}
	for _, r := range rows(t, "passes") {
		name, waves, left := r.words[0], r.number[1], r.number[2]
		in := input(t, h, 200)
		for i, q := range []float64{0.5, 0.8, 1.1, 1.4, 1.6, 1.8, 1.8, 1.8} {
			n := unit.Rotation(200)
			if i >= 6 {
				n = unit.Rotation(last[name])
			}
			in.Passes = append(in.Passes, Pass{wide(unit.Length(q) * limit), n})
		}
		in.fill()
		run, err := newRun(in)
		if err != nil {
			t.Fatal(err)
		}
		product := 1.0
		for k := range run.gains {
			f := unit.Frequency(waves * run.speeds[k].Hz().Hz())
			product *= cmplx.Abs(run.exactAt(k, f))
		}
		claim(t, fmt.Sprintf("eight passes, %s speed, %g waves a turn: what is left of a first wave", name, waves), stepped, left, product, 3e-3, "")
	}
}

// TestGainTable compares with the force on a V that is moved by a hair.
func TestGainTable(t *testing.T) {
	g, err := cut.Tool{Leading: thirty, Trailing: thirty}.Groove(2, 0.7)
	if err != nil {
		t.Fatal(err)
	}
	c, err := cut.NewCutter(g)
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rows(t, "gain") {
		name, a := r.words[0], unit.Angle(r.number[3])*unit.Degree
		m := cut.Material{Name: name, Specific: unit.Stress(r.number[1]), Exponent: r.number[2]}
		f, err := cut.NewForce(m, cut.Tool{}, 1000, cut.ThrustRatio(0.5), cut.Without(cut.FactorRake, cut.FactorTool, cut.FactorSpeed, cut.FactorWear, cut.FactorCollide))
		if err != nil {
			t.Fatal(err)
		}
		at, err := c.Positions([]unit.Length{0.6, 0.7}, cut.Infeed{Method: cut.Modified, Angle: a})
		if err != nil {
			t.Fatal(err)
		}
		chips, _, err := c.Cut(at)
		if err != nil {
			t.Fatal(err)
		}
		gain, err := NewGain(chips[1], f, cut.EdgeType{MinHi: 0.001})
		if err != nil {
			t.Fatal(err)
		}
		what := fmt.Sprintf("%s, V from 0.6 to 0.7 mm at %.0f degrees: ", name, a.Degrees())
		const source = "docs/validation/vibe.py: numpy, finite differences of the force"
		claim(t, what+"radial stiffness of the cut", source, r.number[4], float64(gain.Radial), 1e-3, "N/mm")
		claim(t, what+"axial", source, r.number[5], float64(gain.Axial), 1e-3, "N/mm")
		claim(t, what+"radial by axial", source, r.number[6], float64(gain.Cross), 1e-3, "N/mm")
	}
}

func TestLastPassesWithContact(t *testing.T) {
	h := single(t, table)
	limit, _ := table.Limit(tableK)
	const marks = 0.012 // valley to peak
	for _, r := range rows(t, "contact") {
		infeed, q, left := r.number[0], r.number[1], r.number[2]
		f := unit.Frequency(127 * 200.0 / 60)
		in := input(t, h, 200, wide(2*limit))
		in.fill()
		run, err := newRun(in)
		if err != nil {
			t.Fatal(err)
		}
		linear := math.Pow(cmplx.Abs(run.exactAt(0, f*unit.Frequency(q))), 3)
		what := fmt.Sprintf("three passes of %g mm at %g N on marks of 12 um: what is left", infeed, q)
		switch {
		case DeepEnough(unit.Length(infeed), marks) && q < 1:
			claim(t, what, stepped, left, linear, 0.05, "")
		case !DeepEnough(unit.Length(infeed), marks) && q < 1:
			if left < 10*linear {
				t.Errorf("%s: %g, but DeepEnough says that %g is out of reach", what, left, linear)
			}
		case infeed >= 0.05: // large marks begin to leave the metal, so a little less grows
			claim(t, what, stepped, left, linear, 0.08, "")
		}
	}
}

// slant is the tool side of the script's matrix cases.
func slant(t testing.TB) *Holding { return slanting(t, slantModes()...) }

func slantModes() []shaft.ToolMode {
	return []shaft.ToolMode{
		{Frequency: 310, Stiffness: 9000, Damping: 0.04, Along: shaft.Direction{Radial: 1, Tangential: 0.35, Axial: 0.2}},
		{Frequency: 430, Stiffness: 6000, Damping: 0.03, Along: shaft.Direction{Radial: 0.2, Tangential: -0.3, Axial: 1}},
		{Frequency: 520, Stiffness: 12000, Damping: 0.05, Along: shaft.Direction{Radial: 0.8, Tangential: 0.6, Axial: -0.1}},
	}
}

func TestMatrixTable(t *testing.T) {
	h := slant(t)
	if !h.places[0].aslant {
		t.Fatal("slanting modes are not seen")
	}
	for _, r := range rows(t, "matrix") {
		rub, f, most := r.number[0], r.number[1], r.number[2]
		// The script's edges have their own stiffness each; one even force cannot, so lengths carry it.
		g := Gain{Width: 0.72}
		for _, e := range []struct{ l, kn, nx, nz float64 }{{0.30, 950, 0.5, 0.8660254}, {0.12, 1400, 1, 0}, {0.30, 500, 0.5, -0.8660254}} {
			part := Gain{}
			part.add(cut.Element{Length: unit.Length(e.l), Thickness: 0.05, Radial: e.nx, Axial: e.nz}, evenForce(t, e.kn, 0.5), cut.EdgeType{})
			g.Radial += part.Radial
			g.Axial += part.Axial
			g.Cross += part.Cross
			g.TangentialRadial += part.TangentialRadial
			g.TangentialAxial += part.TangentialAxial
			for i := range g.rub {
				g.rub[i] += part.rub[i]
			}
		}
		ours := cmplx.Abs(h.places[0].exactAt(unit.Frequency(f), &g, likely, rub))
		claim(t, fmt.Sprintf("three slanting modes, unequal flanks, rubbing %g N s/mm2, %g Hz: carry-over", rub, f), stepped, most, ours, 3e-3, "")
	}
}

func TestGrowthWithinPass(t *testing.T) {
	both := 0
	for _, r := range rows(t, "within") {
		angle, ratio, b, rate, hz, free := r.number[0], r.number[1], r.number[2], r.number[3], r.number[4], r.number[5]
		a := angle * math.Pi / 180
		h := slanting(t,
			shaft.ToolMode{Frequency: 300, Stiffness: 6000, Damping: 0.03, Along: shaft.Direction{Radial: math.Cos(a), Tangential: math.Sin(a)}},
			shaft.ToolMode{Frequency: unit.Frequency(300 * math.Sqrt(ratio)), Stiffness: unit.Stiffness(6000 * ratio), Damping: 0.03, Along: shaft.Direction{Radial: -math.Sin(a), Tangential: math.Cos(a)}},
		)
		g, err := NewGain(wide(unit.Length(b)), evenForce(t, 1000, 0.5), cut.EdgeType{})
		if err != nil {
			t.Fatal(err)
		}
		grows, f := h.InPass(0, g)
		what := fmt.Sprintf("modes aslant by %g degrees, stiffness ratio %g, chip %g mm wide", angle, ratio, b)
		sign := map[bool]float64{true: 1, false: 0}
		claim(t, what+": grows within the pass", "docs/validation/vibe.py: numpy, eigenvalues of the state matrix", sign[rate > 0], sign[grows], 0, "")
		if grows && math.Abs(f.Hz()-hz) > 0.1*hz {
			t.Errorf("%s: grows at %.1f Hz, want about %.1f", what, f.Hz(), hz)
		}
		w := 2 * math.Pi * 300
		s := Slanting{Mass: shaft.Mass(6000 / (w * w)), First: 6000, Second: unit.Stiffness(6000 * ratio), Aslant: unit.Angle(a)}
		swings, _ := s.Grows(unit.Stiffness(1000*b), unit.Stiffness(2000*b))
		claim(t, what+": swings without damping", "docs/validation/vibe.py: numpy, eigenvalues of the stiffness", sign[free > 0], sign[swings], 0, "")
		if grows {
			both++
		}
	}
	if both == 0 {
		t.Error("no case grows, so the test tells nothing")
	}
}

func TestLobes(t *testing.T) {
	lathes := map[string]struct {
		Oscillator
		k unit.Stress
	}{
		"A": {Oscillator{250, 2.26e5, 0.012}, 1000},
		"B": {table, tableK},
		"C": {Oscillator{150, 2e4, 0.05}, 1384},
	}
	for _, r := range rows(t, "lobe") {
		l := lathes[r.words[0]]
		u, j, width, hz, rpm := r.number[1], int(r.number[2]), r.number[3], r.number[4], r.number[5]
		var at []unit.Frequency
		for i := range 4001 {
			at = append(at, unit.Frequency(hz*(0.98+0.04*float64(i)/4000)))
		}
		best := LobePoint{Width: unit.Length(math.Inf(1))}
		for _, p := range Lobes(l.Receptance, l.k, u, at, j+1) {
			if p.Lobe == j && p.Width < best.Width {
				best = p
			}
		}
		what := fmt.Sprintf("lathe %s, overlap %g, lobe %d: ", r.words[0], u, j)
		const source = "docs/validation/vibe.py: scipy, root of the characteristic equation"
		claim(t, what+"least width", source, width, best.Width.MM(), 1e-4, "mm")
		claim(t, what+"frequency", source, hz, best.Frequency.Hz(), 2e-4, "Hz")
		claim(t, what+"speed", source, rpm, best.Speed.RPM(), 2e-3, "rev/min")
		claim(t, what+"border at that speed", source, width, LobeLimit(l.Receptance, l.k, u, unit.Rotation(rpm), at).MM(), 1e-3, "mm")
	}
	claim(t, "lathe A, textbook example: least width", "Altintas, Manufacturing Automation, orthogonal example (parameters from memory), computed with numpy", 5.4891, must(lathes["A"].Limit(1000)), 1e-4, "mm")
}

func must(b unit.Length, _ unit.Frequency) float64 { return b.MM() }

func TestLobesAtOneSpeed(t *testing.T) {
	// x" + 2 z x' + x = w (x(t-tau) - x) with the natural frequency at 1 rad/s.
	one := Oscillator{unit.Frequency(1 / (2 * math.Pi)), 1, 0.02}
	var at []unit.Frequency
	for i := range 60001 {
		at = append(at, one.Frequency*unit.Frequency(1+1e-6+4*float64(i)/60000))
	}
	for _, r := range rows(t, "slowed") {
		n := unit.Rotation(60 * r.number[0] / (2 * math.Pi))
		claim(t, fmt.Sprintf("delayed oscillator, damping 0.02, speed %g of its own: border", r.number[0]),
			"docs/validation/vibe.py: scipy, D-subdivision", r.number[1], LobeLimit(one.Receptance, 1, 1, n, at).MM(), 2e-3, "")
	}
}

// Figures that an independent computation gave earlier, rounded as they were noted.
func TestNotedFigures(t *testing.T) {
	const source = "independent computation with numpy, figures as noted"
	note := func(what string, published, ours, tolerance float64, unit string) {
		outside.Check(t, outside.Claim{What: what, Source: source, Status: outside.Computed, Published: published, Ours: ours, Unit: unit, Tolerance: tolerance})
	}
	limit, _ := table.Limit(tableK)
	note("400 Hz, 5 N/um, 3 %, K 2000 N/mm2: b_lim", 0.15450, limit.MM(), 5e-6, "mm")
	g := unit.Stiffness(tableK * 1.5 * limit.MM())
	for _, r := range [][2]float64{{1, 1.479}, {.95, .751}, {.90, .428}, {.80, .233}, {.70, .166}, {1.10, .390}, {1.25, .150}} {
		note(fmt.Sprintf("b = 1.5 b_lim: clean-up at %g of the speed", r[0]), r[1], cmplx.Abs(CarryOver(g, table.Receptance(unit.Frequency(417.787*r[0])))), 0.0006, "")
	}
	for _, r := range [][2]float64{{50, 0.157}, {100, 0.314}, {300, 0.942}, {611, 1.92}} {
		note(fmt.Sprintf("C = %g N/m: critical wavelength", 1000*r[0]), r[1], CriticalWavelength(unit.Stiffness(r[0]), tableK).MM(), 0.005*r[1], "mm")
	}
	for _, r := range [][3]float64{{100, 100, 1.9}, {100, 200, 3.8}, {100, 400, 7.5}, {100, 800, 15.1}, {300, 100, 5.7}, {300, 200, 11.3}, {300, 400, 22.6}, {300, 800, 45}} {
		note(fmt.Sprintf("C = %g N/m, %g Hz: critical speed", 1000*r[0], r[1]), r[2], CriticalSpeed(unit.Stiffness(r[0]), tableK, unit.Frequency(r[1])).MPerMin(), max(0.051, 0.006*r[2]), "m/min")
	}
	note("12 mm bar at 200 rev/min, 420 Hz: marks apart", 0.299, Wavelength(unit.Rotation(200).Surface(12), 420).MM(), 0.0006, "mm")
	for name, radial := range map[string]float64{"1018": 578, "1045": 653, "304": 904} {
		m, err := cut.FindMaterial(name)
		if err != nil {
			t.Fatal(err)
		}
		f, err := cut.NewForce(m, cut.Tool{}, 1000, cut.ThrustRatio(0.5), cut.Without(cut.FactorRake, cut.FactorTool, cut.FactorSpeed, cut.FactorWear, cut.FactorCollide))
		if err != nil {
			t.Fatal(err)
		}
		gain, err := NewGain(vee(1.1547, 0, 0.05, 0.05), f, cut.EdgeType{})
		if err != nil {
			t.Fatal(err)
		}
		note(name+", 1 mm deep, straight infeed, chip 0.05 mm: radial stiffness of the cut", radial, float64(gain.Radial), 0.005*radial, "N/mm")
	}
}
