package cut

import (
	"fmt"
	"math"
	"strconv"

	"thrum/unit"
)

// EqualArea returns the cumulative depths of n passes that each remove the same
// area from a V with a flat nose of width w, for the total depth d:
//
//	A(x) = x^2 t + w x,   t = (tan leading + tan trailing) / 2,   A(d_i) = i A(d) / n
//
// With a sharp nose it is d sqrt(i/n).
// Valid: n from 1 to 200, d > 0. Source: geometry.
func EqualArea(d unit.Length, n int, leading, trailing unit.Angle, w unit.Length) []unit.Length {
	t := (leading.Tan() + trailing.Tan()) / 2
	total := d.MM()*d.MM()*t + w.MM()*d.MM()
	out := make([]unit.Length, n)
	for i := range out {
		out[i] = depthOfArea(total*float64(i+1)/float64(n), t, w.MM())
	}
	out[n-1] = d
	return out
}

// depthOfArea solves t x^2 + w x = a in the form that stays exact for small t and w.
func depthOfArea(a, t, w float64) unit.Length {
	if a <= 0 {
		return 0
	}
	return unit.Length(2 * a / (w + math.Sqrt(w*w+4*t*a)))
}

// ToolMakersRule returns the cumulative depths of n passes by the rule printed in
// the manuals of makers of threading inserts:
//
//	d_x = d sqrt(phi / (n-1)),   phi = 0.3 for x = 1, 1 for x = 2, x - 1 after that
//
// Its first pass is deeper and its last lighter than equal areas would make them.
// Valid: n from 2 to 200; a single pass takes the whole depth.
// Source: two tool makers' manuals, formulas for thread turning.
func ToolMakersRule(d unit.Length, n int) []unit.Length {
	out := make([]unit.Length, n)
	for i := range out {
		phi := float64(i)
		if i == 0 {
			phi = 0.3
		}
		out[i] = d * unit.Length(math.Sqrt(phi/float64(max(n-1, 1))))
	}
	out[n-1] = d
	return out
}

// Limit names what settled the depth of a pass in a Series.
type Limit string

// What can settle a pass.
const (
	ByArea     Limit = "equal chip area"
	ByFirstCap Limit = "cap on the first pass"
	ByStepCap  Limit = "cap on one pass"
	ByLeast    Limit = "least infeed"
	ByFinal    Limit = "final depth"
)

// Step is one pass of a Series.
type Step struct {
	Depth unit.Length // cumulative, radial
	Limit Limit
}

// Series asks for a schedule of depths of a V-shaped groove.
type Series struct {
	Depth             unit.Length // total radial depth
	Passes            int         // wanted number of passes; caps may make it more, Least fewer; zero: as few as the caps allow
	Leading, Trailing unit.Angle  // flank angles
	NoseWidth         unit.Length // flat at the tool's tip
	FirstMost         unit.Length // largest first pass, for the sake of the tip; zero for no cap
	StepMost          unit.Length // largest of any pass; zero for no cap
	Least             unit.Length // least infeed of a pass, so that the edge still cuts; zero for none
	Dial              unit.Length // depths are rounded to whole multiples of this; zero for none. The last is never rounded
}

// Steps returns the schedule. Each pass takes the same area, unless a cap makes
// it less; what a capped pass leaves is shared by the later ones.
func (s Series) Steps() ([]Step, error) {
	if err := s.check(); err != nil {
		return nil, err
	}
	t := (s.Leading.Tan() + s.Trailing.Tan()) / 2
	w, d := s.NoseWidth.MM(), s.Depth.MM()
	area := func(x float64) float64 { return x*x*t + w*x }
	want := s.Passes
	if want == 0 {
		want = 1
	}
	var out []Step
	at := 0.0
	for at < d {
		if len(out) >= maxPasses {
			return nil, &unit.InputError{
				Field: "number of passes", Value: strconv.Itoa(maxPasses), Reason: "is not enough to reach the depth under these caps",
				Hint: "allow more per pass",
			}
		}
		left := max(want-len(out), 1)
		next, why := float64(depthOfArea(area(at)+(area(d)-area(at))/float64(left), t, w)), ByArea
		if left == 1 {
			next, why = d, ByFinal
		}
		if m := s.StepMost.MM(); m > 0 && next-at > m*(1+1e-12) {
			next, why = at+m, ByStepCap
		}
		if m := s.FirstMost.MM(); m > 0 && len(out) == 0 && next > m*(1+1e-12) {
			next, why = m, ByFirstCap
		}
		if m := s.Least.MM(); m > 0 && next-at < m && next < d {
			next, why = at+m, ByLeast
		}
		next = s.round(at, next, d)
		switch most := s.most(at); {
		case next >= d:
			next, why = d, ByFinal
		case d-next >= s.Least.MM():
		case d-at <= most*(1+1e-12): // too little would be left for a pass of its own
			next, why = d, ByFinal
		case d-s.Least.MM() > at:
			next, why = s.round(at, d-s.Least.MM(), d), ByLeast
		}
		out = append(out, Step{unit.Length(next), why})
		at = next
	}
	return out, nil
}

const maxPasses = 200

// most is the cap on a pass that begins at a depth.
func (s Series) most(at float64) float64 {
	most := math.Inf(1)
	if s.StepMost > 0 {
		most = s.StepMost.MM()
	}
	if s.FirstMost > 0 && at == 0 {
		most = min(most, s.FirstMost.MM())
	}
	return most
}

// round puts a depth on the dial, never beyond a cap and always ahead of at.
func (s Series) round(at, next, d float64) float64 {
	g := s.Dial.MM()
	if g <= 0 || next >= d {
		return next
	}
	r := math.Round(next/g) * g
	most := at + s.most(at)
	if r > most*(1+1e-12) {
		r = math.Floor(most/g*(1+1e-12)) * g
	}
	if r <= at*(1+1e-12) { // a cap below one division: better a division than none
		r = (math.Floor(at/g*(1+1e-12)) + 1) * g
	}
	return min(r, d)
}

func (s Series) check() error {
	bad := func(field string, v any, reason string) error {
		return &unit.InputError{Field: field, Value: fmt.Sprint(v), Reason: reason}
	}
	switch {
	case !(s.Depth > 0) || s.Depth > 1000:
		return bad("depth of thread", s.Depth, "is not a depth")
	case s.Passes < 0 || s.Passes > maxPasses:
		return bad("number of passes", s.Passes, fmt.Sprintf("is not between 1 and %d", maxPasses))
	case s.Leading < 0 || s.Trailing < 0 || s.Leading >= 89*unit.Degree || s.Trailing >= 89*unit.Degree:
		return bad("flank angle", s.Leading.Format(1)+" and "+s.Trailing.Format(1), "is not between 0 and 89 degrees")
	case s.NoseWidth < 0 || s.FirstMost < 0 || s.StepMost < 0 || s.Least < 0 || s.Dial < 0:
		return bad("schedule", "a negative length", "makes no sense")
	case s.Leading+s.Trailing == 0 && s.NoseWidth == 0:
		return bad("tool", "no flank angle and no width", "removes nothing")
	case s.Passes == 0 && s.FirstMost == 0 && s.StepMost == 0:
		return bad("number of passes", 0, "needs a cap on the passes instead")
	}
	return nil
}
