package cut

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"
	"sync"
	"unicode"

	"thrum/shaft"
	"thrum/unit"
)

// LineForce is a force per length of cutting edge in newtons per millimetre.
type LineForce float64

// NPerMM returns the force per length in newtons per millimetre.
func (f LineForce) NPerMM() float64 { return float64(f) }

// SpeedRange is a range of surface speeds. The zero value means that none is given.
type SpeedRange struct{ Low, High unit.Velocity }

// Middle returns the middle of the range.
func (r SpeedRange) Middle() unit.Velocity { return (r.Low + r.High) / 2 }

// Given reports whether the range holds anything.
func (r SpeedRange) Given() bool { return r.High > 0 }

// Tendency says how readily a material sticks to the edge.
type Tendency int

// From a material that hardly sticks at all to one that smears.
const (
	Slight Tendency = iota
	Moderate
	Strong
)

var tendencies = []string{"slight", "moderate", "strong"}

// String prints "slight", "moderate" or "strong".
func (t Tendency) String() string { return tendencies[t] }

// Rubbing is the C of the force C b / v x movement per second with which the land
// below the edge, b long, presses on the waves that it cuts, v being the surface
// speed: low, likely and high.
type Rubbing struct{ Low, Likely, High unit.Stiffness }

// Sources says where each part of a material's row comes from.
type Sources struct {
	Force    string `toml:"force"`         // kc1.1 and mc
	Speed    string `toml:"speed"`         // surface speeds
	Edge     string `toml:"built_up_edge"` // built-up-edge band
	Physical string `toml:"physical"`      // modulus, density, hardness, expansion
}

// Material is what the calculation knows about the stuff of the work.
type Material struct {
	Name     string   // "1018"
	Also     []string // other names: "C15", "1.0401"
	Kind     string   // "low-carbon steel"
	Remark   string   // a word to the machinist; may be empty
	OwnTable bool     // from the user's own file

	Specific  unit.Stress // kc1.1: cutting force per area of a chip 1 mm thick and 1 mm wide
	Exponent  float64     // mc: kc = kc1.1 h^-mc, h in millimetres
	EdgeForce LineForce   // Ke: rubbing force of a honed edge per length; used only when asked for
	Within    float64     // the part by which forces from kc1.1 may be off, either way, for chips thicker than 0.03 mm

	E         unit.Stress
	Poisson   float64
	Density   unit.Density
	Hardness  float64 // Brinell; zero for plastics
	Expansion float64 // coefficient of thermal expansion per kelvin

	HSS     SpeedRange // threading with high-speed steel
	Carbide SpeedRange // threading with carbide

	BuiltUp      SpeedRange  // speeds at which a built-up edge forms, at a chip of 0.1 mm
	BuiltUpWorst SpeedRange  // where it is worst
	Tendency     Tendency    //
	Hardens      unit.Length // least chip thickness below which the surface hardens under the edge; zero when it does not

	Rubbing Rubbing  // fitted from one's own cuts; zero where none were made
	Fluids  []string // in order of preference
	Sources Sources
}

// Stuff returns the elastic properties for package shaft.
func (m Material) Stuff() shaft.Stuff {
	return shaft.Stuff{E: m.E, Poisson: m.Poisson, Density: m.Density}
}

// Speeds returns the range of surface speeds for a tool material.
func (m Material) Speeds(t ToolMaterial) SpeedRange {
	if t == Carbide {
		return m.Carbide
	}
	return m.HSS
}

//go:embed data/materials.toml
var builtIn []byte

var table = sync.OnceValue(func() []Material {
	ms, err := decodeMaterials("materials.toml", builtIn)
	if err != nil {
		panic(err) // our own file; a test reads it
	}
	return ms
})

// byName finds a row of the table by its folded names, the row's own name before
// those that other rows have as well.
var byName = sync.OnceValue(func() map[string]int {
	at := map[string]int{}
	for i, m := range table() {
		for _, n := range m.Also {
			at[fold(n)] = i
		}
	}
	for i, m := range table() {
		at[fold(m.Name)] = i
	}
	return at
})

