package thread

import (
	_ "embed"
	"fmt"
	"math"
	"slices"
	"strings"
	"sync"

	"thrum/unit"
)

// Readings are what can be measured or seen on an unknown thread. A diameter and
// one way of telling the pitch are needed; zero means "not measured" and Unsaid
// "not looked at". An error is the largest that the reading may have, to either
// side; where it is zero the default named beside it is used.
type Readings struct {
	Side          Side
	Diameter      unit.Length // outside diameter of a screw, smallest diameter of a nut
	DiameterError unit.Length // DefaultDiameterError
	Pitch         unit.Length // by pitch gauge
	Threads       int         // or counted: this many pitches ...
	Over          unit.Length // ... take up this length
	PitchError    unit.Length // of Pitch, or of Over when counting; DefaultPitchError, DefaultOverError
	Angle         unit.Angle  // included angle of the form; zero when not measured
	AngleError    unit.Angle  // DefaultAngleError
	Depth         unit.Length // of the groove, square to the axis
	DepthError    unit.Length // DefaultDepthError
	Tapered       Answer      // does the diameter grow along the thread?
	Uneven        Answer      // is one flank much steeper than the other?
	Rounded       Answer      // are crest and root rounded to full arcs?
}

// Answer is the answer to a question that can be left open.
type Answer int

// A question is unsaid, or answered with no or yes.
const (
	Unsaid Answer = iota
	No
	Yes
)

// Defaults for the largest error of a reading, to either side. They are assumptions
// about a caliper, a pitch gauge, a rule and a protractor in ordinary hands.
const (
	DefaultDiameterError = 0.03 * unit.Millimetre // caliper
	DefaultOverError     = 0.25 * unit.Millimetre // rule
	DefaultAngleError    = 2 * unit.Degree        // leaves of a pitch gauge, held against the light
	DefaultDepthError    = 0.05 * unit.Millimetre // depth rod of a caliper
)

// DefaultPitchError is what a pitch gauge may be out by: 1 % of the pitch, since a
// leaf that differs by more shows light over ten threads; 0.01 mm at least.
func DefaultPitchError(pitch unit.Length) unit.Length { return max(pitch/100, 10*unit.Micrometre) }

// Candidate is one standard thread that the readings may come from.
type Candidate struct {
	Row         SeriesRow
	Thread      Thread  // in its ordinary class
	Probability float64 // see Identify
	Why         string  // how the readings lie to this thread, in words
}

// Identify ranks the standard threads that the readings may come from, most
// probable first, at most 20.
//
// For each row of every series (Series), probability is
//
//	weight of the series x P(diameter | thread) x P(pitch | thread) x P(what else was read | thread)
//
// divided by the sum over all rows and over "no standard thread at all". The
// probabilities of the candidates together with that last case make 1, so that
// readings which fit nothing leave little for any candidate.
//
// The crest is taken to lie anywhere between the limits of the ordinary class
// (flat), or worn below them (one in seven), or above (one in twenty); of a nut,
// drilled out beyond them (one in four). Each error is taken as twice a standard
// deviation. The weight of a series is our own estimate of how common it is
// (data/identify-prior.csv); it matters only between threads that the readings
// cannot tell apart. For those, Separate names the measurement that can.
func Identify(r Readings) ([]Candidate, error) {
	r, err := r.complete()
	if err != nil {
		return nil, err
	}
	var out []Candidate
	total := nothing(r)
	for _, c := range everyStandard(r.Side) {
		if !r.near(c.Row) {
			continue
		}
		c.Probability = priors()[[2]string{string(c.Row.Family), c.Row.Series}] * r.likelihood(c.Thread)
		total += c.Probability
		c.Why = r.why(c.Thread)
		out = append(out, c)
	}
	out = merge(out)
	slices.SortStableFunc(out, func(a, b Candidate) int {
		switch {
		case a.Probability > b.Probability:
			return -1
		case a.Probability < b.Probability:
			return 1
		}
		return strings.Compare(a.Row.Designation, b.Row.Designation)
	})
	out = out[:min(len(out), 20)]
	for i := range out {
		out[i].Probability /= total
	}
	return out, nil
}

