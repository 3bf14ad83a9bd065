package thread

import (
	"fmt"
	"math"

	"thrum/unit"
)

// Measurement is a kind of further measurement that can tell two threads apart.
type Measurement int

// What can be measured or looked at.
const (
	MeasureTaper    Measurement = iota // caliper at both ends of the thread
	MeasureFlanks                      // look: is one flank much steeper?
	MeasureAngle                       // leaf of 55, 60, 29 or 30 degrees against the light
	MeasurePitch                       // length over many threads
	MeasureDepth                       // depth of the groove
	MeasureRounded                     // look: crest and root rounded, or flat?
	MeasureDiameter                    // micrometer instead of caliper
)

// Test is one further measurement, and what it shows in either case.
type Test struct {
	Kind     Measurement
	Measure  string  // what to measure
	First    string  // what the first thread shows
	Second   string  // what the second thread shows
	Strength float64 // difference in standard deviations of the measurement, 4 at most; below 2 it will often leave the question open
}

// Separate names the one further measurement that best tells two threads apart:
// that whose results differ by most of its own standard deviations. Differences
// beyond four count alike, and of measurements that settle the question the one
// that is least trouble is named.
func Separate(a, b Thread) Test {
	var best Test
	for _, t := range []Test{
		yesNo(MeasureTaper, "measure the outside at both ends of the thread: does it grow?", 4, !a.Taper.IsZero(), !b.Taper.IsZero(), "tapered 1 in 16", "parallel"),
		yesNo(MeasureFlanks, "look along the thread: is one flank much steeper than the other?", 4, !a.Form.Symmetric(), !b.Form.Symmetric(), "one flank steep", "both flanks alike"),
		separateAngle(a, b), separatePitch(a, b), separateDepth(a, b),
		yesNo(MeasureRounded, "look at crest and root under a glass", 2, a.Form.CrestRadius > 0, b.Form.CrestRadius > 0, "rounded", "flat"),
		separateDiameter(a, b),
	} {
		t.Strength = min(t.Strength, 4)
		if t.Strength > best.Strength+1e-9 {
			best = t
		}
	}
	if best.Measure == "" {
		best = Test{Kind: MeasureDepth, Measure: "no measurement of this kind tells them apart", First: a.Designation, Second: b.Designation}
	}
	return best
}

func yesNo(k Measurement, measure string, strength float64, a, b bool, yes, no string) Test {
	if a == b {
		return Test{}
	}
	word := map[bool]string{true: yes, false: no}
	return Test{k, measure, word[a], word[b], strength}
}

func separateAngle(a, b Thread) Test {
	x, y := a.Form.Included(), b.Form.Included()
	return Test{
		MeasureAngle, "hold the leaves of a pitch gauge or a template into the groove against the light: which angle fits?",
		x.Format(1), y.Format(1), math.Abs((x - y).Degrees()) / (DefaultAngleError.Degrees() / 2),
	}
}

// longestCount is how many threads are counted for a better pitch, no more than
// the length of an ordinary thread has.
func longestCount(t Thread) int { return max(2, min(20, int(1.5*t.Nominal.MM()/t.Pitch.Float()))) }

// overError is the largest error of a length over many threads by caliper.
const overError = 0.1 * unit.Millimetre

func separatePitch(a, b Thread) Test {
	n := min(longestCount(a), longestCount(b))
	over := func(t Thread) unit.Length { return unit.Length(n) * t.Pitch.Length() }
	show := func(t Thread) string {
		return over(t).Format(unit.Metric, 2) + " (" + over(t).Format(unit.Inches, 3) + ")"
	}
	return Test{
		MeasurePitch, fmt.Sprintf("measure over %d threads with a caliper, from the same flank to the same flank", n),
		show(a), show(b), (over(a) - over(b)).Abs().MM() / (overError.MM() / 2),
	}
}

func separateDepth(a, b Thread) Test {
	x, y := a.Depth(), b.Depth()
	show := func(l unit.Length) string { return l.Format(unit.Metric, 2) + " (" + l.Format(unit.Inches, 3) + ")" }
	spread := math.Hypot(DefaultDepthError.MM()/2, 0.01*a.Pitch.Float())
	return Test{MeasureDepth, "measure the depth of the groove", show(x), show(y), (x - y).Abs().MM() / spread}
}

func separateDiameter(a, b Thread) Test {
	x, y := a.crestBand(), b.crestBand()
	gap := max(leftOver(a, b), leftOver(b, a), 0)
	show := func(x Band) string {
		return x.Min.Format(unit.Metric, 3) + " to " + x.Max.Format(unit.Metric, 3)
	}
	return Test{MeasureDiameter, "measure the crest with a micrometer, where it is least worn", show(x), show(y), gap.MM() / 0.01}
}

// leftOver is the gap between the crests of a smaller and a larger thread, wear and
// oversize allowed for.
func leftOver(small, large Thread) unit.Length {
	_, above := small.crestTails()
	below, _ := large.crestTails()
	return large.crestBand().Min - unit.Length(below) - small.crestBand().Max - unit.Length(above)
}
