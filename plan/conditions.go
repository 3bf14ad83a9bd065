package plan

import (
	"fmt"
	"strings"

	"thrum/lathe"
	"thrum/unit"
)

// Known says how a condition of a cut is known.
type Known string

// Wanted was asked for by whoever planned; the program has chosen and worked out
// the others. Usual stands for a figure that nobody measured.
const (
	Wanted  Known = "asked for"
	Planned Known = "as planned"
	Usual   Known = "usual figure, not measured"
)

// Condition is one thing about a cut that may matter when two cuts are compared:
// its name, its value with the unit, and how it is known.
type Condition struct {
	Name  string
	Value string
	Unit  string
	Known Known
}

// Text is the value with its unit.
func (c Condition) Text() string { return strings.TrimSpace(c.Value + " " + c.Unit) }

// Conditions lists what a plan holds: what a trial that compares parts cut by two
// plans must find the same in both, except for the one thing that is changed on
// purpose. Lengths are in the plan's own units. What the plan does not know, such
// as which edge was used or which bar, must be written down by hand.
func (p *Plan) Conditions() []Condition {
	c := conditions{p: p}
	r := p.Request
	if la, err := lathe.Parse("lathe", []byte(r.Lathe)); err == nil {
		c.add("lathe", la.Name, "", Wanted)
	}
	c.add("thread", p.Thread.Designation, "", Wanted)
	c.add("material", c.material(), "", Wanted)
	c.length("diameter", p.Work.Blank.Target, Planned)
	c.length("stick-out", p.Work.Stickout, c.how(r.Stickout != 0, "stick"))
	c.length("length of thread", p.Work.Length, Wanted)
	c.add("centre", yesNo(p.Work.Centre), "", Wanted)
	c.add("tool", p.Tool.Material+", "+p.Tool.Profile, "", c.how(r.ToolMaterial != "" || r.ToolProfile != "", ""))
	if r.Edge != "" {
		c.add("edge preparation", r.Edge, "", Wanted)
	}
	if p.Tool.Flat > 0 {
		c.length("flat at the tip", p.Tool.Flat, c.how(r.TipFlat != 0, "tool"))
	}
	if p.Tool.Radius > 0 {
		c.length("radius at the tip", p.Tool.Radius, c.how(r.TipRadius != 0, "tool"))
	}
	c.add("infeed", p.Swing.Method, "", c.how(r.Infeed != "", ""))
	if p.Swing.Angle != 0 {
		c.add("compound", fmt.Sprintf("%.4g", p.Swing.Angle.Degrees()), "degrees", c.how(r.Angle != 0, ""))
	}
	c.add("spindle speed", fmt.Sprintf("%.4g", p.Speed.RPM.RPM()), "rpm", c.how(r.RPM != 0, ""))
	c.add("drive", driveWords(p.Speed.BackGear), "", Planned)
	if p.Speed.Finish > 0 {
		c.add("speed of the last passes", fmt.Sprintf("%.4g", p.Speed.Finish.RPM()), "rpm", c.how(r.FinishRPM != 0, ""))
	}
	c.add("oil", p.Speed.Oil, "", Planned)
	c.passes()
	c.add("end of each pass", p.Stopping.Method, "", c.how(r.Ending != "", ""))
	if len(p.Gears) > 0 {
		c.add("gears", strings.Join(append(c.levers(p.Gears[0]), wheels(p.Gears[0].Wheels)...), " "), "", Planned)
	}
	return c.list
}

type conditions struct {
	p    *Plan
	list []Condition
}

func (c *conditions) add(name, value, unit string, k Known) {
	if value != "" {
		c.list = append(c.list, Condition{name, value, unit, k})
	}
}

func (c *conditions) length(name string, l unit.Length, k Known) {
	if l <= 0 {
		return
	}
	if c.p.Request.Units == unit.Inches {
		c.add(name, fmt.Sprintf("%.4f", l.Inches()), "in", k)
		return
	}
	c.add(name, fmt.Sprintf("%.3f", l.MM()), "mm", k)
}

// how tells what was asked for from what the plan chose, and that from a usual figure
// that the plan itself lists as an assumption.
func (c *conditions) how(asked bool, about string) Known {
	if asked {
		return Wanted
	}
	for _, a := range c.p.Assumptions {
		if about != "" && strings.Contains(strings.ToLower(a.About), about) {
			return Usual
		}
	}
	return Planned
}

func (c *conditions) material() string {
	if c.p.Request.Material != "" {
		return c.p.Request.Material
	}
	for _, line := range strings.Split(c.p.Request.Own, "\n") {
		if key, v, ok := strings.Cut(line, "="); ok && strings.TrimSpace(key) == "name" {
			return strings.Trim(strings.TrimSpace(v), `"'`)
		}
	}
	return ""
}

// passes says how many passes cut and how many only spring, and the largest infeed.
func (c *conditions) passes() {
	cut, spring := 0, 0
	var most unit.Length
	for _, p := range c.p.Passes {
		if p.Spring {
			spring++
			continue
		}
		cut++
		most = max(most, p.Infeed)
	}
	if cut == 0 {
		return
	}
	c.add("passes", fmt.Sprint(cut), "", Planned)
	c.add("spring passes", fmt.Sprint(spring), "", Planned)
	c.length("largest infeed", most, c.how(c.p.Request.MaxDepth != 0, ""))
}

func (c *conditions) levers(g GearChoice) []string {
	if g.Levers == "" {
		return nil
	}
	return []string{g.Levers}
}

func wheels(teeth []int) []string {
	var out []string
	for _, t := range teeth {
		out = append(out, fmt.Sprint(t))
	}
	return out
}

func driveWords(backGear bool) string {
	if backGear {
		return "back gear"
	}
	return "belt"
}

func yesNo(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}
