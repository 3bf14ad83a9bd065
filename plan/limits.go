package plan

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"thrum/thread"
	"thrum/unit"
)

// Sizes are a thread's limits alone, without a lathe. Where the callout does not
// say whether the thread is external or internal both members are given.
type Sizes struct {
	Schema      int           `json:"schema"`
	Threads     []ThreadFacts `json:"threads"`
	Limits      LimitTable    `json:"limits"`
	Reasons     []Reason      `json:"reasons"`
	Assumptions []Assumption  `json:"assumptions"`
}

// LimitsOf returns the limits of size for a callout. Plating is the thickness of
// a coating to come, zero for none; after says that the drawing's limits hold with it.
func LimitsOf(callout string, plating unit.Length, after bool, units unit.System) (*Sizes, error) {
	var threads []thread.Thread
	for _, prefer := range []thread.Side{thread.External, thread.Internal} {
		th, err := thread.Parse(callout, prefer)
		if err != nil {
			return nil, err // one side fails for the same reason as the other
		}
		if len(threads) == 0 || threads[0].Side != th.Side {
			threads = append(threads, th)
		}
	}
	return LimitsOfThreads(threads, plating, after, units)
}

// LimitsOfThreads is LimitsOf for threads that are already read, such as one from a
// form file.
func LimitsOfThreads(threads []thread.Thread, plating unit.Length, after bool, units unit.System) (*Sizes, error) {
	if plating < 0 {
		return nil, &unit.InputError{Field: "plating", Value: plating.String(), Reason: "is negative", Hint: "give the thickness per surface: 8um"}
	}
	s := &Sizes{Schema: Schema, Threads: []ThreadFacts{}}
	for _, th := range threads {
		b := &builder{req: Request{Callout: th.Callout, Units: units, Plating: plating, AfterPlating: after}, th: th, plan: &Plan{}}
		if err := errors.Join(b.facts(), b.limits()); err != nil {
			return nil, err
		}
		s.Threads = append(s.Threads, b.plan.Thread)
		b.along()
		s.Reasons = append(s.Reasons, b.plan.Reasons...)
		s.Assumptions = append(s.Assumptions, b.plan.Assumptions...)
		if th.Side == thread.External {
			s.Limits.External = b.plan.Limits.External
			s.Limits.Deviation = b.plan.Limits.Deviation
		} else {
			s.Limits.Internal = b.plan.Limits.Internal
		}
		s.Limits.Plating = plating
	}
	if len(s.Threads) > 1 { // both members are shown, so neither was assumed
		s.Assumptions = slices.DeleteFunc(s.Assumptions, func(a Assumption) bool { return strings.Contains(a.Text, "external or internal") })
	}
	return s, nil
}

// along says which size a taper thread has where along its axis, and how long its
// parts are: what a taper is turned, gauged and made up by.
func (b *builder) along() {
	g := b.th.Gauge
	if g == nil || b.th.Taper.IsZero() {
		return
	}
	who, from := "screw", "from the small end"
	if b.internal() {
		who, from = "bore", "from the face"
	}
	var planes, lengths []string
	for _, s := range g.Sections {
		planes = append(planes, fmt.Sprintf("%s %s at %s", s.Name, b.len(s.Diameters.Pitch), b.len(s.At)))
	}
	for _, l := range []struct {
		name  string
		of    unit.Length
		screw bool // a part of a screw cut with a die; a bore has none
	}{
		{"gauge plane", g.Plane, false},
		{"to either side of it", g.Tolerance, false},
		{"full at root and crest", g.Complete, true},
		{"useful thread", g.Useful, false},
		{"useful thread at the least", g.UsefulMin, false},
		{"at the most", g.UsefulMax, false},
		{"beyond the gauge plane for fitting", g.Fitting, false},
		{"made up by wrench beyond hand tightness", g.Wrench, false},
		{"vanishing thread", g.Vanish, true},
		{"useful and vanishing thread", g.Overall, true},
	} {
		if l.of > 0 && !(l.screw && b.internal()) {
			lengths = append(lengths, l.name+" "+b.len(l.of))
		}
	}
	if len(planes) > 0 {
		b.reason("thread", b.plan.Thread.Source, "Basic pitch diameter of the %s, %s: %s.", who, from, strings.Join(planes, ", "))
	}
	if len(lengths) > 0 {
		b.reason("thread", b.plan.Thread.Source, "Lengths of the %s, %s: %s.", who, from, strings.Join(lengths, ", "))
	}
}
