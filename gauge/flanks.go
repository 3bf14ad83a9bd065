package gauge

import (
	"math"

	"thrum/thread"
	"thrum/unit"
)

// Flanks is what a wire or a ball in a groove can feel of a thread: the two flank
// angles, the pitch (the groove is half a pitch wide at the pitch diameter), the
// lead, and the half angle of a taper. Hand does not matter, nor which of two
// unequal flanks leads.
type Flanks struct {
	Side     thread.Side
	Leading  unit.Angle  // between flank and the normal to the axis, in the axial plane
	Trailing unit.Angle  // the same for the other flank
	Pitch    unit.Length // P
	Lead     unit.Length // P x starts
	Taper    unit.Angle  // between the side of the pitch cone and the axis; zero when parallel
}

// FlanksOf takes the flanks from a thread.
func FlanksOf(t thread.Thread) Flanks {
	return Flanks{
		Side:     t.Side,
		Leading:  t.Form.Leading,
		Trailing: t.Form.Trailing,
		Pitch:    t.Pitch.Length(),
		Lead:     t.Lead().Length(),
		Taper:    unit.Angle(math.Atan(t.Taper.Float() / 2)),
	}
}

// leastFlank is the least flank angle on which a wire can be said to seat: below
// it an error in the wire is multiplied by more than sixty.
const leastFlank = 1 * unit.Degree

// check refuses flanks between which nothing can seat.
func (f Flanks) check() error {
	switch {
	case !(f.Pitch > 0) || !(f.Lead > 0) || math.IsInf(float64(f.Lead), 0):
		return &unit.InputError{Field: "pitch", Value: f.Pitch.String(), Reason: "is not a pitch that can be measured"}
	case !(f.Leading >= leastFlank) || !(f.Trailing >= leastFlank):
		return &unit.InputError{
			Field: "flank angle", Value: min(f.Leading, f.Trailing).Format(1),
			Reason: "is too steep: a wire does not wedge between square flanks",
			Hint:   "measure the groove with blocks or pins and the depth with a depth micrometer, or try the mating part",
		}
	case !(f.Leading < 89*unit.Degree) || !(f.Trailing < 89*unit.Degree):
		return &unit.InputError{Field: "flank angle", Value: max(f.Leading, f.Trailing).Format(1), Reason: "is not a flank"}
	case f.Taper < 0 || f.Taper > 10*unit.Degree:
		return &unit.InputError{Field: "taper", Value: f.Taper.Format(2), Reason: "is beyond what these formulas hold for", Hint: "half angles up to 10° are accepted"}
	}
	return nil
}

func (f Flanks) symmetric() bool { return math.Abs(float64(f.Leading-f.Trailing)) < 1e-12 }

// opens is +1 when the groove widens away from the axis, -1 when towards it.
func (f Flanks) opens() float64 {
	if f.Side == thread.Internal {
		return -1
	}
	return 1
}

// sums returns what the formulas without lead need of the flanks:
//
//	cot = 2/(tan a1 + tan a2)                cot a for equal flanks
//	csc = cos((a1-a2)/2) / sin((a1+a2)/2)    cosec a for equal flanks
//
// The first places the point where the flanks would meet: it lies (P/4) cot below
// the pitch line. The second is the distance, square to the axis, of a wire's
// centre from that point, divided by the wire's radius.
func (f Flanks) sums() (cot, csc float64) {
	half, skew := (f.Leading+f.Trailing)/2, (f.Leading-f.Trailing)/2
	return 2 / (f.Leading.Tan() + f.Trailing.Tan()), skew.Cos() / half.Sin()
}

// simple returns the reading without lead correction:
//
//	M = E - (P/2) cot a + W (1 + cosec a)          external, over wires
//	M = E + (P/2) cot a - W (cosec a - 1)          internal, over the outer points of two balls
//
// Source: 60°: M = E - 0.866025P + 3W, national metrology institute article on the
// calibration of thread plugs. Unequal flanks: plane geometry, see sums.
func (f Flanks) simple(e, w float64) float64 {
	cot, csc := f.sums()
	s := f.opens()
	return e - s*float64(f.Pitch)/2*cot + w*(1+s*csc)
}

// approx returns the reading with the lead by the square-root formula
//
//	M = E - (P/2) cot a + W [1 + sqrt(cosec² a + cot² a tan² L)],  tan L = lead/(pi E)
//
// Valid: external threads with equal flanks; good to about a micrometre below 5°
// of lead angle. Zero for others. Source: NBS Handbook H28, from memory; a gauge
// maker's page confirms the root and the limit of 5°.
func (f Flanks) approx(e, w float64) float64 {
	if f.Side == thread.Internal || !f.symmetric() {
		return 0
	}
	cot, csc := f.sums()
	tanL := float64(f.Lead) / (math.Pi * e)
	return e - float64(f.Pitch)/2*cot + w*(1+math.Sqrt(csc*csc+cot*cot*tanL*tanL))
}

// LeadAngle returns the lead angle at pitch diameter e: tan L = lead/(pi e).
func (f Flanks) LeadAngle(e unit.Length) unit.Angle {
	return unit.Angle(math.Atan2(float64(f.Lead), math.Pi*float64(e)))
}

// BestWire returns the wire (or ball) that touches the flanks at the pitch diameter
// of a thread without lead, where errors of flank angle do no harm:
//
//	W = P / (2 cos a)
//
// Unequal flanks cannot both be touched at the pitch diameter; then the contacts
// lie equally far above and below it.
//
// Source: ISO 16239:2013, 3 (equal flanks).
func (f Flanks) BestWire() (unit.Length, error) {
	if err := f.check(); err != nil {
		return 0, err
	}
	// Contacts on both flanks are equally far, t, from the point where the flanks meet.
	cot, _ := f.sums()
	t := float64(f.Pitch) / 2 * cot / (f.Leading.Cos() + f.Trailing.Cos())
	return unit.Length(2 * t * ((f.Leading + f.Trailing) / 2).Tan()), nil
}

// BestWireAt returns the wire (or ball) that touches the flanks at pitch diameter
// e of a thread with lead, as the mean of both flanks. At ordinary lead angles it
// is BestWire; at 12° on a 29° thread it is 2 % thinner.
func (f Flanks) BestWireAt(e unit.Length) (unit.Length, error) {
	w, err := f.BestWire()
	if err != nil {
		return 0, err
	}
	if err := f.checkSizes(e, w); err != nil {
		return 0, err
	}
	best := w
	lo, hi := w/2, 2*w
	for range 60 {
		w = (lo + hi) / 2
		s, err := f.SeatOf(e, w)
		below := unit.Length(f.opens())*((s.Leading+s.Trailing)/2-e) < 0
		if err != nil { // far from the best size, steep flanks hold no wire at all
			below = w < best
		}
		if below {
			lo = w
		} else {
			hi = w
		}
	}
	_, err = f.SeatOf(e, w)
	return w, err
}
