package cut

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"thrum/unit"
)

// Chance says in words how likely the work is to tear.
type Chance int

// From hardly any to expected.
const (
	Unlikely Chance = iota
	Possible
	Likely
	Expected
)

// String prints "unlikely", "possible", "likely" or "expected".
func (c Chance) String() string { return []string{"unlikely", "possible", "likely", "expected"}[c] }

// Tearing is the risk that a built-up edge forms: bits of work weld to the edge,
// break off and leave torn flanks.
type Tearing struct {
	Chance       Chance
	Index        float64    // 0 to 1, from which Chance follows; an index, not a probability
	Low, High    float64    // the index if the speeds of the band are a third off either way
	Band, Worst  SpeedRange // for this chip, fluid and tool
	Why          string     // the sentence for the sheet
	Source       string
	Confidence   string // how far to trust it
	ThinnestChip unit.Length

	ways []way // what to change; none when there is no need
}

// way is one thing to change, with the speed it needs in the middle of its words.
type way struct {
	before string
	speed  unit.Velocity
	after  string
}

// Cure says what to change, in the sheet's units: the oil, the speed downwards, or the
// tool and the speed upwards. It is empty when there is no need.
func (t Tearing) Cure(sys unit.System) string {
	if len(t.ways) == 0 {
		return ""
	}
	var all []string
	for _, w := range t.ways {
		all = append(all, w.before+w.speed.Format(sys, 0)+w.after)
	}
	return strings.Join(append(all, "a keener edge"), "; or ") + ". A little faster can be worse than slower"
}

// Fluid is what is put on the cut.
type Fluid string

// Kinds of cutting fluid, by what they do about sticking.
const (
	Dry       Fluid = "dry"
	Soluble   Fluid = "soluble oil"
	PlainOil  Fluid = "plain cutting oil"
	ActiveOil Fluid = "sulphurised or chlorinated oil"
)

// KindOfFluid tells the kind from a fluid's name as the table of materials or a
// user writes it.
func KindOfFluid(name string) Fluid {
	n := strings.ToLower(name)
	has := func(words ...string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(n, w) })
	}
	switch {
	case has("sulphur", "sulfur", "chlorinated", "active"):
		return ActiveOil
	case has("soluble", "emulsion", "coolant", "water"):
		return Soluble
	case has("oil", "paraffin", "kerosene", "lard", "tallow", "spirit"):
		return PlainOil
	}
	return Dry
}

const (
	builtUpChip   = 0.1 // mm, the chip thickness for which the tables' bands hold
	leastStretch  = 0.5 // of the band by the chip's thickness
	mostStretch   = 2.0
	activeOilStop = 15 // m/min above which an active oil no longer gets between chip and edge
)

