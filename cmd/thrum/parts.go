package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"

	"thrum/gauge"
	"thrum/lathe"
	"thrum/plan"
	"thrum/render"
	"thrum/thread"
	"thrum/unit"
)

type gearsCmd struct {
	Callout string  `arg:"" help:"Thread as on the drawing, or a lead: \"1/2-13 UNC\", 1.25mm, 19tpi."`
	Lathe   string  `required:"" help:"Lathe file, or the name of an example lathe." placeholder:"FILE"`
	Left    bool    `help:"Left hand, for a bare lead."`
	Keep    int     `default:"6" help:"How many ways to print."`
	MaxPPM  float64 `name:"max-ppm" help:"Largest lead error, parts in a million." placeholder:"N"`
	Units   string  `help:"Print in mm or in." placeholder:"SYS"`
}

// Run prints the trains for a thread or a bare lead.
func (c *gearsCmd) Run(s *session) error {
	text, err := s.textArg("thread", c.Callout, thread.MaxCallout)
	if err != nil {
		return err
	}
	toml, err := readLathe(c.Lathe)
	if err != nil {
		return err
	}
	la, err := lathe.Parse(c.Lathe, []byte(toml))
	if err != nil {
		return err
	}
	opt := lathe.Options{Keep: c.Keep, MaxPPM: c.MaxPPM}
	if c.Keep < 1 || c.Keep > 1000 {
		return &unit.InputError{Field: "keep", Value: fmt.Sprint(c.Keep), Reason: "is not between 1 and 1000", Hint: "leave it out for 6"}
	}
	if math.IsNaN(c.MaxPPM) || c.MaxPPM < 0 {
		return &unit.InputError{Field: "max-ppm", Value: fmt.Sprint(c.MaxPPM), Reason: "is not a lead error above zero", Hint: "leave it out for 5000 parts in a million"}
	}
	lead, sys, err := leadOf(text, c.Left, &opt)
	if err != nil {
		return err
	}
	if c.Units != "" {
		if sys, err = unit.ParseSystem(c.Units); err != nil {
			return err
		}
	}
	trains, err := lathe.Trains(la, lead, opt)
	var none *lathe.NoTrain
	if errors.As(err, &none) {
		return &unit.InputError{Field: "lead", Value: text, Reason: none.Error(), Hint: "write a lead that is nearer, accept one that is off by --max-ppm, or add wheels to the lathe's file"}
	}
	if err != nil {
		return err
	}
	return render.Gears(s.out, la, lead, trains, sys, render.TextOptions{Bold: s.colour})
}

// leadOf reads a thread callout or, failing that, a length with its unit.
func leadOf(text string, left bool, opt *lathe.Options) (unit.Ratio, unit.System, error) {
	th, err := thread.Parse(text, thread.External)
	if err == nil {
		if th.Hand == thread.Left || left {
			opt.Hand = lathe.Left
		}
		return th.Lead(), th.System, nil
	}
	if left {
		opt.Hand = lathe.Left
	}
	if exact, sys, ok, err := perInch(text); ok {
		return exact, sys, err
	}
	mm, errM := unit.ParseExact(text, unit.Metric)
	in, errI := unit.ParseExact(text, unit.Inches)
	switch {
	case errM != nil || errI != nil || mm != in: // not a length that names its unit
		return unit.Ratio{}, 0, err
	case mm.Sign() <= 0:
		return unit.Ratio{}, 0, &unit.InputError{Field: "lead", Value: text, Reason: "is not above zero", Hint: "write a lead such as 1.25mm or 13tpi"}
	}
	return mm, unit.Metric, nil
}

// perInch reads threads per inch; ok tells whether the text is meant as such.
func perInch(text string) (lead unit.Ratio, sys unit.System, ok bool, err error) {
	n, ok := strings.CutSuffix(strings.ToLower(strings.TrimSpace(text)), "tpi")
	if !ok {
		return lead, 0, false, nil
	}
	r, err := unit.ParseRatio(strings.TrimSpace(n))
	if err == nil && r.Sign() > 0 {
		lead, err = unit.MustRatio(127, 5).Quo(r)
	}
	if err != nil || r.Sign() <= 0 {
		return lead, 0, true, &unit.InputError{Field: "lead", Value: text, Reason: "is not a number of threads per inch", Hint: "write 13tpi, 11.5tpi or 1.5mm"}
	}
	return lead, unit.Inches, true, nil
}

