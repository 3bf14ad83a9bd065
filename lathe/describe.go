package lathe

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"thrum/unit"
)

// Threads per inch and pitches in millimetres of the general series, ASME B1.1 and
// ISO 261, from memory: they only say what the summary tries.
var (
	usualTPI   = []string{"4", "4.5", "5", "6", "7", "8", "9", "10", "11", "11.5", "12", "13", "14", "16", "18", "20", "24", "27", "28", "32", "36", "40", "44", "48", "56", "64", "72", "80"}
	usualPitch = []string{"0.25", "0.3", "0.35", "0.4", "0.45", "0.5", "0.6", "0.7", "0.75", "0.8", "1", "1.25", "1.5", "1.75", "2", "2.5", "3", "3.5", "4", "4.5", "5", "5.5", "6"}
)

// Describe returns a plain-text summary of a lathe: what it can cut and how well,
// its speeds, what is dangerous on it, and which measurements are still missing,
// with how to take them.
func Describe(l *Lathe) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s\n", l.Name)
	fmt.Fprintf(&b, "  swing %s, between centres %s\n", l.short(l.Bed.Swing), l.short(l.Bed.Centres))
	fmt.Fprintf(&b, "  leadscrew %s, %s hand; %s\n", l.Leadscrew.words(), l.Leadscrew.Hand, l.gearing())
	b.WriteString("\nThreads per inch\n")
	b.WriteString(l.canCut(usualTPI, func(r unit.Ratio) (unit.Ratio, error) { return unit.MustRatio(127, 5).Quo(r) }))
	b.WriteString("\nPitches in millimetres\n")
	b.WriteString(l.canCut(usualPitch, func(r unit.Ratio) (unit.Ratio, error) { return r, nil }))
	b.WriteString("\nSpeeds\n")
	for _, s := range l.byRPM() {
		fmt.Fprintf(&b, "  %6.0f rpm  %s%s\n", s.RPM.RPM(), s.Label, s.remarks())
	}
	if hs := l.Hazards(); len(hs) > 0 {
		b.WriteString("\nDangerous on this lathe\n")
		for _, h := range hs {
			fmt.Fprintf(&b, "  - %s %s\n", h.Text, h.Do)
		}
	}
	if ms := l.Missing(); len(ms) > 0 {
		b.WriteString("\nNot measured yet (defaults are used and marked)\n")
		for _, m := range ms {
			fmt.Fprintf(&b, "  - %s: %s\n", m.Key, m.How)
		}
	}
	return b.String()
}

// short prints a length in the lathe's own system.
func (l *Lathe) short(v unit.Length) string {
	if l.Units == unit.Inches {
		return v.Format(l.Units, 2)
	}
	return v.Format(l.Units, 0)
}

// words prints the screw as "8 threads per inch" or "4 mm lead".
func (s Leadscrew) words() string {
	w := s.Lead.Length().String() + " lead"
	if tpi, err := unit.MustRatio(127, 5).Quo(s.Lead); err == nil && s.System() == unit.Inches {
		w = tpi.String() + " threads per inch"
	}
	if s.Starts > 1 {
		w += fmt.Sprintf(" in %d starts", s.Starts)
	}
	if s.Electronic {
		w += ", driven electronically"
	}
	return w
}

func (l *Lathe) gearing() string {
	var parts []string
	if l.Gears != nil {
		parts = append(parts, fmt.Sprintf("%d change gears", len(l.Gears.Owned)))
	}
	if l.Gearbox != nil {
		parts = append(parts, fmt.Sprintf("a gearbox of %d positions", len(l.Gearbox.Positions)))
	}
	if l.Drive.Tumbler != nil {
		parts = append(parts, "a tumbler reverse")
	}
	if len(parts) == 0 {
		return "a fixed train"
	}
	return strings.Join(parts, ", ")
}

