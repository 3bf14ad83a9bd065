package cut

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/BurntSushi/toml"

	"thrum/unit"
)

const (
	mostMaterialBytes = 1 << 20
	mostMaterials     = 1000
)

// ReadMaterials reads a user's own materials, as docs/material-file.md describes
// them. The name is used in error messages, which give line and key; all faults
// are reported at once (errors.Join).
func ReadMaterials(name string, r io.Reader) ([]Material, error) {
	text, err := io.ReadAll(io.LimitReader(r, mostMaterialBytes+1))
	if err != nil {
		return nil, fmt.Errorf("reading materials %s: %w", name, err)
	}
	if len(text) > mostMaterialBytes {
		return nil, &unit.InputError{Field: name, Value: fmt.Sprintf("%d bytes and more", len(text)), Reason: "is too long for a file of materials", Hint: "1 MB at most"}
	}
	ms, err := decodeMaterials(name, text)
	for i := range ms {
		ms[i].OwnTable = true
	}
	return ms, err
}

// key describes one key of a material's table: how it is stored, and how it is
// checked.
type key struct {
	name     string
	required bool
	set      func(*Material, any) error
}

func number(lo, hi float64, set func(m *Material, v float64)) func(*Material, any) error {
	return func(m *Material, v any) error {
		var f float64
		switch x := v.(type) {
		case float64:
			f = x
		case int64:
			f = float64(x)
		default:
			return errors.New("is not a number")
		}
		if !(f >= lo && f <= hi) {
			return fmt.Errorf("is not between %g and %g", lo, hi)
		}
		set(m, f)
		return nil
	}
}

func text(set func(m *Material, v string)) func(*Material, any) error {
	return func(m *Material, v any) error {
		s, ok := v.(string)
		if !ok || strings.TrimSpace(s) == "" {
			return errors.New("is not a text in quotes")
		}
		set(m, strings.TrimSpace(s))
		return nil
	}
}

func texts(set func(m *Material, v []string)) func(*Material, any) error {
	return func(m *Material, v any) error {
		list, ok := v.([]any)
		out := make([]string, 0, len(list))
		for _, x := range list {
			s, is := x.(string)
			ok = ok && is && strings.TrimSpace(s) != ""
			out = append(out, strings.TrimSpace(s))
		}
		if !ok {
			return errors.New(`is not a list of texts like ["C45", "1.0503"]`)
		}
		set(m, out)
		return nil
	}
}

func speeds(set func(m *Material, v SpeedRange)) func(*Material, any) error {
	return func(m *Material, v any) error {
		s, ok := v.(string)
		if !ok {
			return errors.New(`is not a text like "9-12 m/min"`)
		}
		r, err := parseSpeeds(s)
		if err != nil {
			return err
		}
		set(m, r)
		return nil
	}
}

func tendency(m *Material, v any) error {
	s, _ := v.(string)
	i := slices.Index(tendencies, strings.ToLower(strings.TrimSpace(s)))
	if i < 0 {
		return errors.New(`is not "slight", "moderate" or "strong"`)
	}
	m.Tendency = Tendency(i)
	return nil
}

// rubbingRange reads low, likely and high: "7e4, 1.1e5, 1.8e5".
func rubbingRange(m *Material, v any) error {
	text, _ := v.(string)
	var f []float64
	for _, part := range strings.Split(text, ",") {
		x, err := strconv.ParseFloat(strings.TrimSpace(part), 64)
		if err != nil {
			f = nil
			break
		}
		f = append(f, x)
	}
	if len(f) != 3 || !(f[0] > 0 && f[0] <= f[1] && f[1] <= f[2] && f[2] <= 1e8) {
		return errors.New(`is not low, likely and high in N/m like "7e4, 1.1e5, 1.8e5"`)
	}
	m.Rubbing = Rubbing{unit.Stiffness(f[0] / 1000), unit.Stiffness(f[1] / 1000), unit.Stiffness(f[2] / 1000)}
	return nil
}

