package cut

import (
	"errors"
	"fmt"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"thrum/internal/outside"
	"thrum/unit"
)

func TestEveryRowIsWhole(t *testing.T) {
	all := Materials()
	if len(all) < 25 {
		t.Fatalf("%d materials", len(all))
	}
	for _, m := range all {
		for _, s := range []string{m.Sources.Force, m.Sources.Speed, m.Sources.Edge, m.Sources.Physical, m.Kind} {
			if strings.TrimSpace(s) == "" || s == "user" {
				t.Errorf("%s: a source is missing", m.Name)
			}
		}
		if m.OwnTable || len(m.Fluids) == 0 || len(m.Also) == 0 || !m.HSS.Given() || !m.Carbide.Given() || m.Expansion <= 0 {
			t.Errorf("%s: the row is not whole: %+v", m.Name, m)
		}
		if m.HSS.High > m.Carbide.High {
			t.Errorf("%s: high-speed steel runs faster (%v) than carbide (%v)", m.Name, m.HSS, m.Carbide)
		}
		// Where a built-up edge is possible at all, the usual speeds lie on its slope or inside: the table must say which.
		if m.BuiltUp.Given() != m.BuiltUpWorst.Given() {
			t.Errorf("%s: a band without its worst zone", m.Name)
		}
	}
	all[0].Name = "changed"
	if Materials()[0].Name == "changed" {
		t.Error("the table can be changed from outside")
	}
}

func TestNames(t *testing.T) {
	for typed, want := range map[string]string{
		"1018": "1018", "AISI 1018": "1018", "sae1018": "1018", "C15": "1018", " c 45 ": "1045", "EN8": "1045", "11SMnPb30": "12L14", "12l14": "12L14",
		"X5CrNi18-10": "304", "304L": "304", "1.4404": "316", "42CrMo4+QT": "4140 prehard", "4140 prehard": "4140 prehard", "4140 annealed": "4140 annealed",
		"CuZn39Pb3": "360 brass", "C36000": "360 brass", "SAE 660": "932 bronze", "6061-T6": "6061", "EN AW-6082": "6082", "GG20": "grey iron", "gray iron": "grey iron",
		"EN-GJL-250": "meehanite", "S235JR": "A36", "TiAl6V4": "Ti-6Al-4V", "Delrin": "POM", "PA66": "nylon", "17-4": "17-4 PH", "silver steel": "silver steel", "O1": "O1 annealed",
	} {
		m, err := FindMaterial(typed)
		if err != nil || m.Name != want {
			t.Errorf("%q: found %q (%v), want %q", typed, m.Name, err, want)
		}
	}
	for typed, part := range map[string]string{
		"4140": "4140 annealed, 4140 prehard", "42CrMo4": "4140 annealed", "1o18": "1018", "delrn": "Delrin", "CuZn39Pb": "CuZn39Pb3", "": "write a name such as", "unobtainium": "describe your own",
	} {
		_, err := FindMaterial(typed)
		var in *unit.InputError
		if !errors.As(err, &in) || !strings.Contains(in.Hint, part) {
			t.Errorf("%q: %v, want a hint with %q", typed, err, part)
		}
	}
	if m, err := FindMaterial("ЛАТУНЬ л59", Material{Name: "латунь Л59"}); err != nil || m.Name != "латунь Л59" {
		t.Errorf("a name in other letters is not found: %v", err)
	}
	own := Material{Name: "1018", Specific: 1}
	if m, err := FindMaterial("AISI 1018", own); err != nil || m.Specific != 1 {
		t.Errorf("an own material does not take the place of the built-in one: %v %v", m, err)
	}
}

