package plan

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"thrum/cut"
	"thrum/lathe"
	"thrum/thread"
	"thrum/unit"
	"thrum/vibe"
)

// Make plans one thread. The error lists every fault of the request at once, each
// as a *unit.InputError. A set-up that is dangerous on this lathe is not an
// error: the plan comes back with a Forbidden hazard and without passes.
func Make(r Request) (*Plan, error) {
	b, err := newBuilder(r)
	if err != nil {
		return nil, err
	}
	return b.make()
}

func (b *builder) make() (*Plan, error) {
	// The order follows what depends on what, not the order of the sheet.
	for _, step := range []func() error{
		b.facts, b.limits, b.tool, b.blank, b.setting, b.gears, b.dial, b.speedAndStopping, b.swing,
		b.wires, b.holding, b.taperSteps, b.resumed, b.schedule, b.knownLines, b.routine, b.finish,
	} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	b.hazards()
	return b.plan, nil
}

// builder carries the parsed inputs and the plan as it grows.
type builder struct {
	req  Request
	th   thread.Thread
	la   *lathe.Lathe
	mat  cut.Material
	plan *Plan

	train    *lathe.Train // the first choice, nil when there is none
	profile  cut.Tool     // the tool as the chip geometry sees it
	surface  unit.Length  // diameter of the blank's surface where the depth is counted from
	tipDepth unit.Length  // depth of the tip below that surface at the size aimed at

	force *cut.Force // as the passes were planned with
	chips []cut.Chip // of the passes, in their order

	rubbing vibe.Process // of the edge, as fitted; zero means what is found in print

	// Where the cutting goes on from, when passes were already taken.
	done      int         // passes taken
	cutTo     unit.Length // depth really reached
	dialAhead unit.Length // what the dial shows beyond the depth really reached
	resume    func() error
}

// resumed takes up a thread in work; for a new one there is nothing to do.
func (b *builder) resumed() error {
	if b.resume == nil {
		return nil
	}
	return b.resume()
}

func newBuilder(r Request) (*builder, error) { return newBuilderWith(r, readLathe) }

func newBuilderWith(r Request, read func(string) (*lathe.Lathe, error)) (*builder, error) {
	if err := r.Validate(); err != nil {
		return nil, err
	}
	th, errT := r.thread()
	la, errL := read(r.Lathe)
	mat, errM := material(r)
	var errC error
	if errT == nil && r.Centre && th.Side == thread.Internal {
		errC = &unit.InputError{Field: "centre", Value: th.Designation, Reason: "is in the way of an internal thread: the bar goes in where the centre would stand", Hint: "leave the centre out; a steady rest holds long work"}
	}
	if err := errors.Join(errT, errL, errM, errC); err != nil {
		return nil, err
	}
	if r.Internal { // nothing is assumed of what was said
		th.Notes = slices.DeleteFunc(slices.Clone(th.Notes), func(n thread.Note) bool { return n.Assumed && strings.Contains(n.Text, "external or internal") })
	}
	p := &Plan{Schema: Schema, Engine: Engine, Request: r, Spec: th}
	b := &builder{req: r, th: th, la: la, mat: mat, plan: p}
	if b.fromChuck() { // the flank that leads towards the headstock trails on the way back
		b.th.Form = th.Form.Mirror()
	}
	return b, nil
}

func material(r Request) (cut.Material, error) {
	if r.Own != "" {
		return ownMaterial(r)
	}
	if r.Material == "" {
		return cut.Material{}, &unit.InputError{
			Field: "material", Value: "", Reason: "is missing",
			Hint: `name it as the workshop does: "1018", "12L14", "4140 annealed", "6061", "360 brass"`,
		}
	}
	return cut.FindMaterial(r.Material)
}

// ownMaterial reads the user's own materials and takes the one that is named, or
// the only one.
func ownMaterial(r Request) (cut.Material, error) {
	own, err := cut.ReadMaterials("material", strings.NewReader(r.Own))
	if err != nil {
		return cut.Material{}, err
	}
	if r.Material == "" && len(own) == 1 {
		return own[0], nil
	}
	return cut.FindMaterial(r.Material, own...)
}

func (b *builder) internal() bool { return b.th.Side == thread.Internal }

// len prints a length in the sheet's system with the places that suit it.
func (b *builder) len(l unit.Length) string { return b.num(l) + " " + b.req.Units.String() }

// short is len without the noughts at the end: for a figure to set, not to compare.
func (b *builder) short(l unit.Length) string {
	n := b.num(l)
	if strings.Contains(n, ".") {
		n = strings.TrimRight(strings.TrimRight(n, "0"), ".")
	}
	return n + " " + b.req.Units.String()
}

func (b *builder) num(l unit.Length) string {
	if b.req.Units == unit.Inches {
		return l.Number(unit.Inches, 4)
	}
	return l.Number(unit.Metric, 3)
}

func (b *builder) reason(about, source, format string, args ...any) {
	b.plan.Reasons = append(b.plan.Reasons, Reason{About: about, Text: fmt.Sprintf(format, args...), Source: source})
}

// assume records an assumption, once however often it is made.
func (b *builder) assume(about, replace string, harm bool, format string, args ...any) {
	a := Assumption{About: about, Text: fmt.Sprintf(format, args...), Replace: replace, Harm: harm}
	if !slices.Contains(b.plan.Assumptions, a) {
		b.plan.Assumptions = append(b.plan.Assumptions, a)
	}
}

func (b *builder) hazard(level Level, text string, cures ...string) {
	b.plan.Hazards = append(b.plan.Hazards, Hazard{Level: level, Text: text, Cures: cures})
}
