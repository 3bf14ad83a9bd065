package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"thrum/examples"
	"thrum/lathe"
	"thrum/plan"
	"thrum/render"
	"thrum/thread"
	"thrum/unit"
)

// partFlags describe the thread, the part and the lathe; the commands that plan
// share them. Lengths are read in the thread's own system unless they name a unit.
type partFlags struct {
	Callout  string `arg:"" optional:"" help:"Thread as on the drawing: \"1/2-13 UNC-2A\", M10x1.5-6g."`
	Lathe    string `help:"Lathe file, or the name of an example lathe." placeholder:"FILE"`
	Material string `help:"Material, as the workshop calls it." placeholder:"NAME"`
	Own      string `name:"material-file" help:"File with your own materials." placeholder:"FILE" type:"path"`
	Form     string `help:"File that describes a thread no standard names, instead of a callout." placeholder:"FILE"`
	Internal bool   `help:"Internal thread, where the callout does not say."`
	Length   string `help:"Length of full thread." placeholder:"LEN"`
	Stickout string `help:"From the chuck jaws to the end of the part." placeholder:"LEN"`
	Centre   bool   `help:"Supported by the tailstock centre." aliases:"center"`
	Bore     string `help:"Hole through an external part." placeholder:"DIA"`
	Plating  string `help:"Thickness of plating to come, per surface." placeholder:"LEN"`

	After bool `name:"limits-after-plating" help:"The drawing's limits hold after plating."`

	Relief         string `help:"Width of the relief beyond the thread." placeholder:"LEN"`
	ReliefDiameter string `help:"Diameter of the relief." placeholder:"DIA"`
	OpenEnd        bool   `help:"Nothing is in the way beyond the thread."`

	Tool      string `help:"Tool material: hss or carbide." placeholder:"KIND"`
	Profile   string `help:"Tool profile: partial or full." placeholder:"KIND"`
	TipFlat   string `help:"Width of the flat at the tool's tip." placeholder:"LEN"`
	TipRadius string `help:"Radius of the tool's tip." placeholder:"LEN"`
	Edge      string `help:"Condition of the cutting edge." placeholder:"KIND"`

	BarDiameter string `name:"bar-diameter" help:"Diameter of the boring bar." placeholder:"DIA"`
	BarOverhang string `name:"bar-overhang" help:"How far the bar stands out of its holder." placeholder:"LEN"`

	Infeed    string  `help:"straight, flank, modified or alternating." placeholder:"METHOD"`
	Angle     float64 `help:"Compound from the cross-slide line, degrees." placeholder:"DEG"`
	Straight  int     `name:"final-straight" help:"Take this many last passes straight in on the cross slide." placeholder:"N"`
	MaxInfeed string  `help:"Largest infeed of one pass." placeholder:"LEN"`

	OwnCuts   string   `help:"What you saw of waves on threads cut so: speed and what each pass left of the last, \"200: 1.4, 115: 0.8\"." placeholder:"LIST"`
	Rubbing   string   `help:"Rubbing of the edge in N/m as fitted before: low, likely, high." placeholder:"LIST"`
	Train     int      `help:"Gear it the N-th way that the sheet lists." placeholder:"N"`
	RPM       float64  `name:"rpm" help:"Spindle speed; the lathe must have it." placeholder:"N"`
	FinishRPM float64  `name:"finish-rpm" help:"Another speed for the last cutting passes." placeholder:"N"`
	Ending    string   `help:"How a pass ends." placeholder:"WAY"`
	Away      bool     `help:"Cut away from the chuck."`
	Risk      float64  `help:"Accepted chance that one pass of the part overruns (0.001)." placeholder:"P"`
	AirPasses string   `help:"Delays of your air passes in seconds: 0.21,0.35,... (\"miss\" for a missed one)." placeholder:"LIST"`
	Wires     []string `help:"Wire sizes at hand." placeholder:"DIA" sep:","`

	Knock       string `help:"What the part rings at when tapped without the centre: a recording of taps, or \"412 Hz 2.1 %\"." placeholder:"FILE"`
	KnockCentre string `help:"The same with the centre in." placeholder:"FILE" aliases:"knock-center"`

	Units string `help:"Print in mm or in; the thread's own system when left out." placeholder:"SYS"`
}

