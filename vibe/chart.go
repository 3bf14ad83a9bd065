package vibe

import (
	"math"
	"math/cmplx"
	"slices"

	"thrum/unit"
)

// SpeedPoint is one spindle speed of a chart.
type SpeedPoint struct {
	Speed     unit.Rotation
	Surface   unit.Velocity
	CarryOver Range   // of the worst pass, all passes at this speed: it depends on the speed by rubbing alone
	CleanUp   float64 // what the last pass at this speed leaves of the waves that stand on the thread
}

// SpeedCurve returns carry-over and clean-up over spindle speeds, likely and at
// both ends of the doubt. Speeds outside 1 to 10000 rev/min are left out.
func (a *Assessment) SpeedCurve(speeds []unit.Rotation) []SpeedPoint {
	r := a.run
	last := len(r.gains) - 1
	var sp spectrum
	one := func(r *run, n unit.Rotation) float64 {
		if r == nil { // a schedule of spring passes has no ends
			r = a.run
		}
		v := *r
		v.rub = slices.Clone(r.rub)
		v.rub[a.Worst] = rubs(r.trial.process, n, a.in.Diameter)
		sp = v.one(a.Worst, v.rub[a.Worst], sp)
		t, _ := v.largest(a.Worst, sp)
		return t
	}
	var out []SpeedPoint
	for _, n := range speeds {
		if !speedOK(n) {
			continue
		}
		p := SpeedPoint{Speed: n, Surface: n.Surface(a.in.Diameter)}
		l := one(r, n)
		p.CarryOver = Range{min(one(a.quiet, n), l), l, max(one(a.loud, n), l)}
		f := a.Growth.Frequency * unit.Frequency(n/a.ref)
		p.CleanUp = cmplx.Abs(r.p.exactAt(f, &r.gains[last], r.trial.scale, rubs(r.trial.process, n, a.in.Diameter)))
		out = append(out, p)
	}
	return out
}

// Map is the carry-over over spindle speed and depth: CarryOver[i][j] belongs to
// Depths[i] and Speeds[j]. Depths are those of the passes that cut.
type Map struct {
	Speeds    []unit.Rotation
	Depths    []unit.Length
	CarryOver [][]float64
}

// SpeedDepthMap returns the likely carry-over of each pass at each speed. Speeds
// outside 1 to 10000 rev/min are left out.
func (a *Assessment) SpeedDepthMap(speeds []unit.Rotation) *Map {
	m := &Map{}
	for _, n := range speeds {
		if speedOK(n) {
			m.Speeds = append(m.Speeds, n)
		}
	}
	r := a.run
	var sp spectrum
	for k := range r.gains {
		g := &r.gains[k]
		if g.Spring() {
			continue
		}
		row := make([]float64, len(m.Speeds))
		for j, n := range m.Speeds {
			rub := rubs(a.in.Process.Likely, n, a.in.Diameter)
			sp = r.one(k, rub, sp)
			row[j], _ = r.h.largest(r.p, g, likely, rub, sp)
		}
		m.Depths = append(m.Depths, a.in.Passes[k].Chip.At.Depth)
		m.CarryOver = append(m.CarryOver, row)
	}
	return m
}

// CentreCurves returns the carry-over of the worst pass over frequency with the
// centre and without it; both are nil without Other.
func (a *Assessment) CentreCurves(from, to unit.Frequency) (with, without []FrequencyPoint) {
	if a.other == nil {
		return nil, nil
	}
	with, without = a.FrequencyCurve(from, to), a.other.FrequencyCurve(from, to)
	if !a.in.HasCentre {
		with, without = without, with
	}
	return with, without
}

// FrequencyPoint is |T| of the worst pass at one frequency.
type FrequencyPoint struct {
	Frequency unit.Frequency
	Waves     float64 // per turn at the speed of that pass
	CarryOver float64
}

// FrequencyCurve returns the carry-over of the worst pass over frequency: the
// samples of the holding between two frequencies.
func (a *Assessment) FrequencyCurve(from, to unit.Frequency) []FrequencyPoint {
	var out []FrequencyPoint
	for i, hz := range a.run.h.hz {
		if f := unit.Frequency(hz); f >= from && f <= to {
			out = append(out, FrequencyPoint{f, hz / a.ref.Hz().Hz(), 1 / math.Sqrt(a.sp[a.Worst][i])})
		}
	}
	return out
}
