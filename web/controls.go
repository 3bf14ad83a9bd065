package web

import (
	"context"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"thrum/cut"
	"thrum/lathe"
	"thrum/plan"
	"thrum/render"
)

// control is one choice of the form, beside the figures that it drives.
type control struct {
	Name, Label string
	Kind        string // "text", "select", "check"
	Value       string
	Checked     bool
	Options     []option
	Hint        string // what may be written
	Extra       string // beside the label: what the plan chose
	Number      bool   // a numeric keypad suits
	Broad       bool   // takes the whole width
	Faults      []fault
}

type option struct {
	Value, Label string
	Chosen       bool
	Group        string
}

// group is the controls of one section: those always seen and those behind "more".
type group struct {
	Shown, More []control
	Open        bool // one of More is set or at fault
}

// form makes the controls from the query, so that what was typed is never lost.
type form struct {
	q      url.Values
	faults map[string][]fault
	lathes []string
	own    []string
	table  []string
	lathe  *lathe.Lathe // nil when it cannot be read
}

func (s *Server) form(ctx context.Context, q url.Values, faults []fault) (*form, error) {
	f := &form{q: q, faults: map[string][]fault{}}
	for _, ft := range faults {
		f.faults[ft.Field] = append(f.faults[ft.Field], ft)
	}
	var err error
	if f.lathes, err = s.library.latheNames(ctx); err != nil {
		return nil, err
	}
	if f.own, f.table, err = s.library.materialNames(ctx); err != nil {
		return nil, err
	}
	if text, err := s.library.lathe(ctx, q.Get("lathe")); err == nil {
		f.lathe, _ = lathe.Parse(q.Get("lathe"), []byte(text))
	}
	return f, nil
}

func (f *form) text(name, label, hint string) control {
	return control{Name: name, Label: label, Kind: "text", Value: f.q.Get(name), Hint: hint, Faults: f.faults[name]}
}

func (f *form) number(name, label, hint string) control {
	c := f.text(name, label, hint)
	c.Number = true
	return c
}

func (f *form) check(name, label string) control {
	v := f.q.Get(name)
	on := v == "yes" || v == "on" || v == "1" || v == "true"
	return control{Name: name, Label: label, Kind: "check", Checked: on, Faults: f.faults[name]}
}

// choose makes a list. A value that is not in it stays in it, so that a mistyped
// address keeps what was typed.
func (f *form) choose(name, label, empty string, opts ...option) control {
	c := control{Name: name, Label: label, Kind: "select", Value: f.q.Get(name), Faults: f.faults[name]}
	if empty != "" {
		c.Options = append(c.Options, option{Label: empty, Chosen: c.Value == ""})
	}
	found := c.Value == ""
	for _, o := range opts {
		o.Chosen = o.Value == c.Value && !found || o.Value == c.Value
		found = found || o.Chosen
		c.Options = append(c.Options, o)
	}
	if !found {
		c.Options = append(c.Options, option{Value: c.Value, Label: short(c.Value, 40) + " (not known)", Chosen: true})
	}
	return c
}

// settle chooses the option that a value is another name of, and takes the entry
// that was made for the unknown value away again.
func (c *control) settle(nameOf func(string) string) {
	name := nameOf(c.Value)
	if name == c.Value || len(c.Options) == 0 {
		return
	}
	for i := range c.Options {
		if c.Options[i].Value == name {
			c.Options[i].Chosen = true
			c.Options = slices.DeleteFunc(c.Options, func(o option) bool { return o.Value == c.Value })
			return
		}
	}
}

func plainOptions(values ...string) []option {
	var out []option
	for _, v := range values {
		out = append(out, option{Value: v, Label: v})
	}
	return out
}

// part is the group at the head of the sheet: what one must know.
func (f *form) part() group {
	mats := plainOptions(f.own...)
	for i := range mats {
		mats[i].Group = "the shop's own"
	}
	for _, m := range f.table {
		mats = append(mats, option{Value: m, Label: m, Group: "table"})
	}
	material := f.choose("material", "Material", "choose", mats...)
	material.settle(func(v string) string {
		m, err := cut.FindMaterial(v)
		if err != nil {
			return v
		}
		return m.Name
	})
	return group{Shown: []control{
		f.text("callout", "Thread", "as on the drawing: 1/2-13 UNC-2A, M10x1.5-6g"),
		f.choose("lathe", "Lathe", "choose", plainOptions(f.lathes...)...),
		material,
		f.number("length", "Length of full thread", "1in, 25mm, 1-3/8in"),
		f.number("stickout", "Stands out of the chuck", "from the jaws to the end of the part"),
		f.check("centre", "Tailstock centre"),
		f.choose("units", "Figures in", "the thread's own", option{Value: "mm", Label: "millimetres"}, option{Value: "in", Label: "inches"}),
	}}
}