// request turns the flags into a plan.Request; every fault is reported at once.
func (f *partFlags) request(s *session) (plan.Request, error) {
	callout, form, th, err := threadOf(s, f.Callout, f.Form, f.Internal)
	if err != nil {
		return plan.Request{}, err
	}
	r := plan.Request{
		Callout: callout, Form: form, Internal: f.Internal, Units: th.System, Material: f.Material, Centre: f.Centre, AfterPlating: f.After, OpenEnd: f.OpenEnd,
		ToolMaterial: strings.ToLower(f.Tool), ToolProfile: strings.ToLower(f.Profile), Edge: f.Edge,
		Infeed: strings.ToLower(f.Infeed), FinalStraight: f.Straight, Angle: unit.Angle(f.Angle) * unit.Degree,
		RPM: unit.Rotation(f.RPM), FinishRPM: unit.Rotation(f.FinishRPM), Ending: f.Ending, Away: f.Away, Risk: f.Risk, Train: f.Train,
	}
	var faults []error
	if f.Units != "" {
		r.Units, err = unit.ParseSystem(f.Units)
		faults = append(faults, err)
	}
	for _, l := range []struct {
		name, text string
		to         *unit.Length
	}{
		{"length", f.Length, &r.Length},
		{"stickout", f.Stickout, &r.Stickout},
		{"bore", f.Bore, &r.Bore},
		{"plating", f.Plating, &r.Plating},
		{"relief", f.Relief, &r.Relief},
		{"relief diameter", f.ReliefDiameter, &r.ReliefDiameter},
		{"tip flat", f.TipFlat, &r.TipFlat},
		{"tip radius", f.TipRadius, &r.TipRadius},
		{"bar diameter", f.BarDiameter, &r.BarDiameter},
		{"bar overhang", f.BarOverhang, &r.BarOverhang},
		{"largest infeed", f.MaxInfeed, &r.MaxDepth},
	} {
		if l.text == "" {
			continue
		}
		*l.to, err = named(l.name, l.text, r.Units)
		faults = append(faults, err)
		if err == nil && *l.to == 0 {
			faults = append(faults, &unit.InputError{Field: l.name, Value: l.text, Reason: "is zero", Hint: zeroHint(l.name)})
		}
	}
	r.Wires, err = plan.ParseWires(f.Wires, r.Units)
	faults = append(faults, err)
	if f.OwnCuts != "" {
		r.OwnCuts, err = plan.ParseOwnCuts(f.OwnCuts)
		faults = append(faults, err)
	}
	if f.Rubbing != "" {
		r.Rubbing, err = plan.ParseRubbing(f.Rubbing)
		faults = append(faults, err)
	}
	r.KnockFree, err = s.knocked(f.Knock)
	faults = append(faults, err)
	r.KnockCentre, err = s.knocked(f.KnockCentre)
	faults = append(faults, err)
	if f.AirPasses != "" {
		r.Timing, err = parseAirPasses(f.AirPasses)
		faults = append(faults, err)
	}
	r.Lathe, err = readLathe(f.Lathe)
	faults = append(faults, err)
	if err == nil && f.Units == "" {
		faults = append(faults, f.bare(r.Lathe, th.System))
	}
	if f.Own != "" {
		r.Own, err = readText("material file", f.Own)
		faults = append(faults, err)
	}
	return r, errors.Join(faults...)
}

// bare refuses lengths without a unit where thread and lathe are of different systems:
// read in the wrong one a length is 25 times too long.
func (f *partFlags) bare(latheText string, sys unit.System) error {
	la, err := lathe.Parse("lathe", []byte(latheText))
	if err != nil || la.Units == sys {
		return nil // a faulty lathe file is told of when the thread is planned
	}
	var faults []error
	for _, l := range []struct{ name, text string }{
		{"length", f.Length},
		{"stickout", f.Stickout},
		{"bore", f.Bore},
		{"plating", f.Plating},
		{"relief", f.Relief},
		{"relief diameter", f.ReliefDiameter},
		{"tip flat", f.TipFlat},
		{"tip radius", f.TipRadius},
		{"bar diameter", f.BarDiameter},
		{"bar overhang", f.BarOverhang},
		{"largest infeed", f.MaxInfeed},
	} {
		inches, err1 := unit.ParseLength(l.text, unit.Inches)
		mm, err2 := unit.ParseLength(l.text, unit.Metric)
		if err1 == nil && err2 == nil && inches != mm {
			faults = append(faults, &unit.InputError{
				Field: l.name, Value: l.text, Reason: fmt.Sprintf("has no unit, and the thread is in %s where the lathe is in %s", sys, la.Units),
				Hint: fmt.Sprintf("write %smm or %sin, or say --units mm or --units in for all", l.text, l.text),
			})
		}
	}
	return errors.Join(faults...)
}

// threadOf reads the thread from a callout or from a form file.
func threadOf(s *session, callout, file string, internal bool) (text, form string, th thread.Thread, err error) {
	side := thread.External
	if internal {
		side = thread.Internal
	}
	if file != "" {
		if callout != "" {
			return "", "", th, &unit.InputError{Field: "thread", Value: callout, Reason: "is given together with a form file", Hint: "give one or the other"}
		}
		if form, err = readText("form file", file); err == nil {
			th, err = thread.FromTOML(file, strings.NewReader(form))
		}
	} else if text, err = s.textArg("thread", callout, thread.MaxCallout); err == nil {
		th, err = thread.Parse(text, side)
	}
	if err == nil && internal && th.Side != thread.Internal {
		err = &unit.InputError{Field: "--internal", Value: th.Designation, Reason: "is an external thread", Hint: "leave the flag out, or write the callout of the internal thread"}
	}
	return text, form, th, err
}

// zeroHint says what to write instead of a length of zero.
func zeroHint(field string) string {
	if field == "length" {
		return "give the length of full thread: 1in, 25mm"
	}
	return "leave it out, or give a length"
}

