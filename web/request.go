package web

import (
	"context"
	"errors"
	"math"
	"net/url"
	"strconv"
	"strings"

	"thrum/plan"
	"thrum/thread"
	"thrum/unit"
)

// Limits of what is read from an address.
const (
	mostValue = 2000 // bytes of one value
	mostWires = 40
	mostAir   = 200
)

// request turns the query of a sheet into what is to be planned. All faults are
// reported at once; the field of each names the part of the query that it is about.
func (l library) request(ctx context.Context, q url.Values) (plan.Request, error) {
	in := reader{q: q}
	r := plan.Request{
		Callout: strings.TrimSpace(q.Get("callout")), Internal: in.yes("internal"),
		Centre: in.yes("centre"), AfterPlating: in.yes("after-plating"), OpenEnd: in.yes("open-end"), Away: in.yes("away"),
		Material:     strings.TrimSpace(q.Get("material")),
		ToolMaterial: strings.ToLower(q.Get("tool")), ToolProfile: strings.ToLower(q.Get("profile")), Edge: q.Get("edge"),
		Infeed: strings.ToLower(q.Get("infeed")), Ending: q.Get("ending"),
		RPM: unit.Rotation(in.number("rpm")), FinishRPM: unit.Rotation(in.number("finish-rpm")),
		Angle: unit.Angle(in.number("angle")) * unit.Degree, Risk: in.number("risk"), Train: int(in.number("train")),
	}
	for key, vs := range q {
		for _, v := range vs {
			if len(v) > mostValue {
				in.bad(key, v, "is too long", "write at most "+strconv.Itoa(mostValue)+" bytes")
				return r, in.err()
			}
		}
	}
	if q.Has("material") && r.Material == "" {
		in.bad("material", "", "is missing", "name the material: 1018, C45, 6061")
	}
	sys := in.thread(r.Callout, r.Internal)
	r.Units = sys
	if u := q.Get("units"); u != "" {
		in.note("units", func() (err error) { r.Units, err = unit.ParseSystem(u); return })
	}
	for name, to := range map[string]*unit.Length{
		"length": &r.Length, "stickout": &r.Stickout, "bore": &r.Bore, "plating": &r.Plating, "relief": &r.Relief,
		"relief-diameter": &r.ReliefDiameter, "tip-flat": &r.TipFlat, "tip-radius": &r.TipRadius,
		"bar-diameter": &r.BarDiameter, "bar-overhang": &r.BarOverhang, "max-infeed": &r.MaxDepth,
	} {
		*to = in.length(name, q.Get(name), sys)
	}
	r.Wires = in.wires(sys)
	r.Timing = in.airPasses()
	in.note("own-cuts", func() (err error) { r.OwnCuts, err = plan.ParseOwnCuts(q.Get("own-cuts")); return })
	if v := q.Get("rubbing"); v != "" {
		in.note("rubbing", func() (err error) { r.Rubbing, err = plan.ParseRubbing(v); return })
	}
	in.note("knock", func() (err error) { r.KnockFree, err = plan.ParseKnocked(q.Get("knock")); return })
	in.note("knock-centre", func() (err error) { r.KnockCentre, err = plan.ParseKnocked(q.Get("knock-centre")); return })
	in.note("lathe", func() (err error) { r.Lathe, err = l.lathe(ctx, q.Get("lathe")); return })
	if r.Timing == nil { // measured at this lathe, if it was
		t, err := l.timing(ctx, q.Get("lathe"))
		if err != nil {
			return r, err
		}
		r.Timing = t
	}
	own, err := l.material(ctx, r.Material)
	if err != nil {
		return r, err
	}
	r.Own = own
	if err := in.err(); err != nil {
		return r, err
	}
	return r, nil
}

// reader reads the values of a query and gathers what is wrong with them.
type reader struct {
	q      url.Values
	faults []error
}

func (in *reader) bad(field, value, reason, hint string) {
	in.faults = append(in.faults, &unit.InputError{Field: field, Value: short(value, 80), Reason: reason, Hint: hint})
}

// note gathers the error of f under the name of a field, and tells whether there
// was none.
func (in *reader) note(field string, f func() error) bool {
	err := f()
	var ie *unit.InputError
	if errors.As(err, &ie) {
		ie.Field = field
	}
	if err != nil {
		in.faults = append(in.faults, err)
	}
	return err == nil
}

func (in *reader) err() error { return errors.Join(in.faults...) }

func (in *reader) yes(name string) bool {
	switch v := in.q.Get(name); v {
	case "":
		return false
	case "yes", "on", "1", "true":
		return true
	case "no", "0", "false":
		return false
	default:
		in.bad(name, v, "is neither yes nor no", "write yes, or leave it out")
		return false
	}
}

func (in *reader) number(name string) float64 {
	v := strings.TrimSpace(in.q.Get(name))
	if v == "" {
		return 0
	}
	f, err := strconv.ParseFloat(strings.Replace(v, ",", ".", 1), 64)
	if err != nil || math.IsNaN(f) || math.IsInf(f, 0) {
		in.bad(name, v, "is not a number", "write it like 200 or 0.5")
		return 0
	}
	return f
}