// canCut lists which leads are exact, which near, and which cannot be cut.
func (l *Lathe) canCut(figures []string, lead func(unit.Ratio) (unit.Ratio, error)) string {
	var exact, near, not []string
	for _, f := range figures {
		r, err := unit.ParseRatio(f)
		if err == nil {
			r, err = lead(r)
		}
		if err != nil {
			panic(err) // our own list
		}
		ts, err := Trains(l, r, Options{Keep: 1, MaxPPM: 2000})
		switch {
		case err != nil:
			not = append(not, f)
		case ts[0].Exact:
			exact = append(exact, f)
		default:
			near = append(near, fmt.Sprintf("%s (%+.0f)", f, ts[0].LeadErrorPPM))
		}
	}
	var b strings.Builder
	for _, g := range []struct {
		head string
		list []string
	}{{"exact", exact}, {"near, parts in a million", near}, {"not with the wheels owned", not}} {
		if len(g.list) > 0 {
			fmt.Fprintf(&b, "  %s: %s\n", g.head, strings.Join(g.list, ", "))
		}
	}
	return b.String()
}

func (l *Lathe) byRPM() []Speed {
	s := slices.Clone(l.Speeds)
	slices.SortStableFunc(s, func(a, b Speed) int { return cmp.Compare(a.RPM, b.RPM) })
	return s
}

func (s Speed) remarks() string {
	var parts []string
	if s.BackGear && !strings.Contains(s.Label, "back gear") {
		parts = append(parts, "back gear")
	}
	if n := len(s.CoastTurns); n > 0 {
		lo, hi := s.CoastTurns[0], s.CoastTurns[0]
		for _, t := range s.CoastTurns {
			if t.Cmp(lo) < 0 {
				lo = t
			}
			if t.Cmp(hi) > 0 {
				hi = t
			}
		}
		if n == 1 || lo == hi {
			parts = append(parts, fmt.Sprintf("coasts %.2g turns", hi.Float()))
		} else {
			parts = append(parts, fmt.Sprintf("coasts %.2g to %.2g turns", lo.Float(), hi.Float()))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return ", " + strings.Join(parts, ", ")
}

// Measurement is something that the file does not tell and that its owner could measure.
type Measurement struct {
	Key string // key of the lathe file
	How string // how to measure it
}

// Missing lists the measurements that would replace defaults, the most useful first.
func (l *Lathe) Missing() []Measurement {
	var ms []Measurement
	need := func(missing bool, key, how string) {
		if missing {
			ms = append(ms, Measurement{key, how})
		}
	}
	var none, once []string
	for _, s := range l.byRPM() {
		switch len(s.CoastTurns) {
		case 0:
			none = append(none, s.Label)
		case 1:
			once = append(once, s.Label)
		}
	}
	const coast = "with the usual chuck on and nothing cutting, chalk the chuck, run at that speed with the half nuts open but train and screw turning, switch off at a mark, and count turns and tenths to the standstill; "
	need(len(none) > 0, "speed.coast_turns", coast+"twice or more for each speed used for threading: "+strings.Join(none, ", "))
	need(len(once) > 0, "speed.coast_turns", "one reading only at "+strings.Join(once, ", ")+"; a second shows the spread")
	const lost = "wind in, set an indicator to zero against the slide, wind the dial back until the indicator just moves, and read what the dial counted"
	need(l.CrossSlide.Dial.LostMotion == 0, "cross_slide.dial.lost_motion", lost)
	need(l.Compound.Dial.LostMotion == 0, "compound.dial.lost_motion", lost)
	need(l.Compound.Protractor.Zero == "", "compound.protractor", "swing the compound until it stands square to the bed (a square against the chuck face) and see whether the scale reads 0 or 90")
	need(l.Motor.Power == 0 && l.Motor.Kind != Treadle, "motor.power", "read the motor's plate")
	need(l.Motor.Efficiency.IsZero() && l.Motor.Kind != Treadle, "motor.efficiency", "power to the spindle over power of the motor; 0.7 to 0.85 is usual with belts")
	need(l.Chuck.MaxSpeed == 0, "chuck.max_rpm", "read the figure stamped on the chuck or ask its maker")
	need(l.Spindle.Runout == 0, "spindle.runout", "indicator on the nose register, spindle turned by hand")
	need(l.Leadscrew.Error == 0 && !l.Leadscrew.Electronic, "leadscrew.error_per_300mm", "carriage travel against a long indicator or scale over 300 mm of screw turns")
	need(l.Stiffness == Stiffness{}, "stiffness", "pull with a spring balance against an indicator, at the chuck, the tailstock and the tool")
	return ms
}
