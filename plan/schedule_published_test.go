package plan

import (
	"strings"
	"testing"

	"thrum/internal/outside"
	"thrum/unit"
)

// The number of passes on a lathe of usual stiffness lies in the range that a maker of
// threading inserts prints for the pitch. A stiff part of large diameter takes no more of
// them for standing in the chuck alone: what one pass leaves, the next one takes.
func TestPassesInPublishedRange(t *testing.T) {
	const source = "insert maker's general catalogue 2020-2021, technical reference p. 1636, threading guidelines: number of passes by pitch"
	for _, c := range []struct {
		callout string
		lo, hi  float64
		length  unit.Length
		alone   bool // too stout to need the centre
	}{
		{"M6-6g", 4, 8, 6, false},
		{"M10-6g", 6, 10, 10, false},
		{"M12-6g", 7, 12, 12, false},
		{"M16-6g", 7, 12, 16, false},
		{"M24-6g", 10, 16, 24, true},
		{"M36-6g", 11, 18, 36, true},
		{"M64-6g", 12, 24, 60, true},
		{"M100x6-6g", 12, 24, 40, true},
	} {
		r := Request{Callout: c.callout, Lathe: exampleLathe(t, "metric-geared"), Material: "1045", Length: c.length, OpenEnd: true, Stickout: c.length + 15, Centre: true}
		for range 2 {
			p := mustMake(t, r)
			outside.Check(t, outside.Claim{
				What: "number of passes of " + c.callout, Source: source, Status: outside.Read,
				Published: (c.lo + c.hi) / 2, Ours: float64(len(p.Passes)), Unit: "passes", Tolerance: (c.hi - c.lo) / 2,
			})
			if last, before := p.Passes[len(p.Passes)-1], p.Passes[len(p.Passes)-2]; last.Infeed > 1.6*before.Infeed {
				t.Errorf("%s: the last pass takes %v after %v", c.callout, last.Infeed, before.Infeed)
			}
			if !c.alone {
				break
			}
			r.Centre = false
		}
	}
}

// A bore is not helped by a centre, nor a part that only bends by a slower step: each
// warning names what would help.
func TestTooHeavyNamesItsCure(t *testing.T) {
	heavy := func(r Request) *Hazard {
		for _, h := range mustMake(t, r).Hazards {
			if strings.Contains(h.Text, "even the lightest pass") {
				return &h
			}
		}
		return nil
	}
	bore := exampleRequest(t)
	bore.Callout, bore.Length, bore.BarDiameter, bore.BarOverhang = "1/2-13 UNC-3B", 0.75*unit.Inch, 0.25*unit.Inch, 1.5*unit.Inch
	long := exampleRequest(t)
	long.Callout, long.Length, long.Stickout = "M3x0.5-6g", 8, 12
	for _, c := range []struct {
		name       string
		of         *Hazard
		what, cure string
		never, nor string
	}{
		{"bore", heavy(bore), "boring bar", "thicker bar", "centre", "torque"},
		{"alone", heavy(long), "part and tool", "tailstock centre", "boring bar", "torque"},
	} {
		if c.of == nil {
			t.Errorf("%s: no warning", c.name)
			continue
		}
		cures := strings.Join(c.of.Cures, "; ")
		if !strings.Contains(c.of.Text, c.what) || !strings.Contains(cures, c.cure) || strings.Contains(cures, c.never) || strings.Contains(cures, c.nor) {
			t.Errorf("%s: %s (%s)", c.name, c.of.Text, cures)
		}
	}
}
