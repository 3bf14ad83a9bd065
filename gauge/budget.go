package gauge

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"thrum/thread"
	"thrum/unit"
)

// Contribution is one line of the uncertainty budget (GUM, JCGM 100:2008, 4 and 5).
type Contribution struct {
	Name    string
	Given   string      // "±0.005 mm"
	Share   unit.Length // standard uncertainty that it gives the pitch diameter
	Assumed bool        // nobody said so: an assumption to be replaced
}

// What is assumed of errors that the user leaves at zero. Common practice, no
// source: a workshop micrometer with its reading, ordinary wires, a hand-ground
// tool, a part that lay beside the lathe for a while.
const (
	assumedRead      = 5 * unit.Micrometre
	assumedAnvils    = 10 * unit.Micrometre // thread micrometer: setting and anvils as well
	assumedWire      = 2 * unit.Micrometre
	assumedMajor     = 20 * unit.Micrometre
	assumedFlank     = 0.5 * unit.Degree
	assumedTempError = 1 * unit.Celsius
	expansionShare   = 0.1 // coefficients are right within a tenth of themselves
)

// inputs are the quantities of which the pitch diameter is a function.
type inputs struct {
	value, wire, major      unit.Length
	leading, trailing       unit.Angle
	part, wires, micrometer Warmth
}

// measurement is a reading together with the thread and the wires it was taken on.
type measurement struct {
	t       thread.Thread
	r       Reading
	w       *Wires // nil for a thread micrometer
	nominal inputs
}

func newMeasurement(t thread.Thread, r Reading) (*measurement, error) {
	m := &measurement{t: t, r: r}
	if t.Limits.Pitch.Min == 0 && t.Limits.Pitch.Max == 0 {
		return nil, &unit.InputError{Field: "thread", Value: t.Callout, Reason: "has no limits of pitch diameter to be judged by"}
	}
	if err := m.checkReading(); err != nil {
		return nil, err
	}
	if r.Method == ThreadMicrometer {
		if t.Side == thread.Internal {
			return nil, &unit.InputError{Field: "method", Value: r.Method.String(), Reason: "is for external threads here", Hint: "use balls or gauges for an internal thread"}
		}
		if err := FlanksOf(t).check(); err != nil {
			return nil, err
		}
	} else {
		w, err := ForThread(t, Choice{Method: r.Method, Use: r.Wire, Major: r.Major})
		if err != nil {
			return nil, err
		}
		m.w, m.r.Method = w, w.Method
	}
	m.nominal = inputs{
		value: m.r.Value, wire: r.Wire, major: r.Major, leading: t.Form.Leading, trailing: t.Form.Trailing,
		part: r.Part, wires: r.Wires, micrometer: r.Micrometer,
	}
	return m, nil
}

// checkReading refuses what cannot be a reading, and takes the mean of repeats.
func (m *measurement) checkReading() error {
	r := &m.r
	bad := func(field string, l unit.Length, reason, hint string) error {
		return &unit.InputError{Field: field, Value: brief(l, m.t.System), Reason: reason, Hint: hint}
	}
	if len(r.Repeats) > 0 {
		if r.Value != 0 {
			return bad("reading", r.Value, "was given besides repeated readings", "give one or the other")
		}
		for _, l := range r.Repeats {
			if !(l > 0) || !(l < 1e5) {
				return bad("reading", l, "is not a reading", "")
			}
		}
	}
	r.Value = r.Mean()
	if !(r.Value > 0) || !(r.Value < 1e5) {
		return bad("reading", r.Value, "is not a reading", "give what the micrometer showed")
	}
	if r.Method != ThreadMicrometer && !(r.Wire > 0) {
		return bad("wire", r.Wire, "is not the size of a wire", "give the diameter of the wires or balls that were used")
	}
	if r.Method == OneWire && !(r.Major > 0) {
		return bad("major diameter", r.Major, "is needed with one wire", "measure it across the crests at the same place")
	}
	for name, l := range map[string]unit.Length{"reading error": r.ReadError, "wire error": r.WireError, "major diameter error": r.MajorError} {
		if !(l >= 0) || l > r.Value/10 {
			return bad(name, l, "is not a possible error", "give the half width: ±0.005 mm is 0.005 mm")
		}
	}
	if !(r.FlankError >= 0) || r.FlankError > 5*unit.Degree {
		return &unit.InputError{Field: "flank error", Value: r.FlankError.Format(2), Reason: "is not a possible error", Hint: "0 to 5° is accepted"}
	}
	if !(r.TemperatureError >= 0) || r.TemperatureError > 50 {
		return &unit.InputError{Field: "temperature error", Value: fmt.Sprintf("%g °C", float64(r.TemperatureError)), Reason: "is not a possible error"}
	}
	for name, w := range map[string]Warmth{"part": r.Part, "wires": r.Wires, "micrometer": r.Micrometer} {
		if err := w.check(name); err != nil {
			return err
		}
	}
	return nil
}

