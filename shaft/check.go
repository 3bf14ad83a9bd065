package shaft

import (
	"errors"
	"fmt"
	"math"

	"thrum/unit"
)

const (
	mostSections = 200
	mostRests    = 8
	mostKnocks   = 20
)

// faults collects what is wrong.
type faults []error

func (f *faults) add(field string, value any, reason, hint string) {
	*f = append(*f, &unit.InputError{Field: field, Value: fmt.Sprint(value), Reason: reason, Hint: hint})
}

// check reports every fault of the work at once.
func (w Work) check() error {
	var f faults
	length := w.checkSections(&f)
	if m := w.Stuff; !within(m.E.MPa(), 1, 2e6) || !within(m.Density.KgPerM3(), 10, 3e4) || !within(m.Poisson, 0, 0.5) {
		f.add("material of the work", fmt.Sprintf("E %g N/mm2, density %g kg/m3, Poisson's ratio %g", m.E.MPa(), m.Density.KgPerM3(), m.Poisson),
			"is outside what a solid can be", "steel: 205000, 7850, 0.29")
	}
	w.checkSupports(&f, length)
	w.Tool.check(&f)
	w.checkDamping(&f)
	if len(f) == 0 && !w.held(length) {
		f.add("work-holding", "chuck, centre and steadies", "let the work move or tilt freely", "hold it in a chuck, or add a centre")
	}
	return errors.Join(f...)
}

func (w Work) checkSections(f *faults) (length unit.Length) {
	if n := len(w.Sections); n == 0 || n > mostSections {
		f.add("work", fmt.Sprintf("%d sections", n), fmt.Sprintf("needs 1 to %d lengths of constant diameter", mostSections), "")
		return 0
	}
	for i, s := range w.Sections {
		field := fmt.Sprintf("section %d", i+1)
		switch {
		case !within(s.Length.MM(), 1e-3, 1e5):
			f.add(field+" length", s.Length, "is not between 0.001 mm and 100 m", "")
		case !within(s.Diameter.MM(), 1e-2, 1e4):
			f.add(field+" diameter", s.Diameter, "is not between 0.01 mm and 10 m", "")
		case !(s.Bore >= 0) || s.Bore > 0.999*s.Diameter:
			f.add(field+" bore", s.Bore, "leaves no wall", "it must be smaller than the diameter "+s.Diameter.String())
		case s.Shear != 0 && !within(s.Shear, 0.05, 1.5):
			f.add(field+" shear coefficient", s.Shear, "is not between 0.05 and 1.5", "leave it out for a round section")
		}
		length += s.Length
	}
	return length
}

func (w Work) checkSupports(f *faults, length unit.Length) {
	for i, j := range []Joint{w.Head, w.Tail} {
		if !(j.Radial >= 0) || !(j.Tilt >= 0) {
			f.add([]string{"chuck", "tailstock"}[i]+" stiffness", j, "is negative", "zero leaves it free")
		}
	}
	if len(w.Rests) > mostRests {
		f.add("steadies", len(w.Rests), fmt.Sprintf("are more than %d", mostRests), "")
		return
	}
	for _, r := range w.Rests {
		if !(r.At >= 0 && r.At <= length) || !(r.Radial > 0) {
			f.add("steady", fmt.Sprintf("at %v, %g N/mm", r.At, r.Radial.NPerMM()), "does not bear on the work", "")
		}
	}
	if !(w.Follow >= 0) || math.IsInf(float64(w.Follow), 1) {
		f.add("follow rest stiffness", w.Follow, "is not a stiffness", "leave it zero without one")
	}
}

func (w Work) checkDamping(f *faults) {
	if !(w.Damping >= 0 && w.Damping < 1) {
		f.add("damping", w.Damping, "is not a fraction of critical between 0 and 1", "0.02 is usual in a chuck")
	}
	if len(w.Measured) > mostKnocks {
		f.add("measured modes", len(w.Measured), fmt.Sprintf("are more than %d", mostKnocks), "")
		return
	}
	for _, k := range w.Measured {
		if !(k.Frequency >= 0) || k.Frequency > 1e6 || !(k.Damping >= 0 && k.Damping < 1) {
			f.add("measured mode", fmt.Sprintf("%g Hz, damping %g", k.Frequency.Hz(), k.Damping), "is not a vibration", "")
		}
	}
}

func within(v, lo, hi float64) bool { return v >= lo && v <= hi }

// held reports whether the supports stop both a sideways movement and a tilt.
func (w Work) held(length unit.Length) bool {
	tilt := w.Head.Tilt > 0 || w.Tail.Tilt > 0
	places := map[unit.Length]bool{}
	if w.Head.Radial > 0 {
		places[0] = true
	}
	if w.Tail.Radial > 0 {
		places[length] = true
	}
	for _, r := range w.Rests {
		places[r.At] = true
	}
	return len(places) >= 2 || len(places) == 1 && tilt
}

func (t Tool) check(f *faults) {
	for _, k := range []unit.Stiffness{t.Radial, t.Tangential, t.Axial} {
		if !(k >= 0) {
			f.add("tool stiffness", fmt.Sprintf("%g N/mm", k.NPerMM()), "is negative", "zero leaves it out of account")
		}
	}
	if len(t.Modes) > mostKnocks {
		f.add("tool modes", len(t.Modes), fmt.Sprintf("are more than %d", mostKnocks), "")
		return
	}
	for _, m := range t.Modes {
		if !(m.Frequency > 0) || !(m.Stiffness > 0) || !(m.Damping > 0 && m.Damping < 1) || !(m.Along.norm() > 0) || math.IsInf(m.Along.norm(), 0) {
			f.add("tool mode", fmt.Sprintf("%g Hz, %g N/mm, damping %g", m.Frequency.Hz(), m.Stiffness.NPerMM(), m.Damping), "is not a vibration", "")
		}
	}
}

func (d Direction) norm() float64 {
	return math.Sqrt(d.Radial*d.Radial + d.Tangential*d.Tangential + d.Axial*d.Axial)
}
