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
	{"fluids", false, texts(func(m *Material, v []string) { m.Fluids = v })},
	{"source.force", false, text(func(m *Material, v string) { m.Sources.Force = v })},
	{"source.speed", false, text(func(m *Material, v string) { m.Sources.Speed = v })},
	{"source.built_up_edge", false, text(func(m *Material, v string) { m.Sources.Edge = v })},
	{"source.physical", false, text(func(m *Material, v string) { m.Sources.Physical = v })},
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
	var errs []error
	for _, k := range sorted(doc) {
		if k != "material" {
			errs = append(errs, &unit.InputError{
				Field: fmt.Sprintf("%s:%d", name, lineOf(data, -1, k)), Value: k, Reason: "is not known here",
				Hint: "each material begins with [[material]]",
			})
		}
	}
	list, ok := doc["material"].([]map[string]any)
	if !ok || len(list) > mostMaterials {
		errs = append(errs, &unit.InputError{Field: name, Value: "material", Reason: fmt.Sprintf("is not a list of 1 to %d materials", mostMaterials), Hint: "begin each with [[material]]"})
		return nil, errors.Join(errs...)
	}
	ms := make([]Material, 0, len(list))
	for i, tab := range list {
		m, err := decodeMaterial(name, data, i, tab)
		errs = append(errs, err)
		ms = append(ms, m)
	}
	errs = append(errs, sameNames(name, ms))
	if err := errors.Join(errs...); err != nil {
		return nil, err
	}
	return ms, nil
}

func decodeMaterial(name string, data []byte, i int, tab map[string]any) (Material, error) {
	m := Material{Poisson: 0.3, Sources: Sources{"user", "user", "user", "user"}}
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
	var errs []error
	fault := func(k string, v any, reason, hint string) {
		errs = append(errs, &unit.InputError{Field: fmt.Sprintf("%s:%d: %s", name, lineOf(data, i, k), k), Value: fmt.Sprint(v), Reason: reason, Hint: hint})
	}
	for _, k := range materialKeys {
		v, ok := flat[k.name]
		if !ok {
			if k.required {
				fault(k.name, "", "is missing", "every material needs it")
			}
			continue
		}
		if err := k.set(&m, v); err != nil {
			fault(k.name, v, err.Error(), "")
		}
		delete(flat, k.name)
	}
	for _, k := range sorted(flat) {
		fault(k, flat[k], "is not a key of a material", "nearest: "+nearestKey(k))
	}
	if m.BuiltUpWorst.Given() && (m.BuiltUpWorst.Low < m.BuiltUp.Low || m.BuiltUpWorst.High > m.BuiltUp.High) {
		fault("built_up_edge_worst", flat["built_up_edge_worst"], "is not inside built_up_edge", "")
	}
	return m, errors.Join(errs...)
}

// sameNames reports names that fold to the same within one file.
func sameNames(file string, ms []Material) error {
	seen := map[string]string{}
	var errs []error
	for _, m := range ms {
		for _, n := range names(m) {
			f := fold(n)
			if f == "" {
				continue
			}
			if other, ok := seen[f]; ok {
				errs = append(errs, &unit.InputError{Field: file + ": name", Value: n, Reason: "is used twice, by " + other + " and " + m.Name})
			}
			seen[f] = m.Name
		}
	}
	return errors.Join(errs...)
}

// lineOf finds the line of a key in the i-th [[material]] table, or that of the
// table's head when the key is not written there; i < 0 searches before the first.
func lineOf(data []byte, i int, k string) int {
	at, head := -1, 1
	line := 0
	for raw := range bytes.Lines(data) {
		line++
		t := strings.TrimSpace(string(raw))
		if strings.HasPrefix(strings.ReplaceAll(t, " ", ""), "[[material]]") {
			at++
			if at == i {
				head = line
			}
			continue
		}
		left, _, _ := strings.Cut(t, "=")
		left = strings.Trim(strings.TrimSpace(left), `"[]`)
		if at == i && (left == k || "source."+left == k) {
			return line
		}
	}
	return head
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