// BuiltUpEdge judges the risk of tearing at a surface speed and chip thickness.
//
// Inside the material's band of speeds the index rises from 0.2 at both ends to 1
// across its worst zone; outside it falls away over a factor of two. The
// material's tendency scales it (slight 0.2, moderate 0.7, strong 1), and so does
// the fluid: soluble oil 0.85, plain oil 0.8, an active oil 0.5 below 15 m/min.
//
// The temperature at the edge goes about with the square root of speed times chip
// thickness, so a thin chip moves the band to higher speeds and a thick one to
// lower: the band is stretched by 0.1 mm / h, within 0.5 to 2.
//
// Source: bands from the material's table; hump of roughness over speed, Arshinov
// and Alekseev; shift with chip thickness and working range of active oils, Shaw,
// Metal Cutting Principles (both from memory). The numbers of the scaling are ours.
func BuiltUpEdge(m Material, t ToolMaterial, v unit.Velocity, h unit.Length, fluid Fluid) Tearing {
	out := Tearing{Source: m.Sources.Edge, ThinnestChip: h, Confidence: "low: published bands scatter by two to one, and hardness, sharpness and oil all move them"}
	if !m.BuiltUp.Given() || !(v > 0) {
		out.Why = m.Name + " forms no built-up edge"
		return out
	}
	stretch := 1.0
	if h > 0 {
		stretch = min(max(builtUpChip/h.MM(), leastStretch), mostStretch)
	}
	scale := func(r SpeedRange) SpeedRange {
		return SpeedRange{r.Low * unit.Velocity(stretch), r.High * unit.Velocity(stretch)}
	}
	worst := m.BuiltUpWorst
	if !worst.Given() {
		mid := unit.Velocity(math.Sqrt(float64(m.BuiltUp.Low * m.BuiltUp.High)))
		worst = SpeedRange{mid, mid}
	}
	out.Band, out.Worst = scale(m.BuiltUp), scale(worst)
	weight := []float64{0.2, 0.7, 1}[m.Tendency] * fluidFactor(fluid, v)
	index := func(v unit.Velocity) float64 { return weight * hump(v, out.Band, out.Worst) }
	out.Index, out.Low, out.High = index(v), math.Inf(1), 0
	for f := 0.67; f < 1.5; f += 0.0415 { // the band may lie a third lower or higher
		i := index(v * unit.Velocity(f))
		out.Low, out.High = min(out.Low, i), max(out.High, i)
	}
	out.Chance = chance(out.Index)
	out.Why = fmt.Sprintf("%s sticks to the edge between about %.0f and %.0f m/min (worst %.0f to %.0f) at this chip; at %.0f m/min tearing is %s",
		m.Name, out.Band.Low.MPerMin(), out.Band.High.MPerMin(), out.Worst.Low.MPerMin(), out.Worst.High.MPerMin(), v.MPerMin(), out.Chance)
	if out.Chance >= Likely {
		out.ways = cures(m, t, v, fluid, out.Worst)
	}
	return out
}

// hump is 1 across the worst zone, 0.2 at the ends of the band, 0 a factor of two
// beyond them; straight lines over the logarithm of speed.
func hump(v unit.Velocity, band, worst SpeedRange) float64 {
	x := []float64{float64(band.Low) / 2, float64(band.Low), float64(worst.Low), float64(worst.High), float64(band.High), float64(band.High) * 2}
	y := []float64{0, 0.2, 1, 1, 0.2, 0}
	s := float64(v)
	if !(s > x[0]) || s >= x[len(x)-1] {
		return 0
	}
	for i := 1; i < len(x); i++ {
		if s <= x[i] {
			if x[i] <= x[i-1] {
				return max(y[i], y[i-1])
			}
			return y[i-1] + (y[i]-y[i-1])*math.Log(s/x[i-1])/math.Log(x[i]/x[i-1])
		}
	}
	return 0
}

func fluidFactor(f Fluid, v unit.Velocity) float64 {
	switch f {
	case ActiveOil:
		if v.MPerMin() < activeOilStop {
			return 0.5
		}
		return 0.8
	case PlainOil:
		return 0.8
	case Soluble:
		return 0.85
	}
	return 1
}

func chance(index float64) Chance {
	switch {
	case index < 0.15:
		return Unlikely
	case index < 0.4:
		return Possible
	case index < 0.7:
		return Likely
	}
	return Expected
}

// cures lists what to change: the oil, the speed downwards, or the tool and the speed
// upwards.
func cures(m Material, t ToolMaterial, v unit.Velocity, fluid Fluid, worst SpeedRange) []way {
	var ways []way
	if fluid != ActiveOil && m.Fluids != nil && slices.ContainsFunc(m.Fluids, func(f string) bool { return KindOfFluid(f) == ActiveOil }) {
		ways = append(ways, way{"sulphurised or chlorinated oil below ", activeOilStop * unit.MetrePerMinute, ""})
	}
	if v > worst.Low/2 {
		ways = append(ways, way{"slower, below about ", worst.Low / 2, ""})
	}
	switch {
	case t == HSS && m.Carbide.High > worst.High:
		ways = append(ways, way{"carbide at ", max(m.Carbide.Low, worst.High), " or more, if passes can be ended in time"})
	case t == Carbide:
		ways = append(ways, way{"faster, above about ", worst.High, ", if passes can be ended in time"})
	}
	return ways
}