// thread checks the callout and returns the system that it is written in.
func (in *reader) thread(callout string, internal bool) unit.System {
	side := thread.External
	if internal {
		side = thread.Internal
	}
	sys := unit.Metric
	in.note("callout", func() error {
		if callout == "" {
			return &unit.InputError{Reason: "is missing", Hint: "write the thread as on the drawing: 1/2-13 UNC-2A, M10x1.5-6g"}
		}
		if len(callout) > thread.MaxCallout {
			return &unit.InputError{Value: short(callout, 80), Reason: "is too long", Hint: "write one callout, at most 200 bytes"}
		}
		th, err := thread.Parse(callout, side)
		sys = th.System
		return err
	})
	return sys
}

func (in *reader) length(name, text string, sys unit.System) unit.Length {
	text = strings.TrimSpace(text)
	if text == "" {
		return 0
	}
	var l unit.Length
	if in.note(name, func() (err error) { l, err = unit.ParseLength(text, sys); return }) && l == 0 {
		in.bad(name, text, "is zero", "leave it empty, or give a length")
	}
	return l
}

func (in *reader) wires(sys unit.System) []unit.Length {
	list := in.list("wires", mostWires)
	var out []unit.Length
	in.note("wires", func() (err error) { out, err = plan.ParseWires(list, sys); return })
	return out
}

// list splits a value at commas, semicolons and line ends. A comma between two
// digits may be a decimal comma only when the list is split at semicolons.
func (in *reader) list(name string, most int) []string {
	v := in.q.Get(name)
	cut := func(r rune) bool { return r == ',' || r == ';' || r == '\n' }
	if strings.ContainsAny(v, ";\n") {
		cut = func(r rune) bool { return r == ';' || r == '\n' }
	}
	var out []string
	for _, f := range strings.FieldsFunc(v, cut) {
		if f = strings.TrimSpace(f); f != "" {
			out = append(out, f)
		}
	}
	if len(out) > most {
		in.bad(name, v, "has too many entries", "write at most "+strconv.Itoa(most))
		return nil
	}
	return out
}

func (in *reader) airPasses() *plan.Timing {
	list := in.list("air-passes", mostAir)
	if len(list) == 0 {
		return nil
	}
	var delays []unit.Time
	for _, f := range list {
		if strings.EqualFold(f, "miss") {
			delays = append(delays, plan.Missed)
			continue
		}
		v, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(strings.Replace(f, ",", ".", 1), "s")), 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			in.bad("air-passes", f, "is not a delay in seconds", "write 0.21, 0.35, miss, 0.28")
			return nil
		}
		delays = append(delays, unit.Time(v))
	}
	var t plan.Timing
	in.note("air-passes", func() (err error) { t, err = plan.TimingFromAirPasses(delays); return })
	return &t
}

// fault is one thing wrong with what was typed, for its place beside the field.
type fault struct{ Field, Value, Reason, Hint string }

// Label is what the page calls the field.
func (f fault) Label() string {
	if l := fieldLabels[f.Field]; l != "" {
		return l
	}
	return f.Field
}

// Words is the fault as a sentence.
func (f fault) Words() string {
	if f.Value == "" {
		return f.Reason
	}
	return unit.Quote(f.Value) + " " + f.Reason
}

// fieldNames turns the names that the plan uses into those of the query.
var fieldNames = map[string]string{
	"thread": "callout", "spindle speed": "rpm", "finishing speed": "finish-rpm", "largest infeed": "max-infeed",
	"infeed angle": "angle", "tool material": "tool", "tool profile": "profile", "wire": "wires", "air passes": "air-passes",
	"relief diameter": "relief-diameter", "tip flat": "tip-flat", "tip radius": "tip-radius", "bar diameter": "bar-diameter",
	"bar overhang": "bar-overhang", "own cuts": "own-cuts",
	"reading": "measured", "reading error": "accuracy", "wire error": "wire-accuracy", "major diameter": "major", "major diameter error": "major-accuracy",
	"flank error": "flank-accuracy", "flank angle error": "leading-error", "temperature error": "temperature-accuracy",
	"temperature of the part": "part-temperature", "temperature of the wires": "gauge-temperature", "temperature of the micrometer": "gauge-temperature",
}

// faultsOf takes an error apart. rest is what is no fault of the input.
func faultsOf(err error) (faults []fault, rest error) {
	if err == nil {
		return nil, nil
	}
	if j, ok := err.(interface{ Unwrap() []error }); ok {
		for _, e := range j.Unwrap() {
			f, r := faultsOf(e)
			faults, rest = append(faults, f...), errors.Join(rest, r)
		}
		return faults, rest
	}
	var in *unit.InputError
	if !errors.As(err, &in) {
		return nil, err
	}
	name := in.Field
	if n, ok := fieldNames[name]; ok {
		name = n
	}
	return []fault{{name, in.Value, in.Reason, in.Hint}}, nil
}