// TestPublishedForces compares every row that names a material group with kc1.1
// and mc as printed for that group, taken down once more.
func TestPublishedForces(t *testing.T) {
	const source = "an insert maker's turning catalogue, 2017, p. 558: material groups after VDI 3323"
	groups := map[int][2]float64{
		1: {1350, .21}, 2: {1500, .22}, 3: {1675, .24}, 4: {1700, .24}, 5: {1900, .24}, 6: {1775, .24}, 7: {1675, .24}, 8: {1725, .24}, 9: {1800, .24}, 10: {2450, .23},
		12: {1875, .21}, 13: {1875, .21}, 14: {2150, .20}, 15: {1150, .20}, 16: {1350, .28}, 17: {1225, .25}, 18: {1350, .28},
		21: {700, .25}, 22: {800, .25}, 26: {700, .27}, 27: {700, .27}, 28: {700, .27}, 36: {1700, .23}, 37: {2110, .22},
	}
	named := regexp.MustCompile(`^VDI 3323 group (\d+) as printed`)
	n := 0
	for _, m := range Materials() {
		g := named.FindStringSubmatch(m.Sources.Force)
		if g == nil {
			continue
		}
		n++
		i, _ := strconv.Atoi(g[1])
		want, ok := groups[i]
		if !ok {
			t.Errorf("%s: group %d was not taken down", m.Name, i)
			continue
		}
		outside.Check(t, outside.Claim{What: m.Name + ", kc1.1", Source: source, Status: outside.Read, Published: want[0], Ours: m.Specific.MPa(), Unit: "N/mm2"})
		outside.Check(t, outside.Claim{What: m.Name + ", mc", Source: source, Status: outside.Read, Published: want[1], Ours: m.Exponent, Unit: "-"})
	}
	if n < 25 {
		t.Errorf("only %d rows name their group", n)
	}
}

// TestPublishedCarbideSpeeds compares every row that names a group with the
// threading speeds printed for that group and a grade without coating.
func TestPublishedCarbideSpeeds(t *testing.T) {
	const source = "an insert maker's threading guide, 2022, p. 77: machining data for threading"
	groups := map[int][2]float64{
		1: {60, 100}, 2: {60, 95}, 3: {50, 90}, 4: {45, 85}, 6: {50, 95}, 7: {40, 75}, 8: {35, 70}, 10: {40, 65}, 12: {35, 70}, 13: {45, 60}, 14: {45, 75},
		15: {65, 85}, 16: {45, 65}, 17: {35, 70}, 18: {30, 60}, 21: {50, 195}, 22: {40, 115}, 26: {40, 135}, 27: {40, 135}, 28: {40, 130},
	}
	named := regexp.MustCompile(`carbide: group (\d+) in an insert maker`)
	n := 0
	for _, m := range Materials() {
		g := named.FindStringSubmatch(m.Sources.Speed)
		if g == nil {
			continue
		}
		n++
		i, _ := strconv.Atoi(g[1])
		for j, v := range []unit.Velocity{m.Carbide.Low, m.Carbide.High} {
			outside.Check(t, outside.Claim{What: fmt.Sprintf("%s, carbide threading speed %s", m.Name, []string{"from", "to"}[j]), Source: source, Status: outside.Read, Published: groups[i][j], Ours: v.MPerMin(), Unit: "m/min", Tolerance: 1e-9})
		}
	}
	if n < 25 {
		t.Errorf("only %d rows name their group", n)
	}
}