// everyStandard lists every standard thread of one side, in its ordinary class.
func everyStandard(side Side) []Candidate {
	if side == Internal {
		return everyNut()
	}
	return everyScrew()
}

var (
	everyScrew = sync.OnceValue(func() []Candidate { return readSeries(External) })
	everyNut   = sync.OnceValue(func() []Candidate { return readSeries(Internal) })
)

func readSeries(side Side) []Candidate {
	var out []Candidate
	for _, row := range Series() {
		for _, callout := range sideCallouts(row, side) {
			if t, err := Parse(callout, side); err == nil && t.Side == side {
				out = append(out, Candidate{Row: row, Thread: t})
			}
		}
	}
	return out
}

//go:embed data/identify-prior.csv
var priorText string

var priors = sync.OnceValue(func() map[[2]string]float64 {
	out := map[[2]string]float64{}
	for _, f := range readTable(priorText) {
		out[[2]string{f[0], f[1]}] = number(f[2]).Float()
	}
	return out
})

// complete checks the readings and fills the defaults; the pitch ends in Pitch,
// whichever way it was told.
func (r Readings) complete() (Readings, error) {
	bad := func(field string, v unit.Length, reason, hint string) (Readings, error) {
		return r, &unit.InputError{Field: field, Value: v.String(), Reason: reason, Hint: hint}
	}
	inRange := func(v unit.Length, lo, hi float64) bool { return v.MM() >= lo && v.MM() <= hi }
	if !inRange(r.Diameter, 0.2, 1000) {
		return bad("diameter", r.Diameter, "is not a diameter between 0.2 and 1000 mm", "measure the outside of the screw, or the smallest diameter of the nut")
	}
	if r.Threads != 0 || r.Over != 0 {
		if r.Pitch != 0 {
			return bad("pitch", r.Pitch, "is given both by gauge and by counting", "give one of them")
		}
		if r.Threads < 1 || r.Threads > 1000 || !inRange(r.Over, 0.05, 2000) {
			return bad("counted length", r.Over, fmt.Sprintf("with %d threads gives no pitch", r.Threads), "count at least one pitch and measure the length it takes")
		}
		if r.PitchError == 0 {
			r.PitchError = DefaultOverError
		}
		n := unit.Length(r.Threads)
		r.Pitch, r.PitchError, r.Over, r.Threads = r.Over/n, r.PitchError/n, 0, 0
	}
	if r.Pitch == 0 {
		return r, &unit.InputError{Field: "pitch", Reason: "is missing", Hint: "measure it with a pitch gauge, or count threads over a length"}
	}
	if !inRange(r.Pitch, 0.05, 100) {
		return bad("pitch", r.Pitch, "is not a pitch between 0.05 and 100 mm", "use a pitch gauge, or count threads over a length")
	}
	fill := func(v *unit.Length, def unit.Length) {
		if *v == 0 {
			*v = def
		}
	}
	fill(&r.PitchError, DefaultPitchError(r.Pitch))
	fill(&r.DiameterError, DefaultDiameterError)
	fill(&r.DepthError, DefaultDepthError)
	if r.AngleError == 0 {
		r.AngleError = DefaultAngleError
	}
	for name, e := range map[string]unit.Length{"diameter error": r.DiameterError, "pitch error": r.PitchError, "depth error": r.DepthError} {
		if !inRange(e, 1e-5, 100) {
			return bad(name, e, "is not an error between 0.00001 and 100 mm", "give the largest error of the reading")
		}
	}
	if !inRange(r.Depth, 0, 100) || !(r.Angle >= 0 && r.Angle < 170*unit.Degree) || !(r.AngleError > 0) {
		return bad("depth or angle", r.Depth, "cannot be used", "leave it at zero when it was not measured")
	}
	return r, nil
}

