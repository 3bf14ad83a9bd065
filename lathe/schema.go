package lathe

import (
	"reflect"
	"slices"
	"sync"

	"thrum/unit"
)

// schema lists every key that a lathe file may have, as dotted paths in the
// order of the types.
var schema = sync.OnceValue(func() []string { return keysOf(reflect.TypeFor[Lathe](), "") })

func keysOf(t reflect.Type, path string) []string {
	var all []string
	for _, sf := range reflect.VisibleFields(t) {
		tg, ok := tagOf(sf)
		if !ok {
			continue
		}
		at := join(path, tg.key)
		all = append(all, at)
		ft := sf.Type
		for ft.Kind() == reflect.Pointer || ft.Kind() == reflect.Slice {
			ft = ft.Elem()
		}
		if ft.Kind() == reflect.Struct && ft != ratioType {
			all = append(all, keysOf(ft, at)...)
		}
	}
	return all
}

// nearest returns the candidate that differs least from the word as typed, or
// nothing when none is near: at most a third of its letters wrong, missing, added
// or exchanged with a neighbour.
func nearest(word string, candidates []string) string {
	if len(word) > 60 {
		return ""
	}
	best, least := "", len(word)
	for _, c := range candidates {
		d := distance(word, c)
		if d < least && d <= max(1, max(len(word), len(c))/3) {
			best, least = c, d
		}
	}
	return best
}

// distance counts the single-letter slips between two words: a letter wrong,
// missing, added, or two neighbours exchanged (optimal string alignment).
func distance(a, b string) int {
	prev2, prev, cur := make([]int, len(b)+1), make([]int, len(b)+1), make([]int, len(b)+1)
	for j := range prev {
		prev[j] = j
	}
	for i := 1; i <= len(a); i++ {
		cur[0] = i
		for j := 1; j <= len(b); j++ {
			slip := 1
			if a[i-1] == b[j-1] {
				slip = 0
			}
			cur[j] = min(prev[j]+1, cur[j-1]+1, prev[j-1]+slip)
			if i > 1 && j > 1 && a[i-1] == b[j-2] && a[i-2] == b[j-1] {
				cur[j] = min(cur[j], prev2[j-2]+1)
			}
		}
		prev2, prev, cur = prev, cur, prev2
	}
	return prev[len(b)]
}

// choices of each word, in the order in which they are offered.
func (HalfNuts) choices() []string       { return []string{string(HalfNutsLever), string(HalfNutsFixed)} }
func (Reading) choices() []string        { return []string{string(Direct), string(Diameter)} }
func (ProtractorZero) choices() []string { return []string{string(ZeroCross), string(ZeroBed)} }
func (Printed) choices() []string {
	return []string{string(BothWays), string(ClockwiseOnly), string(AnticlockwiseOnly)}
}

func (Nose) choices() []string {
	return []string{string(NoseScrew), string(NoseCamLock), string(NoseTaper), string(NoseBayonet), string(NoseBolted), string(NoseFlange)}
}

func (MotorKind) choices() []string {
	return []string{string(SinglePhase), string(ThreePhase), string(Inverter), string(DirectMotor), string(Treadle), string(LineShaft)}
}

func (BrakeKind) choices() []string {
	return []string{string(NoBrake), string(FootBrake), string(HandBrake), string(ElectricBrake)}
}

// UnmarshalText reads "right" or "left".
func (h *Hand) UnmarshalText(b []byte) error {
	i := slices.Index([]string{"right", "left"}, string(b))
	if i < 0 {
		return &unit.InputError{Field: "hand", Value: string(b), Reason: "is not a hand", Hint: `write "right" or "left"`}
	}
	*h = Hand(i)
	return nil
}

// MarshalText writes what UnmarshalText reads.
func (h Hand) MarshalText() ([]byte, error) { return []byte(h.String()), nil }
