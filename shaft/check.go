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

// check reports every fault of the work at once.
func (w Work) check() error {
	var errs []error
	fault := func(field string, value any, reason, hint string) {
		errs = append(errs, &unit.InputError{Field: field, Value: fmt.Sprint(value), Reason: reason, Hint: hint})
	}
	if n := len(w.Sections); n == 0 || n > mostSections {
		fault("work", fmt.Sprintf("%d sections", n), fmt.Sprintf("needs 1 to %d lengths of constant diameter", mostSections), "")
	}
	length := unit.Length(0)
	for i, s := range w.Sections {
		field := fmt.Sprintf("section %d", i+1)
		switch {
		case !within(s.Length.MM(), 1e-3, 1e5):
			fault(field+" length", s.Length, "is not between 0.001 mm and 100 m", "")
		case !within(s.Diameter.MM(), 1e-2, 1e4):
			fault(field+" diameter", s.Diameter, "is not between 0.01 mm and 10 m", "")
		case !(s.Bore >= 0) || s.Bore > 0.999*s.Diameter:
			fault(field+" bore", s.Bore, "leaves no wall", "it must be smaller than the diameter "+s.Diameter.String())
		case s.Shear != 0 && !within(s.Shear, 0.05, 1.5):
			fault(field+" shear coefficient", s.Shear, "is not between 0.05 and 1.5", "leave it out for a round section")
		}
		length += s.Length
	}
	if !within(w.Stuff.E.MPa(), 1, 2e6) || !within(w.Stuff.Density.KgPerM3(), 10, 3e4) || !within(w.Stuff.Poisson, 0, 0.5) {
		fault("material of the work", fmt.Sprintf("E %g N/mm2, density %g kg/m3, Poisson's ratio %g", w.Stuff.E.MPa(), w.Stuff.Density.KgPerM3(), w.Stuff.Poisson),
			"is outside what a solid can be", "steel: 205000, 7850, 0.29")
	}
	for _, j := range []struct {
		name string
		j    Joint
	}{{"chuck", w.Head}, {"tailstock", w.Tail}} {
		if !(j.j.Radial >= 0) || !(j.j.Tilt >= 0) {
			fault(j.name+" stiffness", j.j, "is negative", "zero leaves it free")
		}
	}
	if len(w.Rests) > mostRests {
		fault("steadies", len(w.Rests), fmt.Sprintf("are more than %d", mostRests), "")
	}
	for _, r := range w.Rests {
		if !(r.At >= 0 && r.At <= length) || !(r.Radial > 0) {
			fault("steady", fmt.Sprintf("at %v, %g N/mm", r.At, r.Radial.NPerMM()), "does not bear on the work", "")
		}
	}
	if !(w.Follow >= 0) || math.IsInf(float64(w.Follow), 1) {
		fault("follow rest stiffness", w.Follow, "is not a stiffness", "leave it zero without one")
	}
	errs = append(errs, w.Tool.check())
	if !(w.Damping >= 0 && w.Damping < 1) {
		fault("damping", w.Damping, "is not a fraction of critical between 0 and 1", "0.02 is usual in a chuck")
	}
	if len(w.Measured) > mostKnocks {
		fault("measured modes", len(w.Measured), fmt.Sprintf("are more than %d", mostKnocks), "")
	}
	for _, k := range w.Measured {
		if !(k.Frequency >= 0) || k.Frequency > 1e6 || !(k.Damping >= 0 && k.Damping < 1) {
			fault("measured mode", fmt.Sprintf("%g Hz, damping %g", k.Frequency.Hz(), k.Damping), "is not a vibration", "")
		}
	}
	if errors.Join(errs...) == nil && !w.held(length) {
		fault("work-holding", "chuck, centre and steadies", "let the work move or tilt freely", "hold it in a chuck, or add a centre")
	}
	return errors.Join(errs...)
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

func (t Tool) check() error {
	var errs []error
	for _, k := range []unit.Stiffness{t.Radial, t.Tangential, t.Axial} {
		if !(k >= 0) {
			errs = append(errs, &unit.InputError{Field: "tool stiffness", Value: fmt.Sprintf("%g N/mm", k.NPerMM()), Reason: "is negative", Hint: "zero leaves it out of account"})
		}
	}
	for _, m := range t.Modes {
		if !(m.Frequency > 0) || !(m.Stiffness > 0) || !(m.Damping > 0 && m.Damping < 1) || !(m.Along.norm() > 0) || math.IsInf(m.Along.norm(), 0) {
			errs = append(errs, &unit.InputError{Field: "tool mode", Value: fmt.Sprintf("%g Hz, %g N/mm, damping %g", m.Frequency.Hz(), m.Stiffness.NPerMM(), m.Damping), Reason: "is not a vibration"})
		}
	}
	if len(t.Modes) > mostKnocks {
		errs = append(errs, &unit.InputError{Field: "tool modes", Value: fmt.Sprint(len(t.Modes)), Reason: fmt.Sprintf("are more than %d", mostKnocks)})
	}
	return errors.Join(errs...)
}

func (d Direction) norm() float64 {
	return math.Sqrt(d.Radial*d.Radial + d.Tangential*d.Tangential + d.Axial*d.Axial)
}
