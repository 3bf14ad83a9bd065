package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"thrum/gauge"
	"thrum/lathe"
	"thrum/plan"
	"thrum/render"
	"thrum/thread"
	"thrum/unit"
)

type wiresPage struct {
	frame
	Look     group
	Sections []sheetSection
	Faults   []fault
}

// wiresShow says which wires to use and what to read, and judges a reading.
func (s *Server) wiresShow(w http.ResponseWriter, r *http.Request) {
	q := tidy(r.URL.Query())
	page := wiresPage{frame: s.frame(r, "Wires", "wires")}
	status := http.StatusOK
	if len(q) > 0 {
		var err error
		if page.Sections, err = s.wireSections(r, q); err != nil {
			var rest error
			if page.Faults, rest = faultsOf(err); rest != nil && len(page.Faults) == 0 {
				s.broken(w, r, rest)
				return
			}
			status = http.StatusUnprocessableEntity
		}
	}
	f, err := s.form(r.Context(), q, page.Faults)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	page.Look = f.reading()
	s.show(w, r, status, "wires", page)
}

// aboutReading are the fields of the form that say something of a reading.
var aboutReading = []string{
	"measured", "again", "wire", "method", "major", "accuracy", "wire-accuracy", "major-accuracy", "flank-accuracy",
	"part-temperature", "made-of", "gauge-temperature", "temperature-accuracy", "lead-error", "leading-error", "trailing-error",
}

// reading is the form of the page: the thread, what was read, and behind "more" what
// makes the verdict surer.
func (f *form) reading() group {
	var methods, stuffs []option
	for m := gauge.ThreeWires; m <= gauge.Balls; m++ {
		methods = append(methods, option{Value: m.String(), Label: m.String()})
	}
	for _, m := range gauge.Materials() {
		stuffs = append(stuffs, option{Value: m.Name, Label: m.Name})
	}
	var names []string
	for _, set := range gauge.Sets() {
		names = append(names, set.Name)
	}
	g := group{
		Shown: []control{
			f.text("callout", "Thread", "as on the drawing: 1/2-13 UNC-2A, M10x1.5-6g"),
			f.check("internal", "Internal, where the callout does not say"),
			f.text("wires", "Wires (or balls) at hand", ".040in, .045in, or a set: "+strings.Join(names, ", ")),
			f.number("measured", "Reading taken", "gives the pitch diameter and the verdict"),
			f.number("wire", "with wires of", "the advised size when left empty"),
			f.number("accuracy", "Micrometer right within", ".0002in, 5um"),
			f.choose("lathe", "Lathe, for its dial", "none", plainOptions(f.lathes...)...),
			f.choose("units", "Figures in", "the thread's own", option{Value: "mm", Label: "millimetres"}, option{Value: "in", Label: "inches"}),
		},
		More: []control{
			f.text("again", "Further readings of the same place", "60.854; 60.858"),
			f.choose("method", "Measured with", "three wires, balls inside", methods...),
			f.number("major", "Major diameter, measured", "needed with one wire"),
			f.number("wire-accuracy", "Wires right within", ".00005in, 1um"),
			f.number("major-accuracy", "Major diameter right within", "with one wire"),
			f.number("flank-accuracy", "Flank angles right within, degrees", "0.5"),
			f.text("part-temperature", "Temperature of the part", "32C, 90F"),
			f.choose("made-of", "The part is", "choose", stuffs...),
			f.text("gauge-temperature", "Temperature of wires and micrometer", "20C when left empty"),
			f.text("temperature-accuracy", "Temperatures right within", "1C, 2F"),
			f.number("lead-error", "Lead error between ridges in engagement", "what the mate feels of it is added"),
			f.text("leading-error", "Leading flank angle off by, degrees", "measured less nominal: -0.25"),
			f.text("trailing-error", "Trailing flank angle off by, degrees", "the same"),
		},
	}
	for _, c := range g.More {
		g.Open = g.Open || c.Value != "" || len(c.Faults) > 0
	}
	return g
}

func (s *Server) wireSections(r *http.Request, q url.Values) ([]sheetSection, error) {
	in := reader{q: q}
	callout := strings.TrimSpace(q.Get("callout"))
	internal := in.yes("internal")
	own := in.thread(callout, internal)
	sys := in.units(own)
	owned := in.wires(own)
	if err := in.err(); err != nil {
		return nil, err
	}
	side := thread.External
	if internal {
		side = thread.Internal
	}
	th, err := thread.Parse(callout, side)
	if err != nil {
		return nil, err
	}
	w, err := plan.WiresOf(th, owned)
	if err != nil {
		return nil, err
	}
	out := []sheetSection{{Section: wireAdvice(th, w, sys), N: 1}}
	if !slices.ContainsFunc(aboutReading, func(name string) bool { return strings.TrimSpace(q.Get(name)) != "" }) {
		return out, nil
	}
	reading, err := plan.ParseReading(q.Get, th, owned)
	if err != nil {
		return nil, err
	}
	v, err := gauge.Judge(th, reading)
	if err != nil {
		return nil, err
	}
	var dial *lathe.Dial
	if name := q.Get("lathe"); name != "" {
		text, err := s.library.lathe(r.Context(), name)
		if err != nil {
			return nil, err
		}
		la, err := lathe.Parse(name, []byte(text))
		if err != nil {
			return nil, err
		}
		dial = &la.CrossSlide.Dial
	}
	return append([]sheetSection{{Section: verdict(reading, v, dial, sys), N: 1}}, sheetSection{Section: out[0].Section, N: 2}), nil
}

