package thread

import (
	"fmt"
	"strings"

	"thrum/unit"
)

// SquareFamily is the square thread for power and motion. It has no standard: size
// and pitch are on the drawing, the rest is custom of the trade.
const SquareFamily Family = "Square"

var squareForm = Form{
	Name: "square", Source: "custom of the trade: ridge, groove and depth each half a pitch", Depth: 0.5, CrestFlat: 0.5, RootFlat: 0.5,
}

var (
	squareClaim  = lazy(`\bSQ(?:UARE)?\b|^SQ ?[0-9]`)
	squareMetric = lazy(`^SQ(?:UARE)? ?` + metricNumber + ` ?X ?` + metricNumber + `(?: ?\(? ?P ?` + metricNumber + ` ?\)?)?$`)
	squareInch   = lazy(`^(.*?)[ -]*\bSQ(?:UARE)?$|^SQ(?:UARE)?\b[ -]*(.*)$`)
)

func squareFamily() family {
	return family{
		info: FamilyInfo{
			Name: SquareFamily, What: "Square threads", Standard: "none",
			Examples: []string{"1-4 SQUARE", "Sq 20x4", "1-4 SQ LH"},
		},
		claims: func(c *callout) bool { return squareClaim().MatchString(c.fold) },
		parse:  parseSquare,
	}
}

func parseSquare(c *callout) (Thread, error) {
	var d, p unit.Ratio
	var size unit.Length
	starts, sys := 1, unit.Metric
	var err error
	if m := squareMetric().FindStringSubmatch(c.fold); m != nil {
		d, p, starts, err = planSize(c, m[1], m[2], m[3])
		size = d.Length()
	} else if m := squareInch().FindStringSubmatch(c.fold); m != nil {
		sys = unit.Inches
		d, p, starts, err = inchPitchSize(c, strings.Trim(m[1]+m[2], " -"), "SQUARE")
		size = inches(d.Float())
	} else {
		return Thread{}, c.errorf("write 1-4 SQUARE or Sq 20x4", "cannot be read as a square thread")
	}
	if err != nil {
		return Thread{}, err
	}
	side, err := c.pickSide(nil)
	if err != nil {
		return Thread{}, err
	}
	t := c.thread(SquareFamily)
	t.Side, t.System, t.Starts = side, sys, starts
	t.Nominal, t.Pitch, t.Form, t.Engagement = size, p, squareForm, size
	squareLimits(&t)
	t.Designation = acmeDesignation(t, d, " SQUARE") + sideWord(t)
	if sys == unit.Metric {
		t.Designation = planDesignation("Sq ", t, d, false) + sideWord(t)
	}
	t.Notes = append(t.Notes, Note{
		Text: fmt.Sprintf("A square thread has no standard tolerance. Shop figures stand in its place: crests within a twentieth of the pitch; "+
			"in the nut, %s more at the root and a groove %s to %s wider.", squareRoot(t).Format(sys, 3), unit.Thou.Format(sys, 3), (3*unit.Thou).Format(sys, 3)),
		Source: "Navy training manual, Machinery Repairman, square threads (enginemechanics.tpub.com/14345), for the nut", Assumed: true,
	})
	return c.settled(t)
}

// squareRoot is the clearance between the crest of the screw and the root of the
// nut on the diameter: 0.005 to 0.008 in for each inch of diameter, here 0.0065.
func squareRoot(t Thread) unit.Length {
	return unit.Length(roundEven(0.0065*t.Nominal.MM(), 3))
}

// squareLimits fills sizes and shop limits. The pitch diameter of a square thread
// is where ridge and groove would be equally wide; with square flanks that is
// everywhere, so its band only says how deep the middle of the flank lies.
//
//	major D   pitch D - P/2   minor D - P
func squareLimits(t *Thread) {
	d, p := t.Nominal.MM(), t.Pitch.Float()
	tol := max(0.05*p, 0.127)
	clear := squareRoot(*t).MM()
	t.Basic = Diameters{unit.Length(d), unit.Length(d - 0.5*p), unit.Length(d - p)}
	if t.Side == Internal {
		t.Limits = Limits{
			Major: mmBand(d+clear, d+clear+tol), Pitch: mmBand(d-0.5*p, d-0.5*p+tol), Minor: mmBand(d-p, d-p+tol),
		}
		return
	}
	t.Limits = Limits{
		Major: mmBand(d-tol, d), Pitch: mmBand(d-0.5*p-tol, d-0.5*p), Minor: mmBand(d-p-clear-tol, d-p-clear),
	}
}
