package piece

import (
	"fmt"
	"math"

	"thrum/gauge"
	"thrum/lathe"
	"thrum/plan"
	"thrum/unit"
)

// mostRows is the longest table; finer dials get a row every few divisions.
const mostRows = 240

// Row is one line of the table: with this reading, so much is left on the dial.
type Row struct {
	Reading unit.Length `json:"reading_mm"`
	Left    string      `json:"left"` // "0.012 in (direct dial)"
}

// Table gives what is left to feed for a reading, division by division of the
// infeed slide's dial:
//
//	pitch diameter = target + 2 * left * cos(compound angle)    (external; - internal)
//
// Readings run monotonically from the size aimed at to where the wires seat.
// Between two rows a phone takes the nearest.
type Table struct {
	Quantity string      `json:"quantity"` // "over-wires", "pitch-diameter"
	Words    string      `json:"words"`    // "over .0444 in wires"
	Slide    string      `json:"slide"`    // "COMPOUND", "CROSS"
	Units    string      `json:"units"`    // of a reading typed without a unit
	Places   int         `json:"places"`
	Least    unit.Length `json:"least_mm"` // limits of the finished size
	Most     unit.Length `json:"most_mm"`
	Aim      unit.Length `json:"aim_mm"`
	Internal bool        `json:"internal,omitempty"`
	Rows     []Row       `json:"rows"`

	full  unit.Length // depth of the finished thread
	dial  lathe.Dial
	cos   float64
	every int // divisions from row to row
	sys   unit.System
}

// TableOf works the table out. A plan without passes has none.
func TableOf(p *plan.Plan) Table {
	t := Table{sys: p.Request.Units, cos: 1, Slide: "CROSS", Places: places(p.Request.Units), Internal: p.Thread.Internal}
	t.Units = t.sys.String()
	la, err := lathe.Parse("lathe", []byte(p.Request.Lathe))
	if err != nil || len(p.Passes) == 0 {
		return t
	}
	t.dial = la.CrossSlide.Dial
	if p.Swing.Method != "straight" {
		t.Slide, t.dial, t.cos = "COMPOUND", la.Compound.Dial, p.Swing.Angle.Cos()
	}
	t.full = p.Passes[len(p.Passes)-1].Depth
	limits := p.Limits.Member().Pitch
	t.Quantity, t.Words, t.Least, t.Most, t.Aim = "pitch-diameter", "pitch diameter", limits.Min, limits.Max, limits.Target
	reading := func(e unit.Length) (unit.Length, bool) { return e, true }
	if p.Wires != nil {
		if w, err := gauge.ForThread(p.Spec, gauge.Choice{Owned: p.Request.Wires}); err == nil {
			what := "over " + p.Wires.Use.Format(t.sys, t.Places) + " wires"
			if t.Internal {
				what = "over two balls of " + p.Wires.Use.Format(t.sys, t.Places)
			}
			t.Quantity, t.Words, t.Least, t.Most, t.Aim = "over-wires", what, p.Wires.Over.Min, p.Wires.Over.Max, p.Wires.Over.Target
			reading = func(e unit.Length) (unit.Length, bool) {
				r, err := w.Reading(e)
				return r, err == nil && w.DepthAt(e) >= p.Wires.SeatsBelow
			}
		}
	}
	step := t.dial.Step()
	n := int(math.Ceil(float64(t.full) / t.cos / float64(step)))
	t.every = n/mostRows + 1
	for i := 0; i <= n; i += t.every {
		left := unit.Length(i) * step
		e := limits.Target + t.sign()*2*left*unit.Length(t.cos)
		r, ok := reading(e)
		if !ok {
			break
		}
		t.Rows = append(t.Rows, Row{r, t.dial.Reading(left).Text})
	}
	return t
}

func (t Table) sign() unit.Length {
	if t.Internal {
		return -1
	}
	return 1
}

// before gives what to expect of a measurement at a depth, and what is left from
// there as the dial of the infeed slide counts it.
func (t Table) before(depth unit.Length) (expect, left string) {
	step := t.dial.Step()
	if step <= 0 || t.cos <= 0 || t.full <= 0 {
		return "", ""
	}
	rest := max((t.full-depth)/unit.Length(t.cos), 0)
	left = t.dial.Reading(t.dial.Round(rest)).Text
	at := float64(rest/step) / float64(t.every)
	i := int(at)
	if i+1 < len(t.Rows) {
		r := t.Rows[i].Reading + unit.Length(at-float64(i))*(t.Rows[i+1].Reading-t.Rows[i].Reading)
		expect = r.Number(t.sys, t.Places)
	}
	return expect, left
}

// Left says what is left to feed for a reading, and how it stands to the limits.
func (t Table) Left(reading unit.Length) (left, verdict string) {
	verdict = "outside the limits"
	over := (reading - t.Aim) * t.sign() // positive: metal left
	switch {
	case reading >= t.Least && reading <= t.Most:
		verdict = "inside the limits"
	case over > 0:
		verdict = "not at size yet"
	case over < 0:
		verdict = "beyond the limits: too much is cut"
	}
	if len(t.Rows) == 0 {
		return "", verdict
	}
	if over <= 0 {
		return "nothing", verdict
	}
	best := 0
	for i, r := range t.Rows {
		if (r.Reading - reading).Abs() < (t.Rows[best].Reading - reading).Abs() {
			best = i
		}
	}
	if last := t.Rows[len(t.Rows)-1].Reading; (reading-last)*t.sign() > (t.Rows[0].Reading-last).Abs()/unit.Length(len(t.Rows)) {
		return "", "before the wires seat: this reading says nothing yet"
	}
	if best == 0 {
		return "nothing", verdict // less than half a division
	}
	return t.Rows[best].Left, verdict
}

// AimWords is the size aimed at with its limits, as it is read.
func (t Table) AimWords() string {
	return fmt.Sprintf("%s (%s to %s)", t.Aim.Number(t.sys, t.Places), t.Least.Number(t.sys, t.Places), t.Most.Format(t.sys, t.Places))
}

// Parse reads a reading as it is typed.
func (t Table) Parse(text string, sys unit.System) (unit.Length, error) {
	l, err := unit.ParseLength(text, sys)
	if err != nil {
		return 0, err
	}
	if l <= 0 || l > 1000 {
		return 0, &unit.InputError{Field: "reading", Value: text, Reason: "is not a size that can be measured here", Hint: fmt.Sprintf("at size it reads %s", t.Aim.Format(sys, t.Places))}
	}
	return l, nil
}