// sections gives each section of the sheet its choices.
func (f *form) sections() map[string]group {
	all := map[string]group{
		"thread": {More: []control{
			f.check("internal", "Internal, where the callout does not say"),
			f.text("wires", "Wires at hand", ".040in, .045in, .050in"),
			f.number("plating", "Plating to come, per surface", "8um, .0003in"),
			f.check("after-plating", "The drawing's limits hold after plating"),
		}},
		"ending": {Shown: []control{f.ending(), f.number("relief", "Relief, width", "room beyond the last full thread")}, More: []control{
			f.number("relief-diameter", "Relief, diameter", "as on the drawing"),
			f.check("open-end", "Nothing in the way beyond the thread"),
			f.check("away", "Cut away from the chuck"),
			f.text("air-passes", "Your air passes, seconds late", "0.21, 0.35, miss, 0.28"),
			f.number("risk", "Accepted chance that one pass overruns", "0.001 is one part in a thousand"),
		}},
		"gears": {More: []control{f.number("train", "Another of the ways to gear it", "2, 3 or 4, as the sheet lists them")}},
		"blank": {More: []control{f.number("bore", "Hole through the part", "diameter")}},
		"tool": {
			Shown: []control{
				f.choose("infeed", "Infeed", "choose for me", option{Value: "straight", Label: "straight in"}, option{Value: "flank", Label: "along the flank"},
					option{Value: "modified", Label: "just inside the flank"}, option{Value: "alternating", Label: "alternating flanks"}),
				f.choose("tool", "Tool", "HSS", option{Value: "carbide", Label: "carbide"}),
			},
			More: []control{
				f.number("angle", "Compound from the cross-slide line, degrees", "29.5"),
				f.choose("profile", "Profile", "partial", option{Value: "full", Label: "full"}),
				f.number("tip-flat", "Flat at the tip", ".010in, 0.2mm"),
				f.number("tip-radius", "Radius at the tip", "instead of a flat"),
				f.choose("edge", "Cutting edge", "usual for the tool", plainOptions("stoned", "ground", "honed", "sharp")...),
				f.number("bar-diameter", "Boring bar, diameter", "internal threads"),
				f.number("bar-overhang", "Boring bar, overhang", "internal threads"),
			},
		},
		"speed": {Shown: []control{f.rpm("rpm", "Spindle speed", "choose for me")}, More: []control{
			f.rpm("finish-rpm", "Speed of the last passes", "the same"),
			f.text("knock", "Rings at, without the centre", "from a knock test: 412 Hz 2.1 %"),
			f.text("knock-centre", "Rings at, with the centre", "several separated by semicolons"),
		}},
		"finish": {More: []control{
			f.text("own-cuts", "What your own cuts left", "rpm and what each pass left of the last: 200: 1.4, 115: 0.8"),
			f.text("rubbing", "Rubbing of the edge, N/m", "as fitted before: 7e4, 1.1e5, 1.8e5"),
		}},
		"passes": {More: []control{f.number("max-infeed", "Largest infeed of one pass", ".008in, 0.2mm")}},
	}
	for id, g := range all {
		for _, c := range g.More {
			g.Open = g.Open || c.Value != "" || c.Checked || len(c.Faults) > 0
		}
		all[id] = g
	}
	return all
}

func (f *form) ending() control {
	var opts []option
	for _, e := range plan.Endings() {
		opts = append(opts, option{Value: e, Label: render.EndingWords(e)})
	}
	return f.choose("ending", "End each pass by", "choose for me", opts...)
}

func (f *form) rpm(name, label, empty string) control {
	if f.lathe == nil {
		return f.number(name, label, "rpm")
	}
	var opts []option
	for _, s := range speeds(f.lathe) {
		v := strings.TrimSpace(fmt.Sprintf("%.6g", s.RPM.RPM()))
		opts = append(opts, option{Value: v, Label: v + " rpm, " + s.Label})
	}
	return f.choose(name, label, empty, opts...)
}