type wiresCmd struct {
	Callout  string   `arg:"" help:"Thread as on the drawing."`
	Internal bool     `help:"Internal thread, where the callout does not say."`
	Wires    []string `help:"Wire (or ball) sizes at hand, or a set by its name." placeholder:"DIA" sep:","`
	Measured string   `help:"Reading taken: gives the pitch diameter and the verdict. Several of one place: semicolons between." placeholder:"LEN"`
	Wire     string   `help:"Wire that was used for it; the one advised when left out." placeholder:"DIA"`
	Method   string   `help:"three wires, two wires, one wire, thread micrometer or balls." placeholder:"KIND"`
	Major    string   `help:"Measured major diameter, for one wire." placeholder:"DIA"`

	Accuracy      string `help:"The micrometer is right within this." placeholder:"LEN"`
	WireAccuracy  string `help:"The wires are of their size within this." placeholder:"LEN"`
	MajorAccuracy string `help:"The measured major diameter is right within this." placeholder:"LEN"`
	FlankAccuracy string `help:"The flank angles are right within this, degrees." placeholder:"DEG"`

	PartTemperature     string `help:"Temperature of the part as it was measured: 32C, 90F." placeholder:"TEMP"`
	MadeOf              string `help:"What the part is made of, for its growth." placeholder:"NAME"`
	GaugeTemperature    string `help:"Temperature of wires and micrometer; 20C when left out." placeholder:"TEMP"`
	TemperatureAccuracy string `help:"The temperatures are right within this: 1C." placeholder:"TEMP"`

	LeadError     string `help:"Largest error of lead between ridges in engagement: gives the size that the mate feels." placeholder:"LEN"`
	LeadingError  string `help:"Leading flank angle less nominal, degrees." placeholder:"DEG"`
	TrailingError string `help:"Trailing flank angle less nominal, degrees." placeholder:"DEG"`

	Lathe string `help:"Lathe whose dial says what to take off." placeholder:"FILE"`
	Units string `help:"Print in mm or in." placeholder:"SYS"`
}

// Run prints the wires or judges a reading.
func (c *wiresCmd) Run(s *session) error {
	text, err := s.textArg("thread", c.Callout, thread.MaxCallout)
	if err != nil {
		return err
	}
	side := thread.External
	if c.Internal {
		side = thread.Internal
	}
	th, err := thread.Parse(text, side)
	if err != nil {
		return err
	}
	sys := th.System
	if c.Units != "" {
		if sys, err = unit.ParseSystem(c.Units); err != nil {
			return err
		}
	}
	owned, err := plan.ParseWires(c.Wires, sys)
	if err != nil {
		return err
	}
	if c.Measured == "" {
		if lone := c.lone(); lone != "" {
			return &unit.InputError{Field: "--measured", Reason: "is missing", Hint: lone + " is about a reading: give that too"}
		}
		p, err := plan.WiresOf(th, owned)
		if err != nil {
			return err
		}
		return render.Wires(s.out, p, th, sys, render.TextOptions{Bold: s.colour})
	}
	return c.judge(s, th, owned, sys)
}

// about are the options that say something about a reading.
func (c *wiresCmd) about() map[string]string {
	return map[string]string{
		"measured": c.Measured, "method": c.Method, "wire": c.Wire, "major": c.Major,
		"accuracy": c.Accuracy, "wire-accuracy": c.WireAccuracy, "major-accuracy": c.MajorAccuracy, "flank-accuracy": c.FlankAccuracy,
		"part-temperature": c.PartTemperature, "made-of": c.MadeOf, "gauge-temperature": c.GaugeTemperature, "temperature-accuracy": c.TemperatureAccuracy,
		"lead-error": c.LeadError, "leading-error": c.LeadingError, "trailing-error": c.TrailingError,
	}
}