func wireAdvice(th thread.Thread, w *plan.WirePlan, sys unit.System) render.Section {
	name := "wires"
	if th.Side == thread.Internal {
		name = "balls"
	}
	return render.Section{
		ID: "advice", Title: "What to measure " + th.Designation + " with",
		Figures: []render.Value{
			{Key: "over", Label: "read over " + render.Length(w.Use, sys) + " " + name, Text: render.Number(w.Over.Min, sys) + " to " + render.Length(w.Over.Max, sys), Note: "aim at " + render.Number(w.Over.Target, sys)},
		},
		Facts: []render.Value{
			{Key: "best", Label: "best " + name, Text: render.Length(w.Best, sys), Note: "usable " + render.Number(w.Least, sys) + " to " + render.Length(w.Greatest, sys)},
			{Key: "seats", Label: "they seat", Text: "from a groove " + render.Length(w.SeatsBelow, sys) + " deep on; earlier readings mean nothing"},
			{Key: "note", Label: "keep in mind", Text: w.Note},
		},
	}
}

func verdict(r gauge.Reading, v *gauge.Verdict, dial *lathe.Dial, sys unit.System) render.Section {
	sec := render.Section{
		ID: "verdict", Title: "Verdict",
		Figures: []render.Value{
			{Key: "words", Label: "verdict", Text: v.Standing.String(), Note: v.Words},
			{Key: "pitch", Label: "pitch diameter", Text: render.Length(v.Pitch, sys), Note: "right within " + render.Length(v.Expanded, sys) + " (95 %)"},
		},
		Facts: []render.Value{
			{Key: "limits", Label: "limits", Text: render.Number(v.Limits.Min, sys) + " to " + render.Length(v.Limits.Max, sys)},
			{Key: "read", Label: "reading", Text: render.Length(r.Mean(), sys) + readings(r)},
			{Key: "accept", Label: "can be claimed", Text: render.Number(v.Accept.Min, sys) + " to " + render.Length(v.Accept.Max, sys)},
			{Key: "inside", Label: "chance inside", Text: fmt.Sprintf("%.1f in 100", v.Conforms*100)},
		},
	}
	if v.Functional != v.Pitch && v.Functional > 0 {
		sec.Figures = append(sec.Figures, render.Value{Key: "functional", Label: "the mate feels", Text: render.Length(v.Functional, sys), Note: "pitch diameter with the errors of lead and flanks"})
	}
	if v.TakeOff.Middle > 0 {
		deeper := gauge.Radial(v.TakeOff.Middle)
		text := render.Length(v.TakeOff.Middle, sys) + " on the pitch diameter, " + render.Length(deeper, sys) + " deeper"
		note := ""
		if dial != nil {
			text, note = dial.Reading(dial.Round(deeper)).Text+" further in on the cross slide", text
		}
		sec.Figures = append(sec.Figures, render.Value{Key: "takeoff", Label: "take off", Text: text, Note: note})
	}
	t := &render.Table{Caption: "Where the uncertainty comes from", Head: []string{"from", "given", "share, " + shareUnit(sys)}}
	for i, c := range v.Budget {
		given := c.Given
		if c.Assumed {
			given += ", assumed"
		}
		t.Rows = append(t.Rows, render.Row{Key: fmt.Sprint("u", i), Cells: []string{c.Name, given, fmt.Sprintf("%.2f", shareIn(c.Share, sys))}})
	}
	sec.Table = t
	notes := render.Items{Title: "Keep in mind"}
	for _, n := range v.Notes {
		notes.Items = append(notes.Items, render.Item{Text: n.Text})
	}
	sec.Lists = append(sec.Lists, notes)
	return sec
}

// shareUnit is what a share of the uncertainty is counted in: thousandths of a
// millimetre, or tenths of a thousandth of an inch.
func shareUnit(sys unit.System) string {
	if sys == unit.Inches {
		return "0.0001 in"
	}
	return "µm"
}

func shareIn(l unit.Length, sys unit.System) float64 {
	if sys == unit.Inches {
		return l.MM() / 25.4 * 1e4
	}
	return l.MM() * 1000
}

// readings says that a reading is the mean of several.
func readings(r gauge.Reading) string {
	if n := len(r.Repeats); n > 0 {
		return fmt.Sprintf(", mean of %d", n)
	}
	return ""
}
