package thread

import (
	"math"

	"thrum/unit"
)

// TaperGauge says where along its axis a taper thread has which size, and how
// long its parts are. Positions and lengths run along the axis: on an external
// thread from the small end, in an internal thread from the face inwards. A
// length that the standard does not give is zero.
type TaperGauge struct {
	Plane     unit.Length    // to the gauge plane, where Basic and Limits of the thread hold (NPT L1)
	Tolerance unit.Length    // the plane may lie this much to either side
	Complete  unit.Length    // ridges full at root and crest (NPT L5)
	Useful    unit.Length    // thread that can take part in the joint (NPT L2)
	UsefulMin unit.Length    // the same when the gauge plane lies at its nearest (ISO 7-1)
	UsefulMax unit.Length    // the same when the gauge plane lies at its farthest (ISO 7-1)
	Fitting   unit.Length    // useful thread beyond the gauge plane (ISO 7-1 fitting allowance)
	Wrench    unit.Length    // make-up by wrench beyond hand tightness (NPT L3)
	Vanish    unit.Length    // runs out with the chamfer of a die (NPT V)
	Overall   unit.Length    // useful and vanishing thread together (NPT L4)
	Sections  []TaperSection // the planes that the standard names, from the small end up
}

// TaperSection is one plane square to the axis of a taper thread.
type TaperSection struct {
	Name      string      // "E0", "gauge plane"
	At        unit.Length // from the small end, or from the face of an internal thread
	Diameters Diameters   //
}

// DiametersAt returns the basic diameters of a taper thread in the plane at the
// given position: from the small end of an external thread, from the face of an
// internal one. On a parallel thread it returns Basic everywhere.
func (t Thread) DiametersAt(z unit.Length) Diameters {
	d := t.Basic
	if t.Gauge == nil {
		return d
	}
	grow := unit.Length(t.Taper.Float()) * (z - t.Gauge.Plane)
	if t.Side == Internal {
		grow = -grow
	}
	return Diameters{d.Major + grow, d.Pitch + grow, d.Minor + grow}
}

// TaperAngle returns the angle between the axis and the side of the cone:
//
//	tan = taper / 2
//
// It is what a taper attachment or a swung top slide is set to: 1.79 degrees for
// a taper of 1 in 16.
func (t Thread) TaperAngle() unit.Angle { return unit.Angle(math.Atan(t.Taper.Float() / 2)) }

// SetOver returns how far the tailstock centre must be offset to turn this taper
// between centres on a part of the given length from centre to centre:
//
//	offset = length x sin(TaperAngle)
//
// The part's own length counts, not the length of the thread. The tool stays
// square to the WORK axis, which now lies askew to the bed.
func (t Thread) SetOver(between unit.Length) (unit.Length, error) {
	if t.Taper.IsZero() {
		return 0, &unit.InputError{Field: "set-over", Value: t.Designation, Reason: "is a parallel thread"}
	}
	if !(between > 0) || math.IsInf(float64(between), 0) {
		return 0, &unit.InputError{Field: "length between centres", Value: between.String(), Reason: "is not a length of a part"}
	}
	return between * unit.Length(t.TaperAngle().Sin()), nil
}
