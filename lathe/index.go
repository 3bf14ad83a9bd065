package lathe

import (
	"fmt"
	"strings"

	"thrum/unit"
)

// IndexKind is a way of going from one start of a multi-start thread to the next.
type IndexKind string

// The ways.
const (
	IndexCompound  IndexKind = "shift the compound by the pitch"
	IndexStudWheel IndexKind = "turn the spindle by teeth of the stud wheel"
	IndexDial      IndexKind = "close the half nuts on another line"
	IndexFaceplate IndexKind = "move the dog to another slot"
	IndexPlate     IndexKind = "turn the spindle by the index plate"
)

// IndexMethod is one way of indexing on this lathe.
type IndexMethod struct {
	Kind      IndexKind
	Possible  bool
	Text      string      // what to do, with this lathe's figures; or why it is not possible
	Conflicts []string    // what it shuts out or asks for
	Shift     unit.Length // IndexCompound: travel of the compound for each start
	Error     unit.Length // IndexCompound: by how much the nearest division misses it
	Count     int         // teeth, slots or holes for each start
	Lines     [][]int     // IndexDial: lines of the dial for each start, first start first
	Wheel     DialWheel   // IndexDial: the wheel in mesh
}

// IndexMethods returns the ways of indexing a thread of several starts, each with
// this lathe's figures; the train is the one that cuts the lead, nil when it is not
// settled. The starts of a thread of N starts lie lead/N apart along the axis and
// 1/N turn apart round it. Common practice, no source.
func (l *Lathe) IndexMethods(lead unit.Ratio, starts int, t *Train) []IndexMethod {
	if starts < 2 || starts > 100 || lead.Sign() <= 0 {
		return nil
	}
	return []IndexMethod{
		l.indexCompound(lead, starts),
		l.indexStud(starts, t),
		l.indexDial(lead, starts),
		indexHoles(IndexFaceplate, l.Faceplate.Slots, starts),
		indexHoles(IndexPlate, l.Spindle.Index, starts),
	}
}

func (l *Lathe) indexCompound(lead unit.Ratio, starts int) IndexMethod {
	m := IndexMethod{Kind: IndexCompound, Possible: true}
	d := l.Compound.Dial
	m.Shift = lead.Length() / unit.Length(starts)
	m.Error = (d.Round(m.Shift) - m.Shift).Abs()
	at := d.Reading(d.Round(m.Shift))
	m.Text = fmt.Sprintf("Set the compound parallel to the bed (%s). Finish one start, then move the compound %s (%s) for the next, always in the same direction and with lost motion taken up.",
		l.Compound.Protractor.Reading(90*unit.Degree).Text, m.Shift.Format(d.Units, d.Places()+1), at.Text)
	m.Conflicts = append(m.Conflicts, "the compound cannot be swung for its infeed: feed straight in with the cross slide")
	if m.Error > 0.5*unit.Micrometre {
		m.Conflicts = append(m.Conflicts, fmt.Sprintf("the nearest division misses the pitch by %s for each start", m.Error.Format(d.Units, d.Places()+1)))
	}
	if need := m.Shift * unit.Length(starts-1); l.Compound.Travel > 0 && need > l.Compound.Travel {
		m.Possible = false
		m.Text = fmt.Sprintf("The compound would have to move %s in all; it travels %s.", need.Format(d.Units, d.Places()), l.Compound.Travel.Format(d.Units, 1))
	}
	return m
}

