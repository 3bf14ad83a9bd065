package plan

import (
	"context"
	"fmt"
	"math"
	"slices"
	"strings"

	"thrum/vibe"
)

// Remedy is one change against vibration or torn flanks, with what it is predicted
// to do. Predictions are those of the sheet that the changed request gives; nothing
// is added up from rules.
type Remedy struct {
	Name     string    `json:"name"`               // "last passes"
	Do       string    `json:"do"`                 // "cut the last 4 passes at 115 rpm"
	Settings []Setting `json:"settings,omitempty"` // what changes in the request; none where the request has no word for it

	Verdict   string   `json:"verdict"`
	CarryOver Doubtful `json:"carry_over"` // of the worst pass
	Growth    Doubtful `json:"growth"`     // over the whole schedule
	Mesh      *Mesh    `json:"mesh,omitempty"`
	Tearing   string   `json:"tearing"` // chance of torn flanks after the change
	Passes    int      `json:"passes"`

	Helps bool        `json:"helps"`
	Holds *vibe.Share `json:"holds,omitempty"` // of the plausible cases in which waves grow as planned: it helps
	Marks *vibe.Share `json:"marks,omitempty"` // of all plausible cases: marks remain

	Size    string `json:"size,omitempty"`    // what it costs in size
	Warning string `json:"warning,omitempty"` //

	Request Request `json:"-"` // as planned with the change
}

// Setting is a value of the request under the name that the command's flag has.
type Setting struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}

// Flag is the setting as the command takes it: "--rpm 115", "--centre".
func (s Setting) Flag() string {
	if s.Value == "yes" {
		return "--" + s.Name
	}
	if strings.ContainsAny(s.Value, " \t") {
		return fmt.Sprintf("--%s %q", s.Name, s.Value)
	}
	return "--" + s.Name + " " + s.Value
}

// Mesh is what becomes of the waves of wheels in mesh.
type Mesh struct {
	Name   string  `json:"name"`
	Growth float64 `json:"growth"`
}

// Words say what a remedy is predicted to do.
func (r Remedy) Words() string {
	if r.Name == RemedyOil {
		return ""
	}
	text := fmt.Sprintf("each pass then leaves %s the last; the worst wave ends %s times as high as it starts", TimesOf(r.CarryOver), vibe.Times(r.Growth.Likely))
	if r.Mesh != nil {
		text += fmt.Sprintf("; those of %s %s times", r.Mesh.Name, vibe.Times(r.Mesh.Growth))
	}
	if r.Holds != nil && r.Holds.Of > 0 {
		text += fmt.Sprintf("; helps in %.0f of 100 cases in which waves grow (%.0f to %.0f)", 100*r.Holds.Share, math.Floor(100*r.Holds.Low), math.Ceil(100*r.Holds.High))
	}
	if r.Marks != nil {
		text += fmt.Sprintf("; marks remain in %.0f of 100", 100*r.Marks.Share)
	}
	return text
}

// Names of the remedies, cheapest first.
const (
	RemedySpeed    = "speed"
	remedyLast     = "last passes"
	remedyCentre   = "centre"
	remedyStickout = "stick-out"
	RemedyInfeed   = "infeed"
	remedyEdge     = "edge"
	RemedyOil      = "oil" // against tearing alone
	remedyTrain    = "gear train"
	remedyLighter  = "lighter passes"
	remedySpring   = "spring passes"
)

// trial is a remedy before it is predicted.
type trial struct {
	Remedy
	request Request
}

// Remedies predicts what each change would do, cheapest first: another speed, the
// last cutting passes at another speed, the centre, a shorter stick-out, another
// infeed, another edge, oil, another gear train; and for two that are often tried,
// lighter passes and spring passes, why they help or not. cases are how many
// plausible cases each is held against, zero for none.
func (s *Study) Remedies(ctx context.Context, cases int, seed uint64) ([]Remedy, error) {
	if s.a == nil {
		return nil, nil
	}
	drawn := vibe.Cases(seed, min(max(cases, 0), mostCases))
	var before []vibe.Figures
	var err error
	if len(drawn) > 0 {
		if before, err = s.draw(ctx, drawn); err != nil {
			return nil, err
		}
	}
	out := []Remedy{}
	for _, find := range []func() (trial, bool){s.otherSpeed, s.otherLast, s.useCentre, s.shorter, s.otherInfeed, s.otherEdge, s.useOil, s.otherTrain, s.lighter, s.springPasses} {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		t, ok := find()
		if !ok {
			continue
		}
		r, err := s.predict(ctx, t, drawn, before)
		if err != nil {
			return nil, err
		}
		if r != nil {
			out = append(out, *r)
		}
	}
	s.Plan.Vibration.Remedies = out
	return out, nil
}