// TestPublishedProperties compares moduli and densities with those printed in the
// appendices of textbooks, within what they differ among each other.
func TestPublishedProperties(t *testing.T) {
	const (
		callister = "materials-science textbook, appendix B: density and modulus of elasticity at room temperature"
		statics   = "mechanics textbook, appendix C: material properties"
	)
	for _, r := range []struct {
		name, what, source string
		published          float64
		relative           float64
	}{
		{"1018", "density", callister, 7870, .005},
		{"1045", "density", callister, 7845, .005},
		{"4140 annealed", "density", callister, 7850, .005},
		{"4340", "density", callister, 7850, .005},
		{"316", "density", callister, 8000, .005},
		{"2024", "density", callister, 2780, .005},
		{"6061", "density", callister, 2700, .005},
		{"7075", "density", callister, 2810, .005},
		{"110 copper", "density", callister, 8890, .005},
		{"260 brass", "density", callister, 8530, .005},
		{"360 brass", "density", callister, 8500, .005},
		{"ductile iron", "density", callister, 7150, .01},
		{"1018", "modulus", callister, 207, .02},
		{"4140 annealed", "modulus", callister, 207, .02},
		{"304", "modulus", callister, 193, .01},
		{"316", "modulus", callister, 193, .01},
		{"2024", "modulus", callister, 72.4, .02},
		{"6061", "modulus", callister, 69, .01},
		{"7075", "modulus", callister, 71, .02},
		{"110 copper", "modulus", callister, 115, .02},
		{"ductile iron", "modulus", callister, 169, .01},
		{"ductile iron pearlitic", "modulus", callister, 168, .03},
		{"A36", "expansion", statics, 12, .05},
		{"304", "expansion", statics, 17, .03},
		{"6061", "expansion", statics, 24, .03},
		{"A36", "modulus", statics, 200, .03},
		{"Ti-6Al-4V", "density", statics, 4430, .001},
		{"A36", "density", statics, 7850, .001},
	} {
		m, err := FindMaterial(r.name)
		if err != nil {
			t.Fatal(err)
		}
		c := outside.Claim{What: m.Name + ", " + r.what, Source: r.source, Status: outside.Read, Published: r.published, Tolerance: r.relative * r.published}
		switch r.what {
		case "density":
			c.Ours, c.Unit = m.Density.KgPerM3(), "kg/m3"
		case "modulus":
			c.Ours, c.Unit = m.E.MPa()/1000, "GPa"
		case "expansion":
			c.Ours, c.Unit = m.Expansion*1e6, "um/(m K)"
		}
		outside.Check(t, c)
	}
}

// example is the TOML of docs/material-file.md.
func example(t testing.TB) string {
	t.Helper()
	text, err := os.ReadFile("../docs/material-file.md")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, ok := strings.Cut(string(text), "```toml\n")
	toml, _, ok2 := strings.Cut(rest, "```")
	if !ok || !ok2 {
		t.Fatal("docs/material-file.md has no example")
	}
	return toml
}

func TestDocumentedExample(t *testing.T) {
	ms, err := ReadMaterials("mine.toml", strings.NewReader(example(t)))
	if err != nil || len(ms) != 1 {
		t.Fatalf("%v, %d materials", err, len(ms))
	}
	m := ms[0]
	if !m.OwnTable || m.Name != "mystery bar" || m.Specific != 1450 || m.Exponent != 0.22 || m.Poisson != 0.3 ||
		m.HSS.Low != 30*unit.FootPerMinute || m.HSS.High != 45*unit.FootPerMinute || m.Carbide.High != 100*unit.MetrePerMinute ||
		m.Tendency != Moderate || m.Sources.Physical != "user" || m.Sources.Speed != "what has worked here" {
		t.Errorf("read as %+v", m)
	}
	found, err := FindMaterial("Rack 3 Red End", ms...)
	if err != nil || found.Name != "mystery bar" {
		t.Errorf("found %q, %v", found.Name, err)
	}
	doc, err := os.ReadFile("../docs/material-file.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range materialKeys {
		if !strings.Contains(string(doc), "`"+k.name+"`") {
			t.Errorf("docs/material-file.md does not explain %s", k.name)
		}
	}
}