func (l *Lathe) indexStud(starts int, t *Train) IndexMethod {
	m := IndexMethod{Kind: IndexStudWheel}
	if l.Gears == nil {
		m.Text = "This lathe has no change gears to part."
		return m
	}
	if t == nil || len(t.Wheels) == 0 {
		m.Text = "The train is not settled."
		return m
	}
	stud := t.Wheels[0].Teeth
	// The spindle's 1/N turn is StudRatio/N turn of the stud.
	teeth, err := l.Drive.StudRatio.Mul(unit.MustRatio(int64(stud), int64(starts)))
	if err != nil || !teeth.IsWhole() {
		m.Text = fmt.Sprintf("The stud wheel has %d teeth, and 1/%d turn of the spindle is %s of them.", stud, starts, teeth)
		if good := l.divisibleWheels(starts); good != "" {
			m.Text += " A train with one of these on the stud would do: " + good + "."
		}
		return m
	}
	m.Possible, m.Count = true, int(teeth.Num())
	m.Text = fmt.Sprintf("Power off. Mark the tooth of the %d stud wheel that is in mesh and the gap it stands in, and the %s tooth on. Take the wheel out of mesh, turn the spindle by hand until the second mark stands in the gap (1/%d turn), and mesh again.",
		stud, ordinal(m.Count), starts)
	m.Conflicts = append(m.Conflicts, "the half nuts stay closed and the leadscrew must not turn while the wheels are apart")
	return m
}

// divisibleWheels lists the sizes owned that would index on the stud.
func (l *Lathe) divisibleWheels(starts int) string {
	var good []string
	for _, z := range stockOf(l.Gears.Owned).teeth {
		if r, err := l.Drive.StudRatio.Mul(unit.MustRatio(int64(z), int64(starts))); err == nil && r.IsWhole() {
			good = append(good, fmt.Sprint(z))
		}
	}
	return strings.Join(good, ", ")
}

func (l *Lathe) indexDial(lead unit.Ratio, starts int) IndexMethod {
	m := IndexMethod{Kind: IndexDial}
	switch {
	case l.Leadscrew.Electronic:
		m.Text = "An electronic leadscrew needs no dial; use its own offset if it has one."
		return m
	case len(l.DialWheels) == 0:
		m.Text = "This lathe has no threading dial."
		return m
	}
	for _, w := range l.DialWheels {
		at := make([][]int, starts)
		for line, start := range w.DialStarts(l.Leadscrew, lead, starts) {
			if start >= 0 {
				at[start] = append(at[start], line)
			}
		}
		var parts []string
		for k, lines := range at {
			if len(lines) > 0 {
				parts = append(parts, fmt.Sprintf("start %d on %s", k+1, DialRule{Wheel: w}.names(lines)))
			}
		}
		if len(parts) == starts {
			m.Possible, m.Lines, m.Wheel = true, at, w
			m.Text = fmt.Sprintf("With the %d-tooth dial wheel close the half nuts for %s.", w.Teeth, strings.Join(parts, ", "))
			m.Conflicts = append(m.Conflicts, "a wrong line cuts another start: write the lines down before the first pass")
			return m
		}
	}
	m.Text = "No wheel of this dial has a line for every start at this lead."
	return m
}

func indexHoles(kind IndexKind, n, starts int) IndexMethod {
	m := IndexMethod{Kind: kind}
	thing, do := "slots on the faceplate", "Work between centres with a dog. Take the work out and put the dog's tail into the %s slot on."
	if kind == IndexPlate {
		thing, do = "holes of the index plate", "Power off. Part the train between spindle and stud, turn the spindle on to the %s hole, and mesh again."
	}
	switch {
	case n == 0:
		m.Text = "The file tells of no " + thing + "."
	case n%starts != 0:
		m.Text = fmt.Sprintf("%d %s cannot be divided by %d starts.", n, thing, starts)
	default:
		m.Possible, m.Count = true, n/starts
		m.Text = fmt.Sprintf(do, ordinal(m.Count))
		if kind == IndexFaceplate {
			m.Conflicts = append(m.Conflicts, "only between centres; slots that were never meant for dividing may be off: check them")
		}
	}
	return m
}

func ordinal(n int) string {
	switch {
	case n%100 >= 11 && n%100 <= 13:
	case n%10 == 1:
		return fmt.Sprintf("%dst", n)
	case n%10 == 2:
		return fmt.Sprintf("%dnd", n)
	case n%10 == 3:
		return fmt.Sprintf("%drd", n)
	}
	return fmt.Sprintf("%dth", n)
}
