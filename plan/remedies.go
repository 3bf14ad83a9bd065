package plan

import (
	"fmt"
	"math"
	"strings"

	"thrum/cut"
	"thrum/lathe"
	"thrum/unit"
	"thrum/vibe"
)

// otherSpeed proposes the speed nearest to the present one at which no wave grows
// even at the lively end of what is not known; where there is none, the quietest.
func (s *Study) otherSpeed() (trial, bool) {
	now := s.Plan.Speed.RPM
	var speeds []unit.Rotation
	for _, st := range s.Plan.Speed.Steps {
		if st.Usable && st.RPM != now && (st.Surface <= s.Plan.Speed.High || s.Plan.Speed.High == 0) {
			speeds = append(speeds, st.RPM)
		}
	}
	present := s.a.Passes[s.a.Worst].CarryOver.High
	best, calm, far := unit.Rotation(0), math.Inf(1), math.Inf(1)
	for _, p := range s.a.SpeedCurve(speeds) {
		high := max(p.CarryOver.High, 1) // quieter than quiet is no better
		if d := math.Abs(math.Log(float64(p.Speed / now))); high < calm || high == calm && d < far {
			best, calm, far = p.Speed, high, d
		}
	}
	if best == 0 || calm >= 0.98*present {
		return trial{}, false
	}
	r := s.changed(func(r *Request) { r.RPM, r.FinishRPM = best, 0 })
	t := trial{Remedy{Name: RemedySpeed, Do: fmt.Sprintf("cut all passes at %s rpm", trimRPM(best)), Settings: set("rpm", "%s", trimRPM(best))}, r}
	if s.b.losesPhase(best) {
		t.Warning = "with a thread in work this change parts spindle and leadscrew: pick the thread up again before the next pass"
	}
	return t, true
}

// losesPhase tells whether going to a speed of the lathe parts spindle and screw.
func (b *builder) losesPhase(to unit.Rotation) bool {
	var from, at lathe.Speed
	for _, l := range b.la.Speeds {
		if l.RPM == b.plan.Speed.RPM {
			from = l
		}
		if l.RPM == to {
			at = l
		}
	}
	return from.RPM != at.RPM && !lathe.KeepsPhase(from, at)
}

// otherLast proposes the speed that leaves least when the passes after the stop to
// measure are cut at it; one that keeps the thread's phase where there is one.
func (s *Study) otherLast() (trial, bool) {
	n := s.b.lastPasses()
	if n == 0 {
		return trial{}, false
	}
	best, keeps, least := unit.Rotation(0), false, math.Inf(1)
	for i, st := range s.a.Steps {
		ok := s.Plan.Speed.Steps[i].Usable && (st.Refuse == "" || s.b.losesPhase(st.Speed))
		k := !s.b.losesPhase(st.Speed)
		if !ok || st.Speed == s.Plan.Speed.RPM || keeps && !k {
			continue
		}
		if k && !keeps || st.Growth < least {
			best, keeps, least = st.Speed, k, st.Growth
		}
	}
	if best == 0 {
		return trial{}, false
	}
	r := s.changed(func(r *Request) { r.FinishRPM = best })
	t := trial{Remedy{Name: remedyLast, Do: fmt.Sprintf("cut the %d passes after the stop to measure at %s rpm", n, trimRPM(best)), Settings: set("finish-rpm", "%s", trimRPM(best))}, r}
	if !keeps {
		t.Warning = "the change of speed parts spindle and leadscrew on this lathe: pick the thread up again before the first pass at the new speed"
	}
	least0 := unit.Length(math.Inf(1))
	for _, p := range s.Plan.Passes[len(s.Plan.Passes)-n:] {
		least0 = min(least0, p.Infeed)
	}
	t.Size = fmt.Sprintf("each of them must cut deeper than the marks are high: as planned up to %s; on a thread already at size cleaning up takes twice the height of the marks off the pitch diameter", s.b.short(least0))
	return t, true
}

func (s *Study) useCentre() (trial, bool) {
	if s.b.req.Centre || s.b.internal() {
		return trial{}, false
	}
	r := s.changed(func(r *Request) { r.Centre = true })
	return trial{Remedy{Name: remedyCentre, Do: "bring the tailstock centre up", Settings: set("centre", "yes")}, r}, true
}

// roomAtJaws is what is left between the end of relief or thread and the jaws.
const roomAtJaws unit.Length = 5

func (s *Study) shorter() (trial, bool) {
	w := s.Plan.Work
	least := w.Length + w.ReliefWidth + roomAtJaws
	if s.b.internal() || w.Stickout-least < 1 {
		return trial{}, false
	}
	places := 1
	if s.b.req.Units == unit.Inches {
		places = 2
	}
	text := least.Format(s.b.req.Units, places)
	if l, err := unit.ParseLength(text, s.b.req.Units); err == nil && l >= w.Length+w.ReliefWidth {
		least = l
	}
	r := s.changed(func(r *Request) { // what was heard belongs to the part as it stood
		r.Stickout, r.KnockFree, r.KnockCentre = least, nil, nil
	})
	return trial{Remedy{Name: remedyStickout, Do: "let the part stand out only " + s.b.short(least), Settings: set("stickout", "%s", strings.ReplaceAll(text, " ", ""))}, r}, true
}

