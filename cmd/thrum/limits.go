package main

import (
	"encoding/json"
	"errors"
	"slices"
	"strings"

	"thrum/plan"
	"thrum/render"
	"thrum/thread"
	"thrum/unit"
)

type limitsCmd struct {
	Callout  string  `arg:"" optional:"" help:"Thread as on the drawing."`
	Form     string  `help:"File that describes a thread no standard names, instead of a callout." placeholder:"FILE"`
	Plating  string  `help:"Thickness of plating to come, per surface." placeholder:"LEN"`
	After    bool    `name:"limits-after-plating" help:"The drawing's limits hold after plating."`
	Units    string  `help:"Print in mm or in." placeholder:"SYS"`
	JSON     bool    `name:"json" help:"Print as JSON."`
	Like     bool    `help:"Find out which thread a measured one is, from diameter and pitch."`
	Internal bool    `help:"The internal thread alone, where the callout does not say; with --like: the measured thread is internal." xor:"side"`
	External bool    `help:"The external thread alone, where the callout does not say." xor:"side"`
	Diameter string  `help:"With --like: outside diameter of a screw, smallest diameter of a nut." placeholder:"DIA"`
	Pitch    string  `help:"With --like: pitch, or threads per inch as 13tpi." placeholder:"LEN"`
	Threads  int     `help:"With --like: this many pitches were measured ..." placeholder:"N"`
	Over     string  `help:"... over this length." placeholder:"LEN"`
	Angle    float64 `help:"With --like: included angle, degrees." placeholder:"DEG"`
	Error    string  `help:"With --like: the diameter is right within this." placeholder:"LEN"`

	profileFlags
}

// Run prints limits, or identifies a thread.
func (c *limitsCmd) Run(s *session) error {
	if c.Like {
		return c.identify(s)
	}
	if c.Callout == "" && c.Form == "" {
		return &unit.InputError{Field: "thread", Value: "", Reason: "is missing", Hint: `write a callout: thrum limits "1/2-13 UNC-2A"`}
	}
	text, form, th, err := threadOf(s, c.Callout, c.Form, c.Internal)
	if err != nil {
		return err
	}
	sys := th.System
	if c.Units != "" {
		if sys, err = unit.ParseSystem(c.Units); err != nil {
			return err
		}
	}
	var plating unit.Length
	if c.Plating != "" {
		if plating, err = named("plating", c.Plating, sys); err != nil {
			return err
		}
	}
	if c.any() {
		return c.write(s, th, sys)
	}
	var sizes *plan.Sizes
	if c.External && th.Side != thread.External {
		return &unit.InputError{Field: "--external", Value: th.Designation, Reason: "is an internal thread", Hint: "leave the flag out, or write the callout of the external thread"}
	}
	if c.Internal || c.External { // nothing is assumed of what was said
		th.Notes = slices.DeleteFunc(th.Notes, func(n thread.Note) bool { return n.Assumed && strings.Contains(n.Text, "external or internal") })
	}
	if side := []thread.Thread{th}; form != "" || c.Internal || c.External {
		sizes, err = plan.LimitsOfThreads(side, plating, c.After, sys)
	} else {
		sizes, err = plan.LimitsOf(text, plating, c.After, sys)
	}
	if err != nil {
		return err
	}
	if c.JSON {
		e := json.NewEncoder(s.out)
		e.SetIndent("", "  ")
		e.SetEscapeHTML(false)
		return e.Encode(sizes)
	}
	return render.Limits(s.out, sizes, sys, render.TextOptions{Bold: s.colour})
}

func (c *limitsCmd) identify(s *session) error {
	sys := unit.Metric
	var err error
	if c.Units != "" {
		if sys, err = unit.ParseSystem(c.Units); err != nil {
			return err
		}
	}
	r := thread.Readings{Threads: c.Threads, Angle: unit.Angle(c.Angle) * unit.Degree}
	if c.Internal {
		r.Side = thread.Internal
	}
	var faults []error
	for _, l := range []struct {
		name, text string
		to         *unit.Length
	}{{"diameter", c.Diameter, &r.Diameter}, {"over", c.Over, &r.Over}, {"error", c.Error, &r.DiameterError}} {
		if l.text != "" {
			*l.to, err = named(l.name, l.text, sys)
			faults = append(faults, err)
		}
	}
	if c.Pitch != "" {
		r.Pitch, err = unit.ParsePitch(c.Pitch, sys)
		faults = append(faults, err)
	}
	if err := errors.Join(faults...); err != nil {
		return err
	}
	found, err := thread.Identify(r)
	if err != nil {
		return err
	}
	return render.Candidates(s.out, found, sys, render.TextOptions{Bold: s.colour})
}
