package gauge

import (
	"thrum/thread"
	"thrum/unit"
)

// Means is one way of finding out about a finished thread: how it is done, what
// it can tell and what it cannot.
type Means struct {
	Name    string
	How     []string
	Tells   []string
	Cannot  []string // what it cannot tell
	Limit   string   // the limit that it compares with, in words and figures; empty when it gives a size
	Source  string
	Measure Method // the method behind it when it gives a size
	Sizes   bool   // it gives a size that Judge can use
}

// MeansFor lists the ways of measuring and gauging a thread, those that give a
// size first, with this thread's own limits in them.
func MeansFor(t thread.Thread) []Means {
	var list []Means
	if t.Side == thread.Internal {
		list = internalMeans(t)
	} else {
		list = externalMeans(t)
	}
	if t.Taper.Sign() != 0 {
		for i := range list {
			list[i].How = append(list[i].How, "on a taper thread: limits hold at the gauge plane, so measure there; a wire or gauge half a turn away along the axis sees another diameter")
		}
	}
	return list
}

const (
	gaugeSource = "gauge maker's page on the use of thread gauges, after ISO 1502"
	shop        = "common practice, no source"
)

// limit prints one limit for the sheet; a limit that does not exist says so.
func limit(name string, l unit.Length, sys unit.System) string {
	if l == 0 {
		return name + " (no limit given)"
	}
	return name + " " + brief(l, sys)
}

func externalMeans(t thread.Thread) []Means {
	p := t.Limits.Pitch
	list := []Means{
		{
			Name: "three wires", Measure: ThreeWires, Sizes: true, Source: "NBS Handbook H28, from memory",
			How: []string{
				"clean and deburr; two wires on the fixed anvil's side, one opposite, micrometer square to the axis",
				"press as hard as when the wires were sized; turn the part a little under the anvils and take the greatest reading",
				"measure at both ends and at two places around",
			},
			Tells:  []string{"pitch diameter, taper and roundness of it", "how much is still to come off, in figures"},
			Cannot: []string{"lead and flank errors: a thread of the right pitch diameter may still not fit", "anything before the wires seat in the groove"},
		},
		{
			Name: "two wires", Measure: TwoWires, Sizes: true, Source: shop,
			How:    []string{"one wire each side; the two grooves lie half a pitch apart along the axis, so hold the micrometer from tilting: use large anvils or a stand"},
			Tells:  []string{"the same as three wires, and on a taper the pitch diameter at one plane"},
			Cannot: []string{"the same as three wires; a tilted micrometer reads wrong without showing it"},
		},
		{
			Name: "one wire", Measure: OneWire, Sizes: true, Source: shop,
			How:    []string{"wire on one side, the other anvil on the crests; measure the major diameter at the same place first"},
			Tells:  []string{"pitch diameter when two wires cannot be held in place: large work, one hand free"},
			Cannot: []string{"tell a large pitch diameter from a large or eccentric major diameter; errors of reading count twice"},
		},
		{
			Name: "thread micrometer", Measure: ThreadMicrometer, Sizes: true, Source: shop,
			How:    []string{"anvils for this pitch range and form; set to zero, better on a thread plug of the same pitch; vee astride a ridge, cone in a groove"},
			Tells:  []string{"pitch diameter, quickly, without wires to drop"},
			Cannot: []string{"escape its own anvils: an error of their angle or of the flank angle moves the contact and the reading", "large lead angles: the vee bridges the ridge and reads large", "lead and flank errors of the part"},
		},
		{
			Name: "GO ring", Source: gaugeSource,
			Limit:  limit("pitch diameter as the mate feels it, not above", p.Max, t.System),
			How:    []string{"screw on by hand without force, over the whole length"},
			Tells:  []string{"the thread will go into a nut at its smallest: pitch diameter, lead, flanks and minor diameter together"},
			Cannot: []string{"the major diameter", "the size, or which of pitch diameter, lead and flanks is wrong when it stops"},
		},
		{
			Name: "NOT GO ring", Source: gaugeSource,
			Limit:  limit("pitch diameter not below", p.Min, t.System),
			How:    []string{"must not go on more than two turns, from either end, without force"},
			Tells:  []string{"the pitch diameter is not below its least"},
			Cannot: []string{"anything of lead and flanks: it has short flanks and few turns, by design"},
		},
		{
			Name: "mating part", Source: shop,
			Limit:  "that one part, of a size you do not know",
			How:    []string{"deburr, clean and oil both; try by hand; feel for shake when it is on"},
			Tells:  []string{"these two go together"},
			Cannot: []string{"that the thread is to size: a loose mate hides a large thread, a tight one condemns a good one, and the next mate may be neither"},
		},
		{
			Name: "plain micrometer", Source: shop,
			Limit: limit("major diameter", t.Limits.Major.Min, t.System) + " to " + brief(t.Limits.Major.Max, t.System),
			How:   []string{"over the crests, after deburring"},
			Tells: []string{"the major diameter, and a burr that holds a gauge off"}, Cannot: []string{"anything of the flanks"},
		},
	}
	if FlanksOf(t).check() != nil { // square flanks: nothing wedges between them
		list = list[4:]
	}
	return list
}