// Materials returns the built-in materials, in the order of the table: steels,
// stainless steels, irons, light metals, copper alloys, titanium, plastics.
func Materials() []Material { return slices.Clone(table()) }

// FindMaterial looks a material up by any of its names among the built-in ones,
// the user's own first. Capitals, spaces, dashes and the prefixes AISI, SAE, DIN,
// EN and UNS make no difference. An own material may carry the name of a built-in
// one and then takes its place.
func FindMaterial(name string, own ...Material) (Material, error) {
	key := fold(name)
	for _, m := range own {
		if key != "" && slices.ContainsFunc(names(m), func(n string) bool { return fold(n) == key }) {
			return m, nil
		}
	}
	if i, ok := byName()[key]; ok {
		return table()[i], nil
	}
	all := append(slices.Clone(own), table()...)
	reason, hint := "is not in the table of materials", "write a name such as 1018, 12L14, 1045, 4140 annealed, 304, grey iron, 6061 or 360 brass, or describe your own in a file"
	if near := nearest(key, all); len(near) > 0 {
		hint = "nearest: " + strings.Join(near, ", ")
	} else if several := holding(key, all); len(key) >= 3 && len(several) > 0 {
		hint = "write one of: " + strings.Join(several[:min(len(several), 6)], ", ")
	}
	if len(key) >= 3 {
		if several := beginning(key, all); len(several) > 1 {
			reason, hint = "is more than one material", "write one of: "+strings.Join(several[:min(len(several), 6)], ", ")
		}
	}
	return Material{}, &unit.InputError{Field: "material", Value: name, Reason: reason, Hint: hint}
}

// fold brings a name to the form in which names are compared.
func fold(name string) string {
	s := strings.ToLower(strings.TrimSpace(name))
	if len(s) > 80 {
		s = s[:80]
	}
	for _, prefix := range []string{"aisi", "sae", "din", "uns", "en ", "iso", "astm"} {
		if rest := strings.TrimSpace(strings.TrimPrefix(s, prefix)); rest != "" {
			s = rest
		}
	}
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return r
		}
		return -1
	}, s)
}

func names(m Material) []string { return append([]string{m.Name}, m.Also...) }

// holding returns the materials one of whose names holds key, as "brass" is held by
// "360 brass".
func holding(key string, all []Material) []string {
	var out []string
	for _, m := range all {
		if slices.ContainsFunc(names(m), func(n string) bool { return strings.Contains(fold(n), key) }) {
			out = append(out, m.Name)
		}
	}
	return out
}

// beginning returns the materials one of whose names begins with key.
func beginning(key string, all []Material) []string {
	var out []string
	for _, m := range all {
		for _, n := range names(m) {
			if strings.HasPrefix(fold(n), key) {
				out = append(out, m.Name)
				break
			}
		}
	}
	return out
}

// nearest returns up to three names that differ least from key.
func nearest(key string, all []Material) []string {
	type scored struct {
		name string
		by   int
	}
	if key == "" {
		return nil
	}
	var best []scored
	limit := max(2, len(key)/3)
	for _, m := range all {
		for _, n := range names(m) {
			by := distance(key, fold(n))
			if by > limit {
				continue
			}
			at := len(best)
			for at > 0 && best[at-1].by > by {
				at--
			}
			best = append(best[:at], append([]scored{{label(n, m), by}}, best[at:]...)...)
			break
		}
	}
	var out []string
	for _, b := range best[:min(3, len(best))] {
		out = append(out, b.name)
	}
	return out
}

func label(name string, m Material) string {
	if name == m.Name {
		return name
	}
	return fmt.Sprintf("%s (%s)", name, m.Name)
}

// distance is the number of single letters to insert, delete or change to turn a
// into b.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := 1; i <= len(a); i++ {
		diag := row[0]
		row[0] = i
		for j := 1; j <= len(b); j++ {
			change := diag
			if a[i-1] != b[j-1] {
				change++
			}
			diag = row[j]
			row[j] = min(change, row[j]+1, row[j-1]+1)
		}
	}
	return row[len(b)]
}

// isIron reports whether the material is a cast iron, for which the tables of
// cutting force were made with a smaller rake.
func isIron(m Material) bool { return strings.Contains(m.Kind, "cast iron") }
