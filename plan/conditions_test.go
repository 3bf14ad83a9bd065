package plan

import (
	"fmt"
	"slices"
	"testing"

	"thrum/unit"
)

// A request that differs in one thing gives conditions that differ in that thing and
// in what a lathe cannot change without it.
func TestConditionsShowWhatChanged(t *testing.T) {
	base := exampleRequest(t)
	for _, c := range []struct {
		what   string
		change func(*Request)
		must   []string // named as changed
		mayNot []string // held
	}{
		{"centre", func(r *Request) { r.Centre = true }, []string{"centre"}, []string{"thread", "material", "stick-out", "spindle speed", "oil"}},
		{"speed", func(r *Request) { r.RPM = 115 }, []string{"spindle speed"}, []string{"thread", "centre", "stick-out", "infeed"}},
		{"infeed", func(r *Request) { r.Infeed = "straight" }, []string{"infeed"}, []string{"thread", "centre", "material"}},
		{"stick-out", func(r *Request) { r.Stickout = 3 * unit.Inch }, []string{"stick-out"}, []string{"thread", "centre", "material", "length of thread"}},
		{"tool", func(r *Request) { r.ToolMaterial = "carbide" }, []string{"tool"}, []string{"thread", "centre", "material"}},
	} {
		other := base
		c.change(&other)
		a, b := byName(t, mustMake(t, base)), byName(t, mustMake(t, other))
		for _, name := range c.must {
			if a[name].Text() == b[name].Text() {
				t.Errorf("%s: %s is %q in both", c.what, name, a[name].Text())
			}
		}
		for _, name := range c.mayNot {
			if a[name].Text() != b[name].Text() || a[name].Text() == "" {
				t.Errorf("%s: %s is %q and %q", c.what, name, a[name].Text(), b[name].Text())
			}
		}
	}
}

func byName(t *testing.T, p *Plan) map[string]Condition {
	t.Helper()
	all := map[string]Condition{}
	for _, c := range p.Conditions() {
		if _, twice := all[c.Name]; twice || c.Value == "" {
			t.Errorf("condition %+v is there twice or empty", c)
		}
		all[c.Name] = c
	}
	return all
}

// How each is known: asked for, planned, or a usual figure.
func TestConditionsSayHowTheyAreKnown(t *testing.T) {
	r := exampleRequest(t)
	p := mustMake(t, r)
	all := byName(t, p)
	for name, want := range map[string]Known{"thread": Wanted, "stick-out": Wanted, "spindle speed": Planned, "infeed": Planned, "flat at the tip": Usual} {
		if all[name].Known != want {
			t.Errorf("%s is %q, want %q", name, all[name].Known, want)
		}
	}
	if got, want := all["spindle speed"].Text(), fmt.Sprintf("%.4g rpm", p.Speed.RPM.RPM()); got != want {
		t.Errorf("spindle speed %q, want %q", got, want)
	}
	if got := all["stick-out"].Text(); got != "2.0000 in" {
		t.Errorf("stick-out %q", got)
	}
	r.Stickout, r.RPM = 0, p.Speed.RPM
	all = byName(t, mustMake(t, r))
	if all["stick-out"].Known != Usual || all["spindle speed"].Known != Wanted {
		t.Errorf("%+v %+v", all["stick-out"], all["spindle speed"])
	}
	if !slices.ContainsFunc(p.Conditions(), func(c Condition) bool { return c.Name == "gears" }) {
		t.Error("no gears")
	}
}