// lone names an option that says something about a reading when there is none.
func (c *wiresCmd) lone() string {
	about := c.about()
	for _, name := range slices.Sorted(maps.Keys(about)) {
		if about[name] != "" {
			return "--" + name
		}
	}
	return ""
}

func (c *wiresCmd) judge(s *session, th thread.Thread, owned []unit.Length, sys unit.System) error {
	about := c.about()
	r, err := plan.ParseReading(func(field string) string { return about[field] }, th, owned)
	if err != nil {
		return err
	}
	v, err := gauge.Judge(th, r)
	if err != nil {
		return err
	}
	var dial *lathe.Dial
	if c.Lathe != "" {
		toml, err := readLathe(c.Lathe)
		if err != nil {
			return err
		}
		la, err := lathe.Parse(c.Lathe, []byte(toml))
		if err != nil {
			return err
		}
		dial = &la.CrossSlide.Dial
	}
	return render.Verdict(s.out, th, r, v, dial, sys, render.TextOptions{Bold: s.colour})
}

type passesCmd struct {
	partFlags
	After         int    `help:"Passes already cut." placeholder:"N"`
	OverWires     string `name:"over-wires" help:"Reading over wires after them." placeholder:"LEN"`
	PitchDiameter string `name:"pitch-diameter" help:"Pitch diameter measured after them." placeholder:"LEN"`
	FreshZero     bool   `name:"fresh-zero" help:"The tip was set into the groove again and both dials set to 0 there."`
	Methods       bool   `help:"Compare the infeed methods for this thread instead."`
	JSON          bool   `name:"json" help:"Print the plan as JSON."`
}

// Run prints the passes, or what is left of them after a measurement.
func (c *passesCmd) Run(s *session) error {
	r, err := c.request(s)
	if err != nil {
		return err
	}
	if c.Methods {
		return c.compare(s, r)
	}
	var p *plan.Plan
	if c.After == 0 && c.OverWires == "" && c.PitchDiameter == "" && !c.FreshZero {
		p, err = plan.Make(r)
	} else {
		p, err = c.replan(r)
	}
	if err != nil {
		return err
	}
	if c.JSON {
		err = plan.Encode(s.out, p)
	} else {
		err = render.Passes(s.out, p, render.TextOptions{Bold: s.colour})
	}
	if err == nil && len(p.Blocked()) > 0 {
		return errBlocked
	}
	return err
}

func (c *passesCmd) compare(s *session, r plan.Request) error {
	all, err := plan.InfeedMethods(r)
	if err != nil {
		return err
	}
	if c.JSON {
		e := json.NewEncoder(s.out)
		e.SetIndent("", "  ")
		return e.Encode(all)
	}
	return render.Methods(s.out, all, r.Units, render.TextOptions{Bold: s.colour})
}

func (c *passesCmd) replan(r plan.Request) (*plan.Plan, error) {
	st := plan.State{After: c.After, FreshZero: c.FreshZero}
	switch {
	case c.PitchDiameter != "":
		d, err := named("pitch diameter", c.PitchDiameter, r.Units)
		if err != nil {
			return nil, err
		}
		st.Pitch = d
	case c.OverWires != "":
		m, err := named("over wires", c.OverWires, r.Units)
		if err != nil {
			return nil, err
		}
		if st.Pitch, err = plan.PitchFromWires(r, m); err != nil {
			return nil, err
		}
	}
	return plan.Replan(r, st)
}

type latheCmd struct {
	Check latheCheckCmd `cmd:"" help:"Check a lathe file and say what the lathe can do."`
}

type latheCheckCmd struct {
	File string `arg:"" help:"Lathe file, or the name of an example lathe; - reads standard input."`
}

// Run checks the file; every fault is reported with its line and key.
func (c *latheCheckCmd) Run(s *session) error {
	var toml string
	var err error
	if c.File == "-" {
		toml, err = s.textArg("lathe file", "-", largestFile)
	} else {
		toml, err = readLathe(c.File)
	}
	if err != nil {
		return err
	}
	name := c.File
	if name == "-" {
		name = "standard input"
	}
	la, err := lathe.Parse(name, []byte(toml))
	if err != nil {
		return err
	}
	_, err = fmt.Fprint(s.out, lathe.Describe(la))
	return err
}