func internalMeans(t thread.Thread) []Means {
	p := t.Limits.Pitch
	minor := limit("minor diameter", t.Limits.Minor.Min, t.System)
	if t.Limits.Minor.Max != 0 {
		minor += " to " + brief(t.Limits.Minor.Max, t.System)
	}
	list := []Means{
		{
			Name: "balls", Measure: Balls, Sizes: true, Source: shop,
			How: []string{
				"a probe with two balls of known size, set in a plain ring of known bore, so that it shows the distance over the balls' outer points",
				"rock it for the greatest reading around and the least along; the two balls rest in grooves half a pitch apart, so the probe must be free to tilt or the mean of both ways be taken",
			},
			Tells:  []string{"pitch diameter, and how much is still to come off"},
			Cannot: []string{"lead and flank errors", "small holes: the probe must go in past the crests"},
		},
		{
			Name: "GO plug", Source: gaugeSource,
			Limit:  limit("pitch diameter as the mate feels it, not below", p.Min, t.System) + "; " + limit("major diameter not below", t.Limits.Major.Min, t.System),
			How:    []string{"screw in by hand without force, over the whole length"},
			Tells:  []string{"a screw at its largest will go in: pitch diameter, lead, flanks and major diameter together"},
			Cannot: []string{"the minor diameter", "the size, or what is wrong when it stops"},
		},
		{
			Name: "NOT GO plug", Source: gaugeSource,
			Limit:  limit("pitch diameter not above", p.Max, t.System),
			How:    []string{"must not go in more than two turns, from either end, without force"},
			Tells:  []string{"the pitch diameter is not above its greatest"},
			Cannot: []string{"anything of lead and flanks"},
		},
		{
			Name: "plain plugs", Source: shop, Limit: minor,
			How:   []string{"GO goes through, NOT GO does not enter by more than a turn; deburr first"},
			Tells: []string{"the minor diameter, which thread gauges do not check"}, Cannot: []string{"anything of the flanks"},
		},
		{
			Name: "mating part", Source: shop, Limit: "that one part, of a size you do not know",
			How:    []string{"deburr, clean and oil both; try by hand; feel for shake"},
			Tells:  []string{"these two go together"},
			Cannot: []string{"that the thread is to size; the next mate may not fit"},
		},
		{
			Name: "cast", Source: shop,
			How:    []string{"fill part of the bore with casting compound, draw or unscrew it, measure the cast under a projector or a lens at once, before it shrinks"},
			Tells:  []string{"form, flank angles and lead of an internal thread, which nothing else on a bench shows"},
			Cannot: []string{"the pitch diameter better than the compound's shrinkage"},
		},
	}
	if FlanksOf(t).check() != nil {
		list = list[1:]
	}
	return list
}
