package thread

import (
	"math"

	"thrum/unit"
)

// Plating is a coating of the flanks, measured square to the surface.
type Plating struct {
	Thin  unit.Length // least thickness
	Thick unit.Length // greatest thickness
	After bool        // the drawing says that its limits hold AFTER plating
}

// growth returns by how much a coating of thickness 1 enlarges the pitch
// diameter of a screw, and lessens that of a nut. A flank at angle a to the
// normal moves 1/cos a along the axis; the pitch line follows where the groove
// has half a pitch again:
//
//	2 (1/cos a + 1/cos b) / (tan a + tan b)        (2 / sin a for equal flanks)
//
// Four for a 60 degree thread, 4.331 for Whitworth, 7.987 for Acme.
// Valid: flanks that are not both square to the axis; 0 then.
//
// Source: geometry; the factor 4 for 60 degrees is also in ASME B1.1, coated threads.
func (f Form) growth() float64 {
	slope := f.Leading.Tan() + f.Trailing.Tan()
	if slope < 1e-9 {
		return 0
	}
	return 2 * (1/f.Leading.Cos() + 1/f.Trailing.Cos()) / slope
}

// String prints the range of thickness, or the one thickness.
func (p Plating) String() string {
	if p.Thin == p.Thick {
		return p.Thin.String()
	}
	return p.Thin.String() + " to " + p.Thick.String()
}

// ToPlate returns the limits to cut to when the thread is plated afterwards.
//
// Crests and roots grow by twice the coating, the pitch diameter by Form's
// factor (4 on a 60 degree thread). Two cases, as the drawing has it:
//
//   - Its limits hold AFTER plating: both are shifted, the maximum metal limit by
//     the thickest coating and the minimum metal limit by the thinnest.
//   - Otherwise its limits hold before plating, and after plating the thread may
//     reach, but not pass, the basic size: the allowance (class 2A, position g)
//     is there to take the coating. Only the maximum metal limit moves, and only
//     when the allowance is too small.
//
// It fails when the coating takes up all of the tolerance.
//
// Source: ASME B1.1 (coated threads), ISO 965-1 clause on coated threads: the
// maximum metal limits of position h or H after plating.
func (t Thread) ToPlate(p Plating) (Limits, error) {
	if !(p.Thin >= 0) || !(p.Thick >= p.Thin) || math.IsInf(float64(p.Thick), 0) {
		return Limits{}, &unit.InputError{
			Field: "plating", Value: p.String(),
			Reason: "is not a range of thickness", Hint: "give the least thickness first: 5um to 8um",
		}
	}
	k := unit.Length(t.Form.growth())
	if k == 0 {
		return Limits{}, &unit.InputError{
			Field: "plating", Value: t.Designation,
			Reason: "has square flanks: plating narrows the groove and no pitch diameter makes up for it",
		}
	}
	out := Limits{
		Major: t.plated(t.Limits.Major, t.Basic.Major, 2, p),
		Pitch: t.plated(t.Limits.Pitch, t.Basic.Pitch, k, p),
		Minor: t.plated(t.Limits.Minor, t.Basic.Minor, 2, p),
	}
	for _, b := range []Band{out.Major, out.Pitch, out.Minor} {
		if b.Min > 0 && b.Max > 0 && b.Min > b.Max || b.Min < 0 || b.Max < 0 {
			return Limits{}, &unit.InputError{
				Field: "plating", Value: p.String(),
				Reason: "takes up more than the tolerance of " + t.Designation, Hint: "plate thinner, or ask for a class with more allowance",
			}
		}
	}
	return out, nil
}

// plated shifts one band; k is how much the diameter grows per thickness.
func (t Thread) plated(b Band, basic, k unit.Length, p Plating) Band {
	full, least := &b.Max, &b.Min // limits of most and of least metal
	sign := unit.Length(-1)
	if t.Side == Internal {
		full, least, sign = &b.Min, &b.Max, 1
	}
	if p.After {
		if *full != 0 {
			*full += sign * k * p.Thick
		}
		if *least != 0 {
			*least += sign * k * p.Thin
		}
		return b
	}
	if *full != 0 {
		reach := basic + sign*k*p.Thick
		if t.Side == Internal {
			*full = max(*full, reach)
		} else {
			*full = min(*full, reach)
		}
	}
	return b
}
