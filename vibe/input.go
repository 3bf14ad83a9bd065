package vibe

import (
	"errors"
	"fmt"
	"math"

	"thrum/cut"
	"thrum/unit"
)

const (
	mostPasses   = 200
	mostSteps    = 200
	mostStarters = 200
	usualLast    = 3
)

func (in *Input) check() error {
	var errs []error
	bad := func(field, value, reason, hint string) {
		errs = append(errs, &unit.InputError{Field: field, Value: value, Reason: reason, Hint: hint})
	}
	if in.Holding == nil || len(in.Holding.places) == 0 {
		bad("holding of the work", "", "is missing", "make it with Prepare")
	}
	if in.Other != nil && len(in.Other.places) == 0 {
		bad("other holding of the work", "", "is empty", "make it with Prepare")
	}
	if in.Force == nil {
		bad("cutting force", "", "is missing", "make it with cut.NewForce")
	}
	errs = append(errs, in.checkPasses())
	if !(in.Diameter > 0 && in.Diameter <= 2000) {
		bad("diameter of the work", in.Diameter.String(), "is not between 0 and 2000 mm", "")
	}
	if len(in.Steps) > mostSteps {
		bad("spindle speeds", fmt.Sprint(len(in.Steps)), fmt.Sprintf("are more than %d", mostSteps), "")
	} else {
		for _, s := range in.Steps {
			if !speedOK(s.Speed) {
				bad("spindle speed", fmt.Sprint(s.Speed.RPM()), "is not a spindle speed", "1 to 10000 rev/min")
			}
		}
	}
	if len(in.Starters) > mostStarters {
		bad("starters", fmt.Sprint(len(in.Starters)), fmt.Sprintf("are more than %d", mostStarters), "")
	} else {
		for i, s := range in.Starters {
			errs = append(errs, s.check(i))
		}
	}
	if in.LastPasses < 0 {
		bad("last passes", fmt.Sprint(in.LastPasses), "is negative", "")
	}
	if p := in.Process; p != (Process{}) && !(p.Low >= 0 && p.Low <= p.Likely && p.Likely <= p.High && p.High <= 1e5) {
		bad("damping by rubbing", fmt.Sprintf("%g, %g, %g N/mm", float64(p.Low), float64(p.Likely), float64(p.High)), "is not a range", "low, likely and high in N/mm")
	}
	if d := in.Damping; d != (DampingRange{}) && !(d.Least > 0 && d.Least <= d.Most && d.Most < 1) {
		bad("damping", fmt.Sprintf("%g to %g", d.Least, d.Most), "is not a range", "fractions of critical, such as 0.01 to 0.06")
	}
	if !(in.Overlap >= 0 && in.Overlap <= 1) {
		bad("overlap with the last turn", fmt.Sprint(in.Overlap), "is not between 0 and 1", "")
	}
	return errors.Join(errs...)
}

func (in *Input) checkPasses() error {
	var errs []error
	bad := func(field, value, reason, hint string) {
		errs = append(errs, &unit.InputError{Field: field, Value: value, Reason: reason, Hint: hint})
	}
	if n := len(in.Passes); n < 1 || n > mostPasses {
		bad("passes", fmt.Sprint(n), fmt.Sprintf("are not between 1 and %d", mostPasses), "")
	} else {
		for i, p := range in.Passes {
			for _, e := range p.Chip.Elements {
				if !sound(e) {
					bad(fmt.Sprintf("chip of pass %d", i+1), fmt.Sprintf("%v long, %v thick", e.Length, e.Thickness), "is not a chip", "take chips from Cutter.Cut")
					break
				}
			}
			if !speedOK(p.Speed) {
				bad(fmt.Sprintf("speed of pass %d", i+1), fmt.Sprint(p.Speed.RPM()), "is not a spindle speed", "1 to 10000 rev/min")
			}
		}
	}
	return errors.Join(errs...)
}

// sound tells whether an element of edge holds numbers that can be reckoned with.
func sound(e cut.Element) bool {
	return e.Length >= 0 && e.Length < 1e4 && e.Thickness >= 0 && e.Thickness < 1e3 && math.Abs(e.Radial) <= 1+1e-9 && math.Abs(e.Axial) <= 1+1e-9
}

func speedOK(n unit.Rotation) bool { return n >= 1 && n <= 10000 }

func (in *Input) fill() {
	if in.Process == (Process{}) {
		in.Process = DefaultProcess()
	}
	if in.LastPasses == 0 {
		in.LastPasses = usualLast
	}
}

// ends gives each doubt its range, as factors on the likely figure.
func (a *Assessment) ends() ends {
	g := a.run.gains[a.Worst]
	c := a.in.Process
	e := ends{
		names: [4]string{"damping of the work", "cutting stiffness", "stiffness of the joints", "rubbing of the edge"},
		cure: [4]string{
			"a knock test measures it", "a first cut at a known depth and power tells more than a table",
			"a knock test or an indicator and a spring balance measures it", "compare the marks of two speeds on the same work",
		},
	}
	least, most := leastDamping, mostDamping
	give := giveDoubt
	z := a.Mode.Damping
	if z == 0 {
		z = noDampingMeasured
	}
	if a.Mode.Measured {
		least, most, give = z/dampingMeasured, z*dampingMeasured, giveMeasured
	}
	if d := a.in.Damping; d != (DampingRange{}) {
		least, most = d.Least, d.Most
	}
	e.quiet[0], e.loud[0] = max(most/z, 1), min(least/z, 1)
	e.from[0] = fmt.Sprintf("%.1f to %.1f %% of critical", 100*least, 100*most)
	e.quiet[1], e.loud[1] = 1-g.Doubt, 1+g.Doubt
	e.from[1] = fmt.Sprintf("%.0f %% either way", 100*g.Doubt)
	e.quiet[2], e.loud[2] = 1/give, give
	e.from[2] = fmt.Sprintf("%.0f %% either way", 100*(give-1))
	e.quiet[3], e.loud[3] = ratioOf(c.High, c.Likely), ratioOf(c.Low, c.Likely)
	lbf := float64(unit.PoundPerThou / 1000)
	e.from[3] = fmt.Sprintf("%.2g to %.2g N/m, %.2g to %.2g lbf/in", 1000*float64(c.Low), 1000*float64(c.High), float64(c.Low)/lbf, float64(c.High)/lbf)
	return e
}

// ratioOf is a factor on the likely rubbing, which may be none at all.
func ratioOf(c, likely unit.Stiffness) float64 {
	if likely <= 0 {
		return 1
	}
	return max(float64(c/likely), 1e-6)
}