// pitch is the measurement model: the pitch diameter at 20 degrees.
//
// The micrometer shows less than the length it spans when it is warm, the wires
// are thicker when they are; a thread grows without changing shape, so dividing
// spanned length and wire by the growth of the part leaves the thread at 20
// degrees.
func (m *measurement) pitch(in inputs) (unit.Length, error) {
	g := unit.Length(in.micrometer.Growth() / in.part.Growth())
	if m.w == nil {
		return in.value * g, nil
	}
	w := *m.w
	w.Size = in.wire * unit.Length(in.wires.Growth()/in.part.Growth())
	w.major = in.major * g
	w.body.f.Leading, w.body.f.Trailing = in.leading, in.trailing
	return w.invert(in.value * g)
}

// seated refuses a reading taken before the wires seat.
func (m *measurement) seated(e unit.Length) error {
	if m.w == nil {
		return nil
	}
	return m.w.refuse(m.r.Value, e)
}

// budget lists what makes the pitch diameter uncertain. Each half width a is
// taken as a rectangular distribution, a/sqrt 3 (GUM 4.3.7), times the change of
// the pitch diameter with the quantity, found by differences on the model.
func (m *measurement) budget() ([]Contribution, error) {
	var list []Contribution
	var failed error
	add := func(name, given string, assumed bool, up, down inputs) {
		a, err1 := m.pitch(up)
		b, err2 := m.pitch(down)
		if err1 != nil || err2 != nil {
			failed = fmt.Errorf("uncertainty from %s: %w", name, firstError(err1, err2))
			return
		}
		list = append(list, Contribution{Name: name, Given: given, Assumed: assumed, Share: (a - b).Abs() / 2 / unit.Length(math.Sqrt(3))})
	}
	vary := func(name, given string, assumed bool, change func(in *inputs, sign float64)) {
		up, down := m.nominal, m.nominal
		change(&up, 1)
		change(&down, -1)
		add(name, given, assumed, up, down)
	}
	width := func(l unit.Length) string { return "±" + fine(l, m.t.System) }

	read, assumed := orAssume(m.r.ReadError, assumedRead)
	if m.w == nil {
		read, assumed = orAssume(m.r.ReadError, assumedAnvils)
	}
	vary("reading", width(read), assumed, func(in *inputs, s float64) { in.value += read * unit.Length(s) })
	if n := len(m.r.Repeats); n > 1 {
		list = append(list, m.scatter(n))
	}
	if m.w != nil {
		wire, assumed := orAssume(m.r.WireError, assumedWire)
		vary("size of the wires, all alike", width(wire), assumed, func(in *inputs, s float64) { in.wire += wire * unit.Length(s) })
		flank, assumed := orAssume(m.r.FlankError, assumedFlank)
		vary("leading flank angle", "±"+flank.Format(2), assumed, func(in *inputs, s float64) { in.leading += flank * unit.Angle(s) })
		vary("trailing flank angle", "±"+flank.Format(2), assumed, func(in *inputs, s float64) { in.trailing += flank * unit.Angle(s) })
	}
	if m.r.Method == OneWire {
		major, assumed := orAssume(m.r.MajorError, assumedMajor)
		vary("major diameter and its runout", width(major), assumed, func(in *inputs, s float64) { in.major += major * unit.Length(s) })
	}
	for _, h := range m.heats() {
		vary(h.name+" temperature", fmt.Sprintf("±%g °C", float64(h.width)), h.assumed, func(in *inputs, s float64) {
			w := h.of(in)
			w.Known = true
			w.At += h.width * unit.Temperature(s)
		})
		if h.of(&m.nominal).At != reference {
			vary(h.name+" expansion", fmt.Sprintf("±%g %%", 100*expansionShare), true, func(in *inputs, s float64) {
				h.of(in).Expansion *= Expansion(1 + expansionShare*s)
			})
		}
	}
	return list, failed
}