// parseSpeeds reads "9-12 m/min" or "30-40 ft/min"; one figure stands for both ends.
func parseSpeeds(s string) (SpeedRange, error) {
	bad := errors.New(`is not a range of speeds like "9-12 m/min" or "30-40 ft/min"`)
	per := unit.Velocity(0)
	t := strings.ToLower(strings.TrimSpace(s))
	for _, u := range []struct {
		suffix string
		v      unit.Velocity
	}{{"m/min", unit.MetrePerMinute}, {"ft/min", unit.FootPerMinute}, {"sfm", unit.FootPerMinute}} {
		if strings.HasSuffix(t, u.suffix) {
			t, per = strings.TrimSpace(strings.TrimSuffix(t, u.suffix)), u.v
			break
		}
	}
	if per == 0 {
		return SpeedRange{}, bad
	}
	lo, hi, two := strings.Cut(t, "-")
	if !two {
		hi = lo
	}
	a, err1 := strconv.ParseFloat(strings.TrimSpace(lo), 64)
	b, err2 := strconv.ParseFloat(strings.TrimSpace(hi), 64)
	if err1 != nil || err2 != nil || !(a > 0) || !(b >= a) || b > 10000 {
		return SpeedRange{}, bad
	}
	return SpeedRange{unit.Velocity(a) * per, unit.Velocity(b) * per}, nil
}

// materialKeys lists every key, in the order of the documentation.
var materialKeys = []key{
	{"name", true, text(func(m *Material, v string) { m.Name = v })},
	{"also", false, texts(func(m *Material, v []string) { m.Also = v })},
	{"kind", false, text(func(m *Material, v string) { m.Kind = v })},
	{"remark", false, text(func(m *Material, v string) { m.Remark = v })},
	{"kc11_n_mm2", true, number(10, 10000, func(m *Material, v float64) { m.Specific = unit.Stress(v) })},
	{"mc", true, number(0, 0.6, func(m *Material, v float64) { m.Exponent = v })},
	{"ke_n_mm", false, number(0, 500, func(m *Material, v float64) { m.EdgeForce = LineForce(v) })},
	{"kc_uncertainty", false, number(0.01, 2, func(m *Material, v float64) { m.Within = v })},
	{"e_gpa", true, number(0.1, 1000, func(m *Material, v float64) { m.E = unit.Stress(v) * unit.Gigapascal })},
	{"poisson", false, number(0, 0.5, func(m *Material, v float64) { m.Poisson = v })},
	{"density_kg_m3", true, number(100, 25000, func(m *Material, v float64) { m.Density = unit.Density(v) * unit.KilogramPerCubicMetre })},
	{"hardness_hb", false, number(1, 800, func(m *Material, v float64) { m.Hardness = v })},
	{"expansion_um_m_k", false, number(0, 500, func(m *Material, v float64) { m.Expansion = v * 1e-6 })},
	{"hss", true, speeds(func(m *Material, v SpeedRange) { m.HSS = v })},
	{"carbide", true, speeds(func(m *Material, v SpeedRange) { m.Carbide = v })},
	{"built_up_edge", false, speeds(func(m *Material, v SpeedRange) { m.BuiltUp = v })},
	{"built_up_edge_worst", false, speeds(func(m *Material, v SpeedRange) { m.BuiltUpWorst = v })},
	{"built_up_edge_tendency", false, tendency},
	{"hardens_below_mm", false, number(0.001, 1, func(m *Material, v float64) { m.Hardens = unit.Length(v) })},
	{"rubbing_n_m", false, rubbingRange},
	{"fluids", false, texts(func(m *Material, v []string) { m.Fluids = v })},
	{"source.force", false, text(func(m *Material, v string) { m.Sources.Force = v })},
	{"source.speed", false, text(func(m *Material, v string) { m.Sources.Speed = v })},
	{"source.built_up_edge", false, text(func(m *Material, v string) { m.Sources.Edge = v })},
	{"source.physical", false, text(func(m *Material, v string) { m.Sources.Physical = v })},
}

// usualWithin is the part by which tables of cutting force are off among each
// other; from memory, common to handbooks.
const usualWithin = 0.25

// mostFaults is how many faults are reported; more would not be read.
const mostFaults = 30

// reader collects what a file of materials holds and what is wrong with it.
type reader struct {
	name  string
	lines map[string]int // line of each key, by lineKey
	errs  []error
}

// fault notes that a value cannot be used; at is a key of the i-th material, or
// of the file itself for i < 0.
func (r *reader) fault(i int, at, value, reason, hint string) {
	if len(r.errs) >= mostFaults {
		return
	}
	line, ok := r.lines[lineKey(i, at)]
	if !ok {
		line = max(r.lines[lineKey(i, "")], 1)
	}
	r.errs = append(r.errs, &unit.InputError{Field: fmt.Sprintf("%s:%d: %s", r.name, line, at), Value: value, Reason: reason, Hint: hint})
}