func named(field, text string, sys unit.System) (unit.Length, error) {
	l, err := unit.ParseLength(text, sys)
	var in *unit.InputError
	if errors.As(err, &in) {
		in.Field = field
	}
	return l, err
}

// largest lathe or material file read.
const largestFile = 1 << 20

// readLathe reads a lathe file: a path when it contains a slash or ends in .toml,
// else the name of an example.
func readLathe(name string) (string, error) {
	if name == "" {
		return "", &unit.InputError{Field: "lathe", Value: "", Reason: "is missing", Hint: "write --lathe FILE; the examples are called " + strings.Join(examples.Lathes(), ", ")}
	}
	if strings.ContainsAny(name, `/\`) || strings.HasSuffix(name, ".toml") {
		return readText("lathe file", name)
	}
	text, ok := examples.Lathe(name)
	if !ok {
		return "", &unit.InputError{
			Field: "lathe", Value: name, Reason: "is not one of the example lathes",
			Hint: "write a path ending in .toml, or one of: " + strings.Join(examples.Lathes(), ", "),
		}
	}
	return text, nil
}

func readText(field, path string) (string, error) {
	info, err := os.Stat(path)
	if err != nil {
		return "", &unit.InputError{Field: field, Value: path, Reason: "cannot be read: " + reasonOf(err), Hint: "check the path"}
	}
	if info.IsDir() || info.Size() > largestFile {
		return "", &unit.InputError{Field: field, Value: path, Reason: fmt.Sprintf("is a folder or larger than %d bytes", largestFile), Hint: "give a text file"}
	}
	data, err := os.ReadFile(filepath.Clean(path))
	if err != nil {
		return "", &unit.InputError{Field: field, Value: path, Reason: "cannot be read: " + reasonOf(err), Hint: "check the path"}
	}
	return string(data), nil
}

func reasonOf(err error) string {
	var pe *os.PathError
	if errors.As(err, &pe) {
		return pe.Err.Error()
	}
	return err.Error()
}

func parseAirPasses(list string) (*plan.Timing, error) {
	var delays []unit.Time
	for _, f := range strings.Split(list, ",") {
		f = strings.TrimSpace(f)
		if f == "miss" {
			delays = append(delays, plan.Missed)
			continue
		}
		r, err := unit.ParseRatio(strings.TrimSuffix(f, "s"))
		if err != nil {
			return nil, &unit.InputError{Field: "air passes", Value: f, Reason: "is not a delay in seconds", Hint: "write 0.21,0.35,miss,0.28"}
		}
		delays = append(delays, unit.Time(r.Float()))
	}
	t, err := plan.TimingFromAirPasses(delays)
	return &t, err
}

type sheetCmd struct {
	partFlags
	fileFlags
	Vibration bool `help:"Say too what is likely to vibrate, what the passes make of it, and whether the centre matters."`
	Remedies  bool `help:"Also what would help against vibration, cheapest first, each with its predicted effect."`
	Outlook   int  `help:"Also how sure the answer about vibration is, from this many plausible cases (400 is usual)." placeholder:"N"`
	JSON      bool `name:"json" help:"Print the plan as JSON: lengths in mm, angles in radians, forces in N, whatever the units of the sheet."`
}

// plan plans the thread, with as much about vibration as is asked for.
func (c *sheetCmd) plan(s *session, r plan.Request) (*plan.Plan, error) {
	knocked := len(r.KnockFree)+len(r.KnockCentre)+len(r.OwnCuts) > 0
	if !c.Vibration && !c.Remedies && c.Outlook == 0 && !knocked {
		return plan.Make(r)
	}
	st, err := plan.Examine(r)
	if err != nil {
		return nil, err
	}
	const seed = 1 // the same sheet every time
	if c.Outlook != 0 {
		if _, err := st.Outlook(s.ctx, c.Outlook, seed); err != nil {
			return nil, err
		}
	}
	if c.Remedies {
		cases := c.Outlook
		if cases == 0 {
			cases = plan.UsualCases / 2
		}
		_, err = st.Remedies(s.ctx, cases, seed)
	}
	return st.Plan, err
}

// Run prints the sheet; a blocked plan is printed too and ends with status 1.
func (c *sheetCmd) Run(s *session) error {
	if err := c.check(); err != nil {
		return err
	}
	if c.JSON && c.any() {
		return &unit.InputError{Field: "--json", Value: "with --pdf, --svg or --png", Reason: "asks for the plan and for a picture of it", Hint: "run it once for each"}
	}
	r, err := c.request(s)
	if err != nil {
		return err
	}
	p, err := c.plan(s, r)
	if err != nil {
		return err
	}
	switch {
	case c.any():
		err = c.write(s, p)
	case c.JSON:
		err = plan.Encode(s.out, p)
	default:
		err = render.Sheet(s.out, p, render.TextOptions{Bold: s.colour})
	}
	if err == nil && len(p.Blocked()) > 0 {
		return errBlocked
	}
	return err
}
