package piece

import (
	"fmt"
	"math"
	"strings"

	"thrum/plan"
	"thrum/unit"
)

// The kinds of step.
const (
	Gate   = "gate"   // before pass 1
	Cut    = "pass"   // one pass
	Finish = "finish" // after the last pass
)

// The gates, in their order, and the last step.
const (
	GateSetup   = "setup"
	GateZero    = "zero"
	GateAir     = "air"
	GateScratch = "scratch"
	StepFinish  = "finish"
)

// PassID is the name of a pass among the steps.
func PassID(n int) string { return fmt.Sprintf("pass-%d", n) }

// Dial says where the dial of a slide is to stand.
type Dial struct {
	Slide string `json:"slide"` // "CROSS", "COMPOUND"
	To    string `json:"to"`    // "1 turn + .031 in", "0"
	Kind  string `json:"kind"`  // "direct dial", "diameter dial"
}

// Line is one thing to do, with the check that ends it.
type Line struct {
	Do    string `json:"do"`
	Check string `json:"check,omitempty"`
	Cure  string `json:"cure,omitempty"` // what helps against a hazard
}

// Fact is a figure with its name.
type Fact struct {
	Label string `json:"label"`
	Text  string `json:"text"`
	Note  string `json:"note,omitempty"`
}

// Step is one thing to confirm.
type Step struct {
	ID      string   `json:"id"`
	Kind    string   `json:"kind"`
	Title   string   `json:"title"` // "Zero the dials", "Pass 3 of 15"
	N       int      `json:"n,omitempty"`
	Of      int      `json:"of,omitempty"`
	Dials   []Dial   `json:"dials,omitempty"` // in the order in which they are wound
	Facts   []Fact   `json:"facts,omitempty"`
	End     string   `json:"end,omitempty"`     // how the pass ends
	Room    string   `json:"room,omitempty"`    // "0.93 s = 3.1 turns"
	Clear   string   `json:"clear,omitempty"`   // which way the tool is withdrawn
	Lines   []Line   `json:"lines,omitempty"`   // of a gate
	Sure    []string `json:"sure,omitempty"`    // to tick before it may be confirmed
	Wrong   string   `json:"wrong,omitempty"`   // the other answer of the scratch gate
	Confirm string   `json:"confirm"`           // the words on the button
	Then    string   `json:"then"`              // what is known once it is confirmed
	Before  string   `json:"before,omitempty"`  // where the dials stood before it
	Measure bool     `json:"measure,omitempty"` // stop and measure after this pass
	First   bool     `json:"first,omitempty"`   // measure before this step
	Expect  string   `json:"expect,omitempty"`  // reading before this step if nothing has yielded
	Left    string   `json:"left,omitempty"`    // still to feed before this step, as the dial counts it
}

// Link is a plan and the number of passes that were cut when it came into force.
type Link struct {
	Plan  *plan.Plan
	After int
	Fresh bool // both dials were zeroed in the groove just before
	Same  bool // the passes of the one before it; only how a pass ends is reckoned anew
}

// Steps lists what is to be confirmed for a piece, from the plan it was begun with
// and those that replaced it. A blocked plan has no steps.
func Steps(chain []Link) []Step {
	if len(chain) == 0 || len(chain[0].Plan.Blocked()) > 0 {
		return nil
	}
	first, now := chain[0].Plan, chain[len(chain)-1]
	for _, l := range chain { // newer air passes, taken before pass 1, change what the gates say
		if l.After == 0 {
			first = l.Plan
		}
	}
	steps := gates(first)
	of := now.After
	if n := len(now.Plan.Passes); n > 0 {
		of = now.Plan.Passes[n-1].N
	}
	stood, measure := where(nil, first), false
	var table Table
	for i, l := range chain {
		until := math.MaxInt
		for _, later := range chain[i+1:] {
			until = min(until, later.After)
		}
		if l.Fresh {
			stood = "both dials at 0, set in the groove"
		}
		if len(l.Plan.Passes) > 0 {
			table = TableOf(l.Plan)
		}
		for _, p := range l.Plan.Passes {
			if p.N > until {
				break
			}
			s := passStep(l.Plan, p, of)
			s.Before, s.First = stood, measure
			s.Expect, s.Left = table.before(p.Depth - p.Infeed)
			stood, measure = where(&p, l.Plan), p.Measure
			s.Then = fmt.Sprintf("pass %d cut, %s", p.N, stood)
			steps = append(steps, s)
		}
		measure = measure && (i+1 == len(chain) || chain[i+1].Same) // a new plan answers a reading or a fresh start
	}
	last := finish(now.Plan)
	last.First = measure
	last.Expect, last.Left = table.before(table.full)
	return append(steps, last)
}

// where says in words where the dials stand after a pass; nil is the zero.
func where(p *plan.Pass, of *plan.Plan) string {
	if p == nil {
		return "CROSS at 0, COMPOUND at 0"
	}
	if of.Swing.Method == "straight" || p.Cross.Slide > 0 && p.Compound.Slide == 0 {
		return "CROSS at " + p.Cross.Text
	}
	if p.Cross.Slide > 0 {
		return "COMPOUND at " + p.Compound.Text + ", CROSS at " + p.Cross.Text
	}
	return "COMPOUND at " + p.Compound.Text
}

func dial(slide string, r plan.Reading) Dial {
	return Dial{slide, strings.TrimSuffix(r.Text, " ("+r.Kind+")"), r.Kind}
}