// otherInfeed proposes the method that is quietest at the lively end.
func (s *Study) otherInfeed() (trial, bool) {
	best, least := trial{}, s.a.Growth.Factor.High
	for _, m := range []string{"straight", "modified", "flank", "alternating"} {
		if m == s.Plan.Swing.Method || m == "modified" && s.Plan.Swing.Method == "modified flank" {
			continue
		}
		r := s.changed(func(r *Request) { r.Infeed, r.Angle = m, 0 })
		if t := s.whatIf(r); t != nil && t.a.Growth.Factor.High < least {
			least = t.a.Growth.Factor.High
			best = trial{Remedy{Name: RemedyInfeed, Do: "infeed: " + methodDo(m), Settings: set("infeed", "%s", m)}, r}
		}
	}
	return best, best.Name != ""
}

func methodDo(m string) string {
	return map[string]string{
		"straight": "straight in on the cross slide", "modified": "by the compound, a little inside the flank angle",
		"flank": "by the compound along the flank", "alternating": "by turns along either flank",
	}[m]
}

// otherEdge proposes the edge of the same tool material that is quietest.
func (s *Study) otherEdge() (trial, bool) {
	best, least := trial{}, s.a.Growth.Factor.High
	for _, e := range cut.EdgeTypes() {
		if e.Material != s.b.profile.Edge.Material || e.Name == s.b.profile.Edge.Name || e.RadiusLo > s.b.profile.Edge.RadiusLo {
			continue // nobody makes an edge duller to cure anything
		}
		r := s.changed(func(r *Request) { r.Edge = e.Name })
		if t := s.whatIf(r); t != nil && t.a.Growth.Factor.High <= least {
			least = t.a.Growth.Factor.High
			best = trial{Remedy{Name: remedyEdge, Do: "a keener edge: " + e.Name, Settings: set("edge", "%s", e.Name)}, r}
		}
	}
	return best, best.Name != ""
}

// useOil compares the fluid of the sheet with none: against tearing, for oil does
// nothing about vibration in this reckoning.
func (s *Study) useOil() (trial, bool) {
	oil := s.Plan.Speed.Oil
	if oil == "" {
		return trial{}, false
	}
	dry, wet := s.b.tears(""), s.b.tears(oil)
	t := trial{Remedy{
		Name: RemedyOil, Do: oil + fmt.Sprintf(" on every pass: torn flanks are %s with it, %s without", wet.Chance, dry.Chance), Tearing: wet.Chance.String(),
		Helps: wet.Chance < dry.Chance,
	}, s.b.req}
	return t, true
}

// otherTrain looks for wheels whose meshes carry less, where a mesh of the change
// gears is amplified.
func (s *Study) otherTrain() (trial, bool) {
	bad := worstMesh(s.a)
	if bad == nil || !bad.Amplified || s.b.req.Train > 0 {
		return trial{}, false
	}
	best, least := trial{}, bad.Growth/2
	for n := 2; n <= len(s.Plan.Gears); n++ {
		r := s.changed(func(r *Request) { r.Train = n })
		b, err := newBuilderWith(r, s.b.reread)
		if err != nil {
			continue
		}
		p, err := b.make()
		if err != nil || len(p.Passes) == 0 {
			continue
		}
		in := s.in
		in.Other, in.Steps, in.Starters = nil, nil, b.starters()
		a, err := vibe.Assess(in)
		if err != nil {
			continue
		}
		if m := worstMesh(a); m != nil && m.Growth < least {
			least = m.Growth
			best = trial{Remedy{
				Name: remedyTrain, Do: fmt.Sprintf("gear it the %s way of the sheet: %s", ordinal(n), strings.Join(p.Gears[0].Words, " · ")),
				Settings: set("train", "%d", n), Mesh: &Mesh{m.Name, m.Growth},
			}, r}
		}
	}
	return best, best.Name != ""
}

func ordinal(n int) string {
	return []string{"first", "second", "third", "fourth"}[min(max(n, 1), 4)-1]
}

// worstMesh is the mesh of the change gears whose waves grow most; those of the
// headstock no other train takes away.
func worstMesh(a *vibe.Assessment) *vibe.Outcome {
	var worst *vibe.Outcome
	for i := range a.Starters {
		if o := &a.Starters[i]; strings.HasPrefix(o.Name, changeGears) && (worst == nil || o.Growth > worst.Growth) {
			worst = o
		}
	}
	return worst
}

// lighterBy is what is left of the largest infeed.
const lighterBy = 0.6

func (s *Study) lighter() (trial, bool) {
	most := unit.Length(0)
	for _, p := range s.Plan.Passes {
		most = max(most, p.Infeed)
	}
	places := 3
	if s.b.req.Units == unit.Inches {
		places = 4
	}
	text := (most * lighterBy).Format(s.b.req.Units, places)
	l, err := unit.ParseLength(text, s.b.req.Units)
	if err != nil || l <= 0 {
		return trial{}, false
	}
	r := s.changed(func(r *Request) { r.MaxDepth = l })
	return trial{Remedy{
		Name: remedyLighter, Do: "lighter passes: at most " + text + " of infeed", Settings: set("max-infeed", "%s", strings.ReplaceAll(text, " ", "")),
		Size: "the size stays, but a light pass cleans up only marks lower than it cuts, and a chip thinner than the edge rubs and cuts late",
	}, r}, true
}

// springPasses are often tried. In the linear theory a pass that takes no chip leaves
// waves as they are; the tool skips from crest to crest.
func (s *Study) springPasses() (trial, bool) {
	t := trial{Remedy{
		Name: remedySpring, Do: "spring passes at the final reading: they do not take marks away, at any speed; the tool skips from crest to crest",
		Size: "they take off what part and tool still yield",
	}, s.b.req}
	if n := len(s.Plan.Passes); n > 0 {
		if y := s.Plan.Passes[n-1].Depth - s.Plan.Passes[n-1].Achieved; y > 0 {
			t.Size += ", up to " + s.b.short(2*y) + " of the pitch diameter"
		}
	}
	return t, true
}
