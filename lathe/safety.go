package lathe

import (
	"fmt"
	"strings"
)

// Hazard is something that the build of this lathe makes dangerous. A plan that
// needs it is refused, not footnoted.
type Hazard struct {
	Kind HazardKind
	Text string // what must not be done and why, in one or two sentences
	Do   string // what to do instead
}

// HazardKind is what must not be done.
type HazardKind string

// The hazards that a lathe file can tell.
const (
	ReverseScrewedChuck HazardKind = "spindle in reverse with a screwed-on chuck"
	ReverseBeforeStop   HazardKind = "reverse before the spindle has stopped"
	ChuckOverspeed      HazardKind = "chuck above its speed"
	NutsStayClosed      HazardKind = "open the half nuts"
)

// Hazards lists what this lathe's build makes dangerous. Common practice, no
// source; the maker's manual and local rules come first.
func (l *Lathe) Hazards() []Hazard {
	var hs []Hazard
	if l.Spindle.Nose == NoseScrew && !l.Spindle.ChuckLock {
		hs = append(hs, Hazard{
			ReverseScrewedChuck,
			"Never run the spindle in reverse: the chuck is screwed on and can unscrew, under a cut or when it is braked or started hard.",
			"Cut with the spindle forward. To bring the carriage back with the half nuts closed, switch off, wait for the stop, and turn the spindle back by hand.",
		})
	}
	if l.Motor.Kind == SinglePhase && l.Motor.Reverses {
		hs = append(hs, Hazard{
			ReverseBeforeStop,
			"A single-phase motor that is switched to reverse before it has stopped runs on forward, into the shoulder.",
			"Switch off, wait until the spindle stands still, then reverse.",
		})
	}
	if m := l.Chuck.MaxSpeed; m > 0 {
		var over []string
		for _, s := range l.Speeds {
			if s.RPM > m {
				over = append(over, fmt.Sprintf("%s (%.0f rpm)", s.Label, s.RPM.RPM()))
			}
		}
		if len(over) > 0 {
			hs = append(hs, Hazard{
				ChuckOverspeed,
				fmt.Sprintf("The chuck may turn at no more than %.0f rpm; these speeds are faster: %s.", m.RPM(), strings.Join(over, ", ")),
				"Choose a slower speed while this chuck is on.",
			})
		}
	}
	if l.Carriage.HalfNuts == HalfNutsFixed {
		hs = append(hs, Hazard{
			NutsStayClosed,
			"The nut of this lathe is always on the leadscrew: a pass cannot be ended by opening it, and a carriage stop would only break something.",
			"End each pass by stopping the spindle, with the tool drawn out, and reverse the spindle to go back.",
		})
	}
	return hs
}

// CanReverse tells whether the spindle may be run in reverse, to cut away from the
// chuck or to bring the carriage back with the half nuts closed, and if not why.
// When it may, the reason holds what to mind, or is empty.
func (l *Lathe) CanReverse() (bool, string) {
	for _, h := range l.Hazards() {
		if h.Kind == ReverseScrewedChuck {
			return false, h.Text + " " + h.Do
		}
	}
	if !l.Motor.Reverses {
		return false, "The file gives this lathe no reversing switch. With the power off, the spindle can be turned back by hand."
	}
	for _, h := range l.Hazards() {
		if h.Kind == ReverseBeforeStop {
			return true, h.Text + " " + h.Do
		}
	}
	return true, ""
}

// KeepsPhase tells whether a thread in work keeps its place when the speed is
// changed from one to the other: both must lie upstream of the take-off of the
// feed, so that spindle, train and leadscrew are never parted. Otherwise the
// thread has to be picked up again.
func KeepsPhase(from, to Speed) bool {
	return from.Label == to.Label || from.Upstream && to.Upstream
}