func TestMaterialFaults(t *testing.T) {
	good := example(t)
	for _, c := range []struct{ replace, by, want string }{
		{"kc11_n_mm2 = 1450", `kc11_n_mm2 = "abc"`, `mine.toml:6: kc11_n_mm2 "abc": is not a number`},
		{"kc11_n_mm2 = 1450", "kc11_n_mm2 = 5", "is not between 10 and 10000"},
		{"mc = 0.22\n", "", `mine.toml:1: mc "": is missing`},
		{"hardness_hb = 150", "hardnes_hb = 150", "mine.toml:10: hardnes_hb \"150\": is not a key of a material; nearest: hardness_hb"},
		{`hss = "30-45 ft/min"`, `hss = "fast"`, `mine.toml:12: hss "fast": is not a range of speeds`},
		{`hss = "30-45 ft/min"`, `hss = "45-30 ft/min"`, "is not a range of speeds"},
		{`"moderate"`, `"lots"`, `is not "slight", "moderate" or "strong"`},
		{`"12-30 m/min"`, `"12-90 m/min"`, "is not inside built_up_edge"},
		{`also = [`, `also = [3, `, "is not a list of texts"},
		{"[[material]]", "[[material]", "cannot be read: expected end of table"},
		{"[[material]]", "x = 1\n[[material]]", `mine.toml:1: x "": is not known here`},
		{"source.speed", "source.sped", "source.sped"},
		{`name = "mystery bar"`, `name = ""`, "is not a text in quotes"},
		{"mc = 0.22", "mc = nan", "is not between"},
	} {
		text := strings.Replace(good, c.replace, c.by, 1)
		if text == good {
			t.Fatalf("%q is not in the example", c.replace)
		}
		ms, err := ReadMaterials("mine.toml", strings.NewReader(text))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%q for %q: %v (%d materials), want %q", c.by, c.replace, err, len(ms), c.want)
		}
	}
	if _, err := ReadMaterials("mine.toml", strings.NewReader(good+good)); err == nil || !strings.Contains(err.Error(), "used twice") {
		t.Errorf("the same name twice: %v", err)
	}
	two := strings.Replace(strings.Replace(good, "mc = 0.22\n", "", 1), "e_gpa = 205\n", "", 1)
	if _, err := ReadMaterials("mine.toml", strings.NewReader(two)); err == nil || !strings.Contains(err.Error(), "mc") || !strings.Contains(err.Error(), "e_gpa") {
		t.Errorf("two faults are not both reported: %v", err)
	}
	if _, err := ReadMaterials("mine.toml", strings.NewReader(strings.Repeat("#", mostMaterialBytes+1))); err == nil {
		t.Error("a file of more than 1 MB is read")
	}
	if _, err := ReadMaterials("mine.toml", strings.NewReader("")); err == nil {
		t.Error("an empty file holds no material, and that is not said")
	}
}

func FuzzReadMaterials(f *testing.F) {
	f.Add(example(f))
	f.Add("[[material]]\nname = 1\n")
	f.Add("material = 3")
	f.Add("[material]\nname='x'")
	f.Add("[[material]]\nsource = 3\nhss = \"-\"")
	f.Add("[[material]]\n[material.source]\nforce = []\n")
	f.Fuzz(func(t *testing.T, text string) {
		ms, err := ReadMaterials("fuzz.toml", strings.NewReader(text))
		if err != nil && err.Error() == "" {
			t.Error("an empty message")
		}
		for _, m := range ms {
			if _, err := FindMaterial(m.Name, ms...); fold(m.Name) != "" && err != nil {
				t.Errorf("%q was read and is not found: %v", m.Name, err)
			}
			if _, err := NewForce(m, Tool{Leading: thirty, Trailing: thirty}, 100); err != nil {
				t.Errorf("%q was read and cannot be reckoned with: %v", m.Name, err)
			}
		}
	})
}

func FuzzFindMaterial(f *testing.F) {
	f.Add("1018")
	f.Add("AISI ")
	f.Add("en en en")
	f.Add("\xff\xfe")
	f.Fuzz(func(t *testing.T, name string) {
		if _, err := FindMaterial(name); err != nil {
			var in *unit.InputError
			if !errors.As(err, &in) {
				t.Errorf("%q: %v is not an input error", name, err)
			}
		}
	})
}