// heat is one temperature that matters.
type heat struct {
	name    string
	of      func(*inputs) *Warmth
	width   unit.Temperature
	assumed bool
}

// heats lists the things whose temperature was given. When none was, part and
// micrometer are both taken to be near 20 degrees and their difference matters;
// it is charged to the part, as steel.
func (m *measurement) heats() []heat {
	width, assumed := orAssume(m.r.TemperatureError, assumedTempError)
	all := []heat{
		{"part", func(in *inputs) *Warmth { return &in.part }, width, assumed},
		{"micrometer", func(in *inputs) *Warmth { return &in.micrometer }, width, assumed},
		{"wire", func(in *inputs) *Warmth { return &in.wires }, width, assumed},
	}
	var known []heat
	for _, h := range all {
		if h.of(&m.nominal).Known {
			known = append(known, h)
		}
	}
	if len(known) == 0 {
		m.nominal.part = Warmth{Known: true, At: reference, Expansion: 11.5e-6}
		return all[:1]
	}
	return known
}

// scatter is the share of the repeated readings: s/sqrt n, widened by Student's t
// for few of them so that the 95 % interval is right (GUM G.3).
func (m *measurement) scatter(n int) Contribution {
	var square float64
	for _, l := range m.r.Repeats {
		d := float64(l - m.r.Value)
		square += d * d
	}
	s := math.Sqrt(square / float64(n-1))
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 1)}.Quantile(0.975) / 1.959964
	turns := 1.0
	if m.r.Method == OneWire {
		turns = 2
	}
	return Contribution{
		Name:  fmt.Sprintf("scatter of %d readings", n),
		Given: "s = " + fine(unit.Length(s), m.t.System),
		Share: unit.Length(turns * s / math.Sqrt(float64(n)) * t),
	}
}

// orAssume returns the value given, or what is assumed when none was.
func orAssume[T unit.Length | unit.Angle | unit.Temperature](given, otherwise T) (T, bool) {
	if given == 0 {
		return otherwise, true
	}
	return given, false
}

// fine prints one digit more than brief.
func fine(l unit.Length, sys unit.System) string {
	if sys == unit.Inches {
		return l.Format(sys, 5)
	}
	return l.Format(sys, 4)
}

func firstError(a, b error) error {
	if a != nil {
		return a
	}
	return b
}

// notes says what the verdict rests on besides the budget.
func (m *measurement) notes() []thread.Note {
	var n []thread.Note
	var guessed []string
	r := m.r
	guess := func(missing bool, what string) {
		if missing {
			guessed = append(guessed, what)
		}
	}
	guess(r.ReadError == 0, "reading")
	guess(m.w != nil && r.WireError == 0, "wires")
	guess(m.w != nil && r.FlankError == 0, "flank angles")
	guess(r.Method == OneWire && r.MajorError == 0, "major diameter")
	guess(r.TemperatureError == 0, "temperature")
	if len(guessed) > 0 {
		n = append(n, thread.Note{Text: "errors assumed for " + strings.Join(guessed, ", ") + ": give your own to make the verdict yours", Assumed: true})
	}
	if !r.Part.Known && !r.Wires.Known && !r.Micrometer.Known {
		n = append(n, thread.Note{Text: "part, wires and micrometer taken to be at 20 °C; a part warm from cutting reads large", Assumed: true})
	} else if !r.Micrometer.Known {
		n = append(n, thread.Note{Text: "wires and micrometer taken to be at 20 °C; in a warm shop they have grown too, and the part is larger than this says", Assumed: true})
	}
	if r.LeadError == 0 && r.LeadingError == 0 && r.TrailingError == 0 {
		n = append(n, thread.Note{Text: "lead and flanks taken as right: this is the pitch diameter alone, and a mate or GO gauge feels their errors too", Assumed: true})
	}
	n = append(n, thread.Note{Text: "measuring force leaves its deformation in: press as hard as when the wires or the micrometer were set; no correction is made for it"})
	if m.t.Taper.Sign() != 0 {
		n = append(n, thread.Note{Text: "the limits hold at the gauge plane: the reading must have been taken there, square to the axis over two wires or along the cone over three"})
	}
	return n
}
