package cut

import (
	"errors"
	"fmt"
	"math"
	"strconv"

	"thrum/unit"
)

// Position is where the tool's tip stands relative to the finished groove: Depth
// below the crest (radially, 0 when it touches the blank), Along the axis in the
// direction of cutting, 0 in the middle of the finished groove.
type Position struct{ Depth, Along unit.Length }

// Method is a way of feeding in.
type Method int

// The infeed methods. Straight: square to the axis. OneFlank: along the trailing
// flank, so that the leading edge does all the cutting. Modified: a little less
// than that, by a compound set inside the flank angle. Alternating: now along one
// flank, now along the other.
const (
	Straight Method = iota
	OneFlank
	Modified
	Alternating
)

// String prints the method's name.
func (m Method) String() string {
	names := []string{"straight", "one flank", "modified flank", "alternating flanks"}
	if m < 0 || int(m) >= len(names) {
		return "method " + strconv.Itoa(int(m))
	}
	return names[m]
}

// Infeed is a method, its angle from the square-in direction, and the number of
// last passes that go straight in whatever the method.
type Infeed struct {
	Method        Method
	Angle         unit.Angle // for Modified and Alternating; OneFlank takes the trailing flank's own when this is zero
	FinalStraight int
}

// Positions returns where the tool stands in each pass for cumulative depths. The
// last pass stands in the middle; each one before it stands back by what the
// later ones still move along:
//
//	z_k = - sum over i > k of (d_i - d_(i-1)) tan(angle_i)
//
// where angle_i is zero for a straight pass and changes sign from pass to pass
// for alternating flanks, the leading flank first.
func (c *Cutter) Positions(depths []unit.Length, in Infeed) ([]Position, error) {
	if err := c.checkInfeed(depths, &in); err != nil {
		return nil, err
	}
	out := make([]Position, len(depths))
	along := 0.0
	for i := len(depths) - 1; i >= 0; i-- {
		out[i] = Position{depths[i], unit.Length(along)}
		if i == 0 {
			break
		}
		along -= (depths[i] - depths[i-1]).MM() * in.tangent(i, len(depths))
	}
	return out, nil
}

// tangent returns the sideways movement per depth of the i-th of n passes.
func (in Infeed) tangent(i, n int) float64 {
	t := in.Angle.Tan()
	switch {
	case in.Method == Straight || i >= n-in.FinalStraight:
		return 0
	case in.Method == Alternating && i%2 == 0:
		return -t
	}
	return t
}

func (c *Cutter) checkInfeed(depths []unit.Length, in *Infeed) error {
	if in.Method == OneFlank && in.Angle == 0 {
		in.Angle = c.trailing
	}
	var errs []error
	most, edge := c.trailing, "trailing"
	if in.Method == Alternating && c.leading < most {
		most, edge = c.leading, "leading"
	}
	switch {
	case in.Method < Straight || in.Method > Alternating:
		errs = append(errs, &unit.InputError{Field: "infeed method", Value: in.Method.String(), Reason: "is not known"})
	case in.Method == Straight:
	case !(in.Angle >= 0) || in.Angle > most+1e-9:
		errs = append(errs, &unit.InputError{
			Field: "infeed angle", Value: in.Angle.Format(2), Reason: fmt.Sprintf("is not between 0 and the %s flank's %s", edge, most.Format(2)),
			Hint: "a larger angle would cut the other flank away",
		})
	}
	if in.FinalStraight < 0 || in.FinalStraight > maxPasses {
		errs = append(errs, &unit.InputError{Field: "final straight passes", Value: strconv.Itoa(in.FinalStraight), Reason: "is not a number of passes"})
	}
	if len(depths) == 0 || len(depths) > maxPasses {
		errs = append(errs, &unit.InputError{Field: "passes", Value: strconv.Itoa(len(depths)), Reason: fmt.Sprintf("are not between 1 and %d", maxPasses)})
	}
	before := 0.0
	for i, d := range depths {
		if !(d.MM() >= before) || math.IsInf(d.MM(), 0) {
			errs = append(errs, &unit.InputError{Field: fmt.Sprintf("depth of pass %d", i+1), Value: d.String(), Reason: "is less than that of the pass before"})
		}
		before = d.MM()
	}
	return errors.Join(errs...)
}
