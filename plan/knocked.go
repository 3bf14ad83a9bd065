package plan

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"thrum/shaft"
	"thrum/unit"
)

// Knocked is a natural frequency of the work that was heard when it was tapped in
// this lathe, held as for the cut.
type Knocked struct {
	Frequency unit.Frequency `json:"frequency_hz"`      // undamped natural frequency
	Damping   float64        `json:"damping,omitempty"` // fraction of critical; zero when only the frequency is known
}

// MostKnocked is how many natural frequencies a request may hold.
const MostKnocked = 8

const (
	// A heard frequency is taken for the computed mode nearest to it up to this
	// ratio. Joints are known to a factor of two either way, so a frequency to
	// about the root of that; neighbouring bending modes lie a factor of 2.7 or
	// more apart.
	knockReach   = 1.6
	knockLowest  = 5     // Hz
	knockHighest = 50000 // Hz
)

// ParseKnocked reads natural frequencies as people write them: "412 Hz 2.1 %",
// several separated by semicolons. The damping, in per cent of critical, may be
// left out.
func ParseKnocked(text string) ([]Knocked, error) {
	var out []Knocked
	for part := range strings.SplitSeq(text, ";") {
		if strings.TrimSpace(part) == "" {
			continue
		}
		k, err := parseKnock(part)
		if err != nil {
			return nil, err
		}
		out = append(out, k)
	}
	if err := checkKnocked("knock test", out); err != nil {
		return nil, err
	}
	return out, nil
}

func parseKnock(part string) (Knocked, error) {
	fault := &unit.InputError{
		Field: "knock test", Value: strings.TrimSpace(part), Reason: "is not a natural frequency with its damping",
		Hint: `write "412 Hz 2.1 %", and several separated by semicolons`,
	}
	text := strings.ToLower(strings.ReplaceAll(part, ",", "."))
	text = strings.NewReplacer("hz", " hz ", "%", " % ").Replace(text)
	var numbers []float64
	for i, f := range strings.Fields(text) {
		if f == "hz" && i == 1 || f == "%" && i >= 2 {
			continue
		}
		v, err := strconv.ParseFloat(f, 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return Knocked{}, fault
		}
		numbers = append(numbers, v)
	}
	switch len(numbers) {
	case 1:
		return Knocked{Frequency: unit.Frequency(numbers[0])}, nil
	case 2:
		return Knocked{Frequency: unit.Frequency(numbers[0]), Damping: numbers[1] / 100}, nil
	}
	return Knocked{}, fault
}

// FormatKnocked writes what ParseKnocked reads.
func FormatKnocked(ks []Knocked) string {
	var out []string
	for _, k := range ks {
		s := strconv.FormatFloat(float64(k.Frequency), 'f', 1, 64) + " Hz"
		if k.Damping > 0 {
			s += " " + strconv.FormatFloat(100*k.Damping, 'f', 2, 64) + " %"
		}
		out = append(out, s)
	}
	return strings.Join(out, "; ")
}

func checkKnocked(field string, ks []Knocked) error {
	if len(ks) > MostKnocked {
		return &unit.InputError{Field: field, Value: fmt.Sprint(len(ks)), Reason: fmt.Sprintf("holds more than %d natural frequencies", MostKnocked), Hint: "give the lowest few"}
	}
	for _, k := range ks {
		switch f, z := float64(k.Frequency), k.Damping; {
		case !(f >= knockLowest && f <= knockHighest):
			return &unit.InputError{Field: field, Value: fmt.Sprintf("%g Hz", f), Reason: "is not a natural frequency of a part in a lathe", Hint: fmt.Sprintf("give hertz from %d to %d", knockLowest, knockHighest)}
		case !(z >= 0 && z < 0.5):
			return &unit.InputError{Field: field, Value: fmt.Sprintf("%g %%", 100*z), Reason: "is not a damping between 0 and 50 %", Hint: "give per cent of critical damping: 0.5 to 10 is usual"}
		}
	}
	return nil
}

// knockedBar is the work as it is held, with the frequencies that were heard in the
// place of the computed ones, each in that of the mode nearest to it. What fits none
// belongs to some other thing of the lathe and is named as left out.
func (b *builder) knockedBar(tool unit.Stiffness, centre bool, j joints) (*shaft.Bar, error) {
	w := b.work(tool, centre, asHeld)
	bar, err := shaft.New(w)
	heard := b.req.KnockFree
	if centre {
		heard = b.req.KnockCentre
	}
	if err != nil {
		return nil, err
	}
	if len(heard) == 0 {
		if j == asHeld {
			return bar, nil
		}
		return shaft.New(b.work(tool, centre, j))
	}
	modes, err := bar.Modes(MostKnocked)
	if err != nil {
		return nil, err
	}
	w.Measured = make([]shaft.Knock, len(modes))
	heard = slices.Clone(heard)
	slices.SortFunc(heard, func(x, y Knocked) int { return cmp.Compare(x.Frequency, y.Frequency) })
	next := 0
	for _, k := range heard {
		best := -1
		for i := next; i < len(modes); i++ {
			if r := apart(k.Frequency, modes[i].Frequency); r <= knockReach && (best < 0 || r < apart(k.Frequency, modes[best].Frequency)) {
				best = i
			}
		}
		if best < 0 {
			b.knockUnused(k, centre)
			continue
		}
		w.Measured[best] = shaft.Knock{Frequency: k.Frequency, Damping: k.Damping}
		next = best + 1
	}
	if j != asHeld {
		measured := w.Measured
		w = b.work(tool, centre, j)
		w.Measured = measured
	}
	return shaft.New(w)
}

// apart is the ratio of two frequencies, 1 or more.
func apart(a, b unit.Frequency) float64 {
	r := float64(a / b)
	return max(r, 1/r)
}

func (b *builder) knockUnused(k Knocked, centre bool) {
	how := "without the centre"
	if centre {
		how = "with the centre"
	}
	b.assume("knock test", "damp the tool, the tailstock and the bench with a hand in turn and tap again: what goes quiet is what it belongs to", false,
		"%.0f Hz, heard %s, is near no bending mode of the work and is left out", float64(k.Frequency), how)
}