// near tells whether a row is worth weighing: the readings would be far outside
// everything that likelihood allows otherwise.
func (r Readings) near(row SeriesRow) bool {
	p := row.Pitch.Length()
	if (p - r.Pitch).Abs() > 6*r.PitchError+0.08*p {
		return false
	}
	d := row.Nominal
	if r.Side == Internal {
		d -= p
	}
	return (d - r.Diameter).Abs() < 6*r.DiameterError+p+0.04*d+unit.Millimetre
}

// sideCallouts writes a row so that Parse gives the wanted side: a bare G is an
// internal thread, R an external one that fits Rp and Rc.
func sideCallouts(row SeriesRow, side Side) []string {
	size, pipe := strings.CutPrefix(row.Designation, "R ")
	switch {
	case row.Family == PipeFamily && side == External:
		return []string{row.Designation + " B"}
	case row.Family == TaperPipeFamily && pipe && side == Internal:
		return []string{"Rp " + size, "Rc " + size}
	}
	return []string{row.Designation}
}

// nothing is the weight of "no standard thread": a fiftieth of a common thread,
// spread over all diameters from 1 to 150 mm and pitches from 0.2 to 10 mm alike
// on a logarithmic scale, times what any thread would give to the other readings.
func nothing(r Readings) float64 {
	p := 2 / (r.Diameter.MM() * math.Log(150)) / (r.Pitch.MM() * math.Log(50))
	if r.Angle > 0 {
		p /= 90
	}
	if r.Depth > 0 {
		p /= 2 * r.Pitch.MM()
	}
	for _, a := range []Answer{r.Tapered, r.Uneven, r.Rounded} {
		if a != Unsaid {
			p /= 2
		}
	}
	return p
}

// likelihood is the density of the readings for one thread, per millimetre of
// diameter, pitch and depth and per degree.
func (r Readings) likelihood(t Thread) float64 {
	p := r.diameterDensity(t) * gauss((r.Pitch-t.Pitch.Length()).MM(), r.PitchError.MM()/2)
	if r.Angle > 0 {
		p *= gauss((r.Angle - t.Form.Included()).Degrees(), r.AngleError.Degrees()/2)
	}
	if r.Depth > 0 {
		spread := math.Hypot(r.DepthError.MM()/2, 0.01*t.Pitch.Float())
		p *= gauss((r.Depth - t.Depth()).MM(), spread)
	}
	p *= answered(r.Tapered, !t.Taper.IsZero(), 0.98, 0.01)
	p *= answered(r.Uneven, !t.Form.Symmetric(), 0.99, 0.002)
	p *= answered(r.Rounded, t.Form.CrestRadius > 0, 0.85, 0.05)
	return p
}

// answered is the probability of an answer: yes with the one probability when the
// thread has the property, with the other when it has not.
func answered(a Answer, has bool, yesIfHas, yesIfNot float64) float64 {
	yes := yesIfNot
	if has {
		yes = yesIfHas
	}
	switch a {
	case Yes:
		return yes
	case No:
		return 1 - yes
	}
	return 1
}

// diameterDensity mixes a flat density between the limits with worn and oversize
// parts, each blurred by the error of the reading.
func (r Readings) diameterDensity(t Thread) float64 {
	band, sigma := t.crestBand(), r.DiameterError.MM()/2
	lo, hi := band.Min.MM(), band.Max.MM()
	below, above := t.crestTails()
	wBelow, wAbove := 1.0/7, 1.0/20
	if t.Side == Internal {
		wBelow, wAbove = 1.0/20, 1.0/4
	}
	d := r.Diameter.MM()
	return (1-wBelow-wAbove)*blurred(d, lo, hi, sigma) + wBelow*blurred(d, lo-below, lo, sigma) + wAbove*blurred(d, hi, hi+above, sigma)
}