// passStep describes one pass as it is shown at the lathe.
func passStep(p *plan.Plan, ps plan.Pass, of int) Step {
	sys := p.Request.Units
	s := Step{
		ID: PassID(ps.N), Kind: Cut, Title: fmt.Sprintf("Pass %d of %d", ps.N, of), N: ps.N, Of: of,
		Dials: []Dial{dial("CROSS", ps.Cross), dial("COMPOUND", ps.Compound)},
		End:   p.Stopping.Words, Room: room(p, ps.RPM), Clear: clearWords(p),
		Confirm: "Back at the start, nuts open: pass cut", Measure: ps.Measure,
	}
	if !canOpen(p) {
		s.Confirm = "Back at the start: pass cut"
	}
	if ps.Spring {
		s.Title += ", spring pass"
	}
	takes := Fact{"takes", ps.Infeed.Format(sys, places(sys)), ps.GovernedBy}
	if ps.Spring {
		takes.Text = "what sprang away"
	}
	s.Facts = []Fact{takes, {"spindle", fmt.Sprintf("%.4g rpm", ps.RPM.RPM()), setting(p, ps.RPM)}, {"dial line", p.Dial.Rule, ""}}
	return s
}

// canOpen tells whether the half nuts are open when the tool is back at the start.
func canOpen(p *plan.Plan) bool {
	switch p.Stopping.Method {
	case plan.EndOpen, plan.EndPullOut, plan.EndKickOut:
		return !p.Dial.Closed
	}
	return false
}

func setting(p *plan.Plan, rpm unit.Rotation) string {
	if rpm == p.Speed.Finish && rpm != p.Speed.RPM {
		return p.Speed.FinishHow
	}
	return p.Speed.Setting
}

// room is what lies between the last full thread and what may be run into, as time
// and turns at the speed of a pass.
func room(p *plan.Plan, rpm unit.Rotation) string {
	v := rpm.Feed(p.Thread.Lead)
	if p.Stopping.Available <= 0 || v <= 0 {
		return "nothing in the way"
	}
	return fmt.Sprintf("%.2f s = %.1f turns", float64(p.Stopping.Available)/float64(v), float64(p.Stopping.Available)/float64(p.Thread.Lead))
}

func clearWords(p *plan.Plan) string {
	if p.Thread.Internal {
		return "CROSS in, away from you, off the thread"
	}
	return "CROSS out, towards you"
}

func places(sys unit.System) int {
	if sys == unit.Inches {
		return 4
	}
	return 3
}

// gates are what is confirmed before pass 1.
func gates(p *plan.Plan) []Step {
	setup := Step{ID: GateSetup, Kind: Gate, Title: "Look the set-up over", Confirm: "The lathe is set like this", Then: "the set-up looked over"}
	for _, h := range p.Hazards {
		if h.Level != plan.Caution {
			setup.Lines = append(setup.Lines, Line{Do: h.Text, Cure: strings.Join(h.Cures, "; ")})
		}
	}
	if len(p.Gears) > 0 {
		g := p.Gears[0]
		words := strings.Join(g.Words, "; ")
		if g.Levers != "" {
			words = "levers " + g.Levers + "; " + words
		}
		setup.Facts = append(setup.Facts, Fact{"gears", words, ""})
	}
	setup.Facts = append(setup.Facts,
		Fact{"dial line", p.Dial.Rule, p.Dial.Detail},
		Fact{"compound", p.Swing.ScaleReads, p.Swing.Direction},
		Fact{"spindle", fmt.Sprintf("%.4g rpm", p.Speed.RPM.RPM()), p.Speed.Setting},
		Fact{"blank", p.Work.Blank.Target.Format(p.Request.Units, places(p.Request.Units)), "diameter"},
	)
	setup.Sure = []string{"eye protection on, chuck key out, guards closed", "tool at centre height, square to the work"}
	zero := Step{
		ID: GateZero, Kind: Gate, Title: "Zero the dials", Lines: lines(p.Routine.Zero),
		Confirm: "Blank touched, both dials at 0", Then: "CROSS at 0, COMPOUND at 0 on the blank",
	}
	air := Step{
		ID: GateAir, Kind: Gate, Title: "A pass in air", Lines: lines(p.Routine.Air), End: p.Stopping.Words,
		Room: room(p, p.Speed.RPM), Clear: clearWords(p), Confirm: "Back at the start: it ended with room to spare", Then: "a pass in air, ended with room to spare",
	}
	scratch := Step{
		ID: GateScratch, Kind: Gate, Title: "The scratch pass", Lines: lines(p.Routine.Scratch),
		Confirm: "It counts right: on to pass 1", Wrong: "It does not count right", Then: "the scratch pass counted",
	}
	for _, l := range p.Routine.Scratch {
		if strings.Contains(l.Check, "turns of the helix") {
			count, _, _ := strings.Cut(l.Check, ";")
			scratch.Sure = []string{"counted: " + count}
		}
	}
	return []Step{setup, zero, air, scratch}
}

func finish(p *plan.Plan) Step {
	return Step{ID: StepFinish, Kind: Finish, Title: "Finish and check", Lines: lines(p.Finish), Confirm: "This piece is done", Then: "the piece is done"}
}

func lines(all []plan.Step) []Line {
	var out []Line
	for _, s := range all {
		out = append(out, Line{Do: s.Do, Check: s.Check})
	}
	return out
}

// Pickup lists how the thread is picked up again, for the phone: the plan's own
// procedure, with the bench planning what is left.
func Pickup(p *plan.Plan) []Line {
	out := lines(p.Routine.Again)
	for i := range out {
		out[i].Do, _, _ = strings.Cut(out[i].Do, "; take the remaining passes from a fresh plan")
	}
	return out
}