// whatIf is a changed request planned and assessed, without what a sheet has beyond
// that. It is nil where the change cannot be planned or is blocked.
func (s *Study) whatIf(r Request) *Study {
	b, err := newBuilderWith(r, s.b.reread)
	if err != nil {
		return nil
	}
	p, err := b.make()
	if err != nil || len(p.Passes) == 0 {
		return nil
	}
	t := &Study{Plan: p, b: b, in: b.passInput()}
	if t.in.Process, err = b.process(t.in); err != nil {
		return nil
	}
	b.rubbing = t.in.Process
	t.in.HasCentre = r.Centre
	if t.in.Holding = s.sameHolding(t); t.in.Holding == nil {
		if t.in.Holding, err = b.held(r.Centre, asHeld, b.stations(), vibe.Prepare); err != nil {
			return nil
		}
	}
	if t.a, err = vibe.Assess(t.in); err != nil {
		return nil
	}
	return t
}

// sameHolding returns a holding that was prepared before and fits the changed plan.
func (s *Study) sameHolding(t *Study) *vibe.Holding {
	a, b := s.b, t.b
	same := a.plan.Work.Stickout == b.plan.Work.Stickout && a.plan.Work.Length == b.plan.Work.Length && a.tipDepth == b.tipDepth &&
		a.plan.Work.ReliefWidth == b.plan.Work.ReliefWidth && a.plan.Work.ReliefDia == b.plan.Work.ReliefDia && !a.internal()
	switch {
	case same && a.req.Centre == b.req.Centre:
		return s.in.Holding
	case same:
		return s.in.Other
	}
	return nil
}

// predict works out what a change would do; nil where it cannot be done.
func (s *Study) predict(ctx context.Context, t trial, drawn []vibe.Case, before []vibe.Figures) (*Remedy, error) {
	now := s
	if len(t.Settings) > 0 {
		if now = s.whatIf(t.request); now == nil {
			return nil, nil
		}
	}
	r := t.Remedy
	worst := now.a.Passes[now.a.Worst]
	r.Request, r.Passes = t.request, len(now.Plan.Passes)
	if len(t.Settings) > 0 && len(s.b.req.OwnCuts) > 0 && t.request.Rubbing != nil {
		r.Settings = append(r.Settings, Setting{"rubbing", formatRubbing(*t.request.Rubbing)})
	}
	r.Verdict, r.CarryOver, r.Growth = now.a.Verdict.String(), doubtful(worst.CarryOver), doubtful(now.a.Growth.Factor)
	if r.Tearing == "" {
		r.Tearing = now.b.tears(now.Plan.Speed.Oil).Chance.String()
	}
	was := doubtful(s.a.Growth.Factor)
	if len(t.Settings) > 0 {
		r.Helps = now.a.Verdict < s.a.Verdict || vibe.Figures{Growth: was.Likely}.Helped(vibe.Figures{Growth: r.Growth.Likely})
	}
	if len(drawn) > 0 && r.Name != RemedyOil {
		after := before
		if now != s {
			var err error
			if after, err = now.draw(ctx, drawn); err != nil {
				return nil, err
			}
		}
		grows := 0
		helped := both(before, after, vibe.Figures.Helped)
		for _, f := range before {
			if !f.Quiet() {
				grows++
			}
		}
		holds, marks := vibe.ShareOf(helped.Count, grows), share(after, vibe.Figures.Marks)
		r.Holds, r.Marks = &holds, &marks
		r.Helps = r.Helps || grows > 0 && holds.Low > 1.0/3
	}
	if r.Mesh != nil && len(t.Settings) > 0 {
		r.Helps = true // it is only proposed where its wheels carry less
	}
	return &r, nil
}

// AsPlanned says what the remedies are held against.
func (v *Vibration) AsPlanned() string {
	return fmt.Sprintf("as planned each pass leaves %s times the last, and the worst wave, whichever pass it starts in, ends %s times as high as it starts", vibe.Times(v.CarryOver.Likely), vibe.Times(v.Growth.Likely))
}

// Useful returns the remedies that help, and those that do not.
func Useful(all []Remedy) (useful, others []Remedy) {
	for _, r := range all {
		if r.Helps {
			useful = append(useful, r)
		} else {
			others = append(others, r)
		}
	}
	return useful, others
}

func set(name, format string, args ...any) []Setting {
	return []Setting{{name, fmt.Sprintf(format, args...)}}
}

func (s *Study) changed(change func(*Request)) Request {
	r := s.b.req
	s.b.keepFitted(&r)
	r.Wires = slices.Clone(r.Wires)
	change(&r)
	return r
}