// crestTails tells how far a crest may lie outside its limits, in millimetres:
// worn or turned small below, plated or oversize above; of a nut, drilled out.
func (t Thread) crestTails() (below, above float64) {
	band, p := t.crestBand(), t.Pitch.Float()
	if t.Side == Internal {
		return 0.02 * p, 0.15 * p
	}
	return 0.04*p + 0.02, 0.02 + (band.Max-band.Min).MM()/4
}

// crestBand is where the crest may lie as it is measured: the limits of the major
// diameter of a screw or of the minor diameter of a nut. On a taper thread the
// caliper may have stood anywhere along the useful thread.
func (t Thread) crestBand() Band {
	b := t.Limits.Major
	if t.Side == Internal {
		b = t.Limits.Minor
	}
	if b.Min == 0 {
		b.Min = b.Max - t.Pitch.Length()/10
	}
	if b.Max == 0 {
		b.Max = b.Min + t.Pitch.Length()/10
	}
	if t.Side == External {
		b.Max = max(b.Max, min(t.Basic.Major, t.Nominal)) // classes without allowance reach the nominal size
	}
	if g := t.Gauge; g != nil {
		taper := unit.Length(t.Taper.Float())
		long := max(g.Useful, g.Plane+g.Wrench) - g.Plane
		if t.Side == Internal {
			b.Min -= long * taper
		} else {
			b.Min, b.Max = b.Min-g.Plane*taper, b.Max+long*taper
		}
	}
	return b
}

// blurred is the density at x of a value that is flat between lo and hi and read
// with a normal error.
func blurred(x, lo, hi, sigma float64) float64 {
	if hi-lo < 1e-9 {
		return gauss(x-lo, sigma)
	}
	return (cumulative((x-lo)/sigma) - cumulative((x-hi)/sigma)) / (hi - lo)
}

func cumulative(z float64) float64 { return math.Erfc(-z/math.Sqrt2) / 2 }

func gauss(x, sigma float64) float64 {
	return math.Exp(-x*x/(2*sigma*sigma)) / (sigma * math.Sqrt(2*math.Pi))
}

// merge joins candidates that are one and the same thread under several names,
// such as 1/2-26 of the brass and of the model engineers' series.
func merge(in []Candidate) []Candidate {
	var out []Candidate
	at := map[string]int{}
	for _, c := range in {
		key := sameThread(c.Thread)
		i, seen := at[key]
		if !seen {
			at[key] = len(out)
			out = append(out, c)
			continue
		}
		sum := out[i].Probability + c.Probability
		if c.Probability > out[i].Probability {
			out[i], c = c, out[i]
		}
		out[i].Probability = sum
		if c.Row.Designation != out[i].Row.Designation {
			out[i].Why += "; also called " + c.Row.Designation
		}
	}
	return out
}

// sameThread is equal for threads that differ in name and class only.
func sameThread(t Thread) string {
	return fmt.Sprintf("%s %.3f %s %s", t.Form.Name, t.Basic.Pitch.MM(), t.Pitch, t.Taper)
}

// why says in words how the readings lie to a thread.
func (r Readings) why(t Thread) string {
	name := "outside diameter"
	if r.Side == Internal {
		name = "smallest diameter"
	}
	band := t.crestBand()
	sys := t.System
	places := 2 + int(sys)
	words := fmt.Sprintf("%s within %s to %s", name, band.Min.Number(sys, places), band.Max.Format(sys, places))
	switch {
	case r.Diameter < band.Min:
		words = fmt.Sprintf("%s %s below the least, %s", name, (band.Min-r.Diameter).Format(sys, places), band.Min.Format(sys, places))
	case r.Diameter > band.Max:
		words = fmt.Sprintf("%s %s above the greatest, %s", name, (r.Diameter-band.Max).Format(sys, places), band.Max.Format(sys, places))
	}
	off := (r.Pitch - t.Pitch.Length()).MM() / t.Pitch.Float() * 100
	return fmt.Sprintf("%s; pitch off by %.1f %%", words, off)
}