// decodeMaterials reads the TOML text; name stands in front of each fault.
func decodeMaterials(name string, data []byte) ([]Material, error) {
	var doc map[string]any
	if _, err := toml.Decode(string(data), &doc); err != nil {
		var pe toml.ParseError
		if errors.As(err, &pe) {
			return nil, &unit.InputError{Field: fmt.Sprintf("%s:%d", name, pe.Position.Line), Value: pe.LastKey, Reason: "cannot be read: " + pe.Message}
		}
		return nil, &unit.InputError{Field: name, Value: "", Reason: "cannot be read: " + err.Error()}
	}
	r := &reader{name: name, lines: linesOf(data)}
	for _, k := range sorted(doc) {
		if k != "material" {
			r.fault(-1, k, "", "is not known here", "each material begins with [[material]]")
		}
	}
	list, ok := doc["material"].([]map[string]any)
	if !ok || len(list) > mostMaterials {
		r.fault(-1, "material", "", fmt.Sprintf("is not a list of 1 to %d materials", mostMaterials), "begin each with [[material]]")
	}
	var ms []Material
	seen := map[string]string{}
	for i, tab := range list[:min(len(list), mostMaterials)] {
		m := r.material(i, tab)
		r.sameNames(i, m, seen)
		ms = append(ms, m)
	}
	if len(r.errs) > 0 {
		return nil, errors.Join(r.errs...)
	}
	return ms, nil
}

func (r *reader) material(i int, tab map[string]any) Material {
	m := Material{Poisson: 0.3, Within: usualWithin, Sources: Sources{"user", "user", "user", "user"}}
	flat := map[string]any{}
	for k, v := range tab {
		if sub, ok := v.(map[string]any); ok && k == "source" {
			for k2, v2 := range sub {
				flat["source."+k2] = v2
			}
			continue
		}
		flat[k] = v
	}
	for _, k := range materialKeys {
		v, ok := flat[k.name]
		if !ok {
			if k.required {
				r.fault(i, k.name, "", "is missing", "every material needs it")
			}
			continue
		}
		if err := k.set(&m, v); err != nil {
			r.fault(i, k.name, short(v), err.Error(), "")
		}
		delete(flat, k.name)
	}
	for _, k := range sorted(flat) {
		r.fault(i, k, short(flat[k]), "is not a key of a material", "nearest: "+nearestKey(k))
	}
	if m.BuiltUpWorst.Given() && (m.BuiltUpWorst.Low < m.BuiltUp.Low || m.BuiltUpWorst.High > m.BuiltUp.High) {
		r.fault(i, "built_up_edge_worst", "", "is not inside built_up_edge", "")
	}
	return m
}

// short prints a value for an error message.
func short(v any) string {
	switch x := v.(type) {
	case string:
		return x
	case int64, float64, bool:
		return fmt.Sprint(x)
	}
	return "..."
}

// sameNames reports names that fold to the same within one file.
func (r *reader) sameNames(i int, m Material, seen map[string]string) {
	for _, n := range names(m) {
		f := fold(n)
		if f == "" {
			continue
		}
		if other, ok := seen[f]; ok {
			r.fault(i, "name", n, "is used twice, by "+other+" and "+m.Name, "")
		}
		seen[f] = m.Name
	}
}

func lineKey(i int, key string) string { return strconv.Itoa(i) + " " + key }

// linesOf finds the line of each key of each [[material]], and of each head.
func linesOf(data []byte) map[string]int {
	out := map[string]int{}
	at, line, table := -1, 0, ""
	for raw := range bytes.Lines(data) {
		line++
		t := strings.TrimSpace(string(raw))
		switch head := strings.ReplaceAll(t, " ", ""); {
		case strings.HasPrefix(head, "[[material]]"):
			at, table = at+1, ""
			out[lineKey(at, "")] = line
			continue
		case strings.HasPrefix(head, "[material.source]"):
			table = "source."
			continue
		}
		left, _, ok := strings.Cut(t, "=")
		if left = strings.Trim(strings.TrimSpace(left), `"`); ok && len(left) < 100 {
			out[lineKey(at, table+left)] = line
		}
	}
	return out
}

func sorted(m map[string]any) []string {
	out := make([]string, 0, len(m))
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

func nearestKey(k string) string {
	best, by := "", math.MaxInt
	for _, c := range materialKeys {
		if d := distance(k[:min(len(k), 60)], c.name); d < by {
			best, by = c.name, d
		}
	}
	return best
}
