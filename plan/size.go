package plan

import (
	"fmt"
	"strings"

	"thrum/gauge"
	"thrum/thread"
	"thrum/unit"
)

func (b *builder) facts() error {
	t := b.th
	perInch, err := unit.MustRatio(127, 5).Quo(t.Pitch)
	if err != nil {
		return err
	}
	b.plan.Thread = ThreadFacts{
		Designation: t.Designation, Words: threadWords(t), Form: t.Form.Name, Source: t.Form.Source,
		Family: string(t.Family), Class: t.Class,
		Internal: b.internal(), LeftHand: t.Hand == thread.Left, Starts: t.Starts,
		Nominal: t.Nominal, Pitch: t.Pitch.Length(), PitchExact: t.Pitch, PerInch: perInch,
		Lead: t.Lead().Length(), LeadExact: t.Lead(), LeadAngle: t.LeadAngle(),
		Taper: t.Taper, Engagement: t.Engagement,
	}
	for _, n := range t.Notes {
		if n.Assumed {
			b.assume("thread", "", false, "%s", n.Text)
		} else {
			b.reason("thread", n.Source, "%s", n.Text)
		}
	}
	return nil
}

// threadWords reads the thread aloud: "external, right hand, single start".
func threadWords(t thread.Thread) string {
	words := []string{t.Side.String(), t.Hand.String()}
	if t.Starts == 1 {
		words = append(words, "single start")
	} else {
		words = append(words, fmt.Sprintf("%d starts", t.Starts))
	}
	if !t.Taper.IsZero() {
		words = append(words, "taper "+taperWords(t.Taper)+" on diameter")
	}
	return strings.Join(words, ", ")
}

func taperWords(r unit.Ratio) string {
	if r.Num() == 1 {
		return fmt.Sprintf("1:%d", r.Den())
	}
	return r.String()
}

func (b *builder) limits() error {
	lim := b.th.Limits
	if b.req.Plating > 0 {
		before, err := b.th.ToPlate(b.req.plating())
		if err != nil {
			return err
		}
		lim = before
		// Everything that follows is cut to the sizes before plating.
		b.th.Limits = before
		b.plan.Spec = b.th
		b.reason("limits", "geometry of the form", "sizes are those to cut before a coating of %s comes on every surface", b.len(b.req.Plating))
	}
	target := b.th.Targets()
	m := &MemberLimits{
		Major: limit(lim.Major, target.Major), Pitch: limit(lim.Pitch, target.Pitch), Minor: limit(lim.Minor, target.Minor),
	}
	b.plan.Limits = LimitTable{Deviation: b.th.Deviation, Plating: b.req.Plating}
	if b.internal() {
		b.plan.Limits.Internal = m
	} else {
		b.plan.Limits.External = m
	}
	return nil
}

func limit(band thread.Band, t thread.Target) Limit {
	return Limit{Min: band.Min, Max: band.Max, Target: t.Size, Why: t.Reason}
}

// wires plans the measurement over wires or, where wires do not serve, says what does.
func (b *builder) wires() error {
	b.plan.Size.Methods = sizeMethods(b.th)
	w, err := gauge.ForThread(b.th, gauge.Choice{Owned: b.req.Wires})
	if err != nil {
		b.plan.Size.Headline = "no wires: " + err.Error()
		return nil
	}
	wp, err := wirePlan(w, b.plan.Limits.Member().Pitch.Target)
	if err != nil {
		b.plan.Size.Headline = "no wires: " + err.Error()
		return nil
	}
	b.plan.Wires = wp
	what := "over"
	if b.internal() {
		what = "over two balls of"
	}
	b.plan.Size.Headline = fmt.Sprintf("%s %s wires: %s to %s, aim at %s", what, b.len(wp.Use), b.num(wp.Over.Min), b.len(wp.Over.Max), b.num(wp.Over.Target))
	if b.internal() {
		b.plan.Size.Headline = strings.Replace(b.plan.Size.Headline, " wires:", ":", 1)
	}
	if len(b.req.Wires) == 0 {
		b.assume("wires", "give the sizes you own: --wires", false, "wires of the best size %s are at hand", b.len(wp.Best))
	}
	return nil
}

// sizeMethods says what each way of judging the thread can tell and what it cannot.
func sizeMethods(t thread.Thread) []string {
	var all []string
	for _, m := range gauge.MeansFor(t) {
		text := m.Name + ": tells " + strings.Join(m.Tells, ", ")
		if m.Limit != "" {
			text += " (" + m.Limit + ")"
		}
		if len(m.Cannot) > 0 {
			text += "; not: " + strings.Join(m.Cannot, ", ")
		}
		all = append(all, text)
	}
	return all
}

// WiresOf plans the measurement of a thread over wires without a lathe.
func WiresOf(th thread.Thread, owned []unit.Length) (*WirePlan, error) {
	w, err := gauge.ForThread(th, gauge.Choice{Owned: owned})
	if err != nil {
		return nil, err
	}
	return wirePlan(w, th.Targets().Pitch.Size)
}

// PitchFromWires turns a reading over the wires that the request's plan advises
// into a pitch diameter.
func PitchFromWires(r Request, m unit.Length) (unit.Length, error) {
	b, err := newBuilder(r)
	if err != nil {
		return 0, err
	}
	if err := b.limits(); err != nil {
		return 0, err
	}
	w, err := gauge.ForThread(b.th, gauge.Choice{Owned: r.Wires})
	if err != nil {
		return 0, err
	}
	return w.PitchDiameter(m)
}

func wirePlan(w *gauge.Wires, pitch unit.Length) (*WirePlan, error) {
	target, err := w.Reading(pitch)
	if err != nil {
		return nil, err
	}
	p := &WirePlan{
		Best: w.Best, Use: w.Size, Least: w.Usable.Min, Greatest: w.Usable.Max,
		Over:       WireSize{w.Over.Min, w.Over.Max, target},
		UsualOver:  WireSize{Min: w.Simple.Min, Max: w.Simple.Max},
		SeatsBelow: w.Seats,
	}
	for i, n := range w.Notes {
		if i > 0 {
			p.Note += "; "
		}
		p.Note += n.Text
	}
	return p, nil
}
