package lathe

import (
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/unit"
)

// faultsOf unpacks a joined error.
func faultsOf(t testing.TB, err error) []*unit.InputError {
	t.Helper()
	var all []*unit.InputError
	if err == nil {
		return nil
	}
	list := []error{err}
	if j, ok := err.(interface{ Unwrap() []error }); ok {
		list = j.Unwrap()
	}
	for _, e := range list {
		var in *unit.InputError
		if !errors.As(e, &in) {
			t.Fatalf("%v (%T) is not an input error", e, e)
		}
		all = append(all, in)
	}
	return all
}

func exampleText(t testing.TB, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join("..", "examples", "lathes", name))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// lineOf returns the line on which a piece of the file stands.
func lineOf(t *testing.T, text, piece string) int {
	t.Helper()
	i := strings.Index(text, piece)
	if i < 0 {
		t.Fatalf("%q is not in the file", piece)
	}
	return 1 + strings.Count(text[:i], "\n")
}

// One thing is changed in a sound file; the error names line, key, value and cure.
func TestFaults(t *testing.T) {
	tests := []struct {
		name, old, with string
		field           string // key in the error
		at              string // text on the line that must be named
		value, reason   string
		hint            string
	}{
		{"misspelt key", "tpi = 8 ", "tip = 8 ", "leadscrew.tip", "tip = 8", "tip", "is not a key", `did you mean "tpi"?`},
		{"misspelt table", "[chuck]", "[chuk]", "chuk", "[chuk]", "chuk", "is not a key", `did you mean "chuck"?`},
		{"key of another table", "swing = 9 ", "runout = 9 ", "bed.runout", "runout = 9", "runout", "is not a key", `"runout" belongs under [spindle]`},
		{"key nobody knows", "swing = 9 ", "zzzzzz = 9 ", "bed.zzzzzz", "zzzzzz = 9", "zzzzzz", "is not a key", "the keys here are swing"},
		{"key missing", "swing = 9 ", "#", "bed.swing", "[bed]", "", "is missing", "add swing"},
		{"table missing", "[spindle]", "[spindles]", "spindle", "# An inch bench lathe", "", "is missing", "[spindle]"},
		{"misspelt word", `nose = "screw-on"`, `nose = "screwon"`, "spindle.nose", "nose =", "screwon", "is not one of the words", `did you mean "screw-on"?`},
		{"word nobody knows", `kind = "single-phase"`, `kind = "water"`, "motor.kind", "water", "water", "is not one of the words", `"treadle"`},
		{"number for a word", `nose = "screw-on"`, `nose = 4`, "spindle.nose", "nose = 4", "4", "is a number", "quotes"},
		{"word for a flag", "stop = true", `stop = "yes"`, "carriage.stop", `stop = "yes"`, "yes", "true or false is wanted", "true or false"},
		{"not a length", "swing = 9 ", `swing = "nine"`, "bed.swing", "nine", "nine", "is not a length", "12.7mm"},
		{"infinite", "swing = 9 ", "swing = inf", "bed.swing", "swing = inf", "inf", "is not a length", ""},
		{"nan", "swing = 9 ", "swing = nan", "bed.swing", "swing = nan", "nan", "is not a length", ""},
		{"negative", "swing = 9 ", "swing = -9", "bed.swing", "swing = -9", "-9", "is outside the range", "in is accepted"},
		{"beyond any lathe", "swing = 9 ", `swing = "9 m"`, "bed.swing", `"9 m"`, "9 m", "is not a length", ""},
		{"too large", "swing = 9 ", "swing = 9000", "bed.swing", "swing = 9000", "9000", "is outside the range", "196.85 in"},
		{"200 digits", "swing = 9 ", "swing = 0." + strings.Repeat("9", 200), "bed.swing", "swing = 0.9", "0." + strings.Repeat("9", 200), "is longer than any dimension", ""},
		{"zero threads", "tpi = 8 ", "tpi = 0 ", "leadscrew.tpi", "tpi = 0", "0", "threads per inch", "such as 8"},
		{"both lead and tpi", "tpi = 8 ", "lead = \"4mm\"\ntpi = 8 ", "leadscrew", "[leadscrew]", "tpi, lead", "more than once", "exactly one"},
		{"half a starts", "starts = 1", "starts = 1.5", "leadscrew.starts", "starts = 1.5", "1.5", "whole number", ""},
		{"hand", `hand = "right"`, `hand = "widdershins"`, "leadscrew.hand", "widdershins", "widdershins", "is not a hand", `"left"`},
		{"stud ratio", `stud_ratio = "1" `, `stud_ratio = "1/0" `, "drive.stud_ratio", `"1/0"`, "1/0", "zero denominator", ""},
		{"stud ratio of no wheels", `stud_ratio = "1" `, `stud_ratio = 0.3333333 `, "drive.stud_ratio", "0.3333333", "0.3333333", "ratio of wheels", "24/48"},
		{"one wheel", "owned = [20, 24, 28, 32, 32, 36, 40, 44, 46, 48, 52, 54, 56, 60, 64, 64, 72, 80, 100, 127]", "owned = [20]", "gears.owned", "owned = ", "1", "number of wheels", "from 2"},
		{"wheel of 3", "owned = [20, 24", "owned = [3, 24", "gears.owned", "owned = ", "3", "outside the range", "8 to 400"},
		{"slot", "slot_max = 5.75", "slot_max = 1.3", "banjo.slot_max", "slot_max", "1.3", "not greater", "axis of the screw"},
		{"present wheels", "wheels = [32, 80, 80, 64]", "wheels = [32, 24, 24, 36]", "present.wheels", "wheels =", "[32 24 24 36]", "slot begins too far out", "measured for [banjo]"},
		{"present levers", `levers = "A"` + "\n", `levers = "F"` + "\n", "present.levers", `levers = "F"`, "F", "is not a position", "A, B, C"},
		{"lever twice", `levers = "B", tpi`, `levers = "A", tpi`, "gearbox.position.levers", `levers = "A", tpi = 16`, "A", "engraved twice", ""},
		{"position without thread", "tpi = 16 }", "}", "gearbox.position", `levers = "B",`, "ratio, tpi, lead", "is missing", "exactly one"},
		{"mark twice", `marks = ["1", "", "2", "", "3", "", "4", ""]`, `marks = ["1", "", "1", "", "3", "", "4", ""]`, "threading_dial.marks", `"1", "", "1"`, "1", "twice", ""},
		{"dial division", "division = 0.001", "division = 1.001", "cross_slide.dial.division", "division = 1.001", "1.001", "not a division", "0.001in"},
		{"dial turn", "divisions = 100 ", "divisions = 5 ", "cross_slide.dial.divisions", "divisions = 5 ", "5", "a turn", "direct or diameter"},
		{"lost motion", "lost_motion = 0.012", "lost_motion = 12", "cross_slide.dial.lost_motion", "lost_motion = 12", "12", "outside the range", ""},
		{"back gear without teeth", "[back_gear]\nmeshes = [[24, 60], [20, 48]]", "", "speed.back_gear", "back_gear = true", "true", "no back gear", "[back_gear]"},
		{"mesh of three", "meshes = [[24, 60], [20, 48]]", "meshes = [[24, 60, 2], [20, 48]]", "back_gear.meshes", "meshes = ", "3", "number of entries", "[driver, driven]"},
		{"flat mesh", "meshes = [[24, 60], [20, 48]]", "meshes = [24, 60]", "back_gear.meshes", "meshes = ", "1", "number of entries", "[driver, driven]"},
		{"power without unit", `power = "0.5 hp"`, "power = 0.5", "motor.power", "power = 0.5", "0.5", "no unit", "hp"},
		{"nose thread on a cam-lock", `nose = "screw-on"`, `nose = "cam-lock"`, "spindle.nose_thread", "nose_thread", "1-1/2-8", "belongs to a screw-on nose", ""},
		{"brake turns without brake", "coast_turns = [0.2, 0.2]", "brake_turns = [0.2, 0.2]", "speed.brake_turns", "brake_turns", "2", "no brake", "[brake]"},
		{"speed label twice", `label = "slow 2"`, `label = "slow 1"`, "speed.label", `rpm = 320`, "slow 1", "used twice", ""},
		{"table for a value", "swing = 9 ", "swing = { a = 1 } ", "bed.swing", "swing = {", "", "is a table", ""},
		{"date", "swing = 9 ", "swing = 1979-05-27 ", "bed.swing", "1979", "1979-05-27", "is a date", ""},
		{"escape in a name", `name = "Bench`, `name = "Bell\u0007`, "name", "name =", "", "cannot be printed", ""},
	}
	base := exampleText(t, "inch-bench.toml")
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			text := strings.Replace(base, tt.old, tt.with, 1)
			if text == base {
				t.Fatalf("%q is not in the example", tt.old)
			}
			_, err := Parse("inch-bench.toml", []byte(text))
			field := place("inch-bench.toml", lineOf(t, text, tt.at)) + ": " + tt.field
			if tt.name == "speed label twice" {
				field = place("inch-bench.toml", lineOf(t, text, tt.at)+1) + ": " + tt.field
			}
			all := faultsOf(t, err)
			i := slices.IndexFunc(all, func(e *unit.InputError) bool { return e.Field == field })
			if i < 0 {
				t.Fatalf("no fault at %q in:\n%v", field, err)
			}
			e := all[i]
			if tt.value != "" && e.Value != tt.value || !strings.Contains(e.Reason, tt.reason) || !strings.Contains(e.Hint, tt.hint) {
				t.Errorf("got value %q, reason %q, hint %q\nwant %q, %q, %q", e.Value, e.Reason, e.Hint, tt.value, tt.reason, tt.hint)
			}
		})
	}
}

// All faults come at once, and a fault does not draw false ones after it.
func TestAllFaultsAtOnce(t *testing.T) {
	text := exampleText(t, "inch-bench.toml")
	for _, r := range [][2]string{
		{"tpi = 8 ", "tpl = 8 "},
		{"swing = 9 ", "swing = 9000 "},
		{`nose = "screw-on"`, `nose = "screw"`},
		{"divisions = 100 ", "divisions = many "},
		{"jaws = 3", "jaws = 33"},
	} {
		text = strings.Replace(text, r[0], r[1], 1)
	}
	text = strings.Replace(text, "divisions = many ", `divisions = "many" `, 1)
	_, err := Parse("x.toml", []byte(text))
	var got []string
	for _, e := range faultsOf(t, err) {
		_, key, _ := strings.Cut(e.Field, ": ")
		got = append(got, key)
	}
	want := []string{"leadscrew.tpl", "cross_slide.dial.divisions", "spindle.nose", "bed.swing", "chuck.jaws"}
	if !slices.Equal(got, want) {
		t.Errorf("faults at %v, want %v\n%v", got, want, err)
	}
}

func TestSyntaxErrors(t *testing.T) {
	for _, tt := range []struct{ name, text, field, value string }{
		{"no value", "name = \"a\"\nunits =\n", "f.toml:2", "units ="},
		{"twice", "name = \"a\"\nname = \"b\"\n", "f.toml:2", `name = "b"`},
		{"table twice", "[bed]\n[bed]\n", "f.toml:2", "[bed]"},
		{"not TOML", "{\"json\": 1}", "f.toml:1", "{\"json\": 1}"},
		{"NUL", "name = \"a\x00\"", "f.toml:1", ""},
		{"not UTF-8", "name = \"\xff\"", "f.toml", ""},
		{"too large", strings.Repeat("# x\n", MostBytes/4+1), "f.toml", ""},
		{"leading zero", "name = \"a\"\nx = 08\n", "f.toml:2", "x = 08"},
		{"too many keys", "x = {" + strings.Repeat("a=1,", 100_000) + "}", "f.toml", ""},
		{"long dotted key", strings.Repeat("a.", 400_000) + "a = 1", "f.toml", ""},
		{"deep", strings.Repeat("x = [", 1) + strings.Repeat("[", 100_000), "f.toml", ""},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := Parse("f.toml", []byte(tt.text))
			all := faultsOf(t, err)
			if len(all) != 1 || !strings.HasPrefix(all[0].Field, tt.field) || tt.value != "" && all[0].Value != tt.value || all[0].Reason == "" {
				t.Errorf("got %v, want one fault at %s of %q", err, tt.field, tt.value)
			}
			if len(err.Error()) > 500 {
				t.Errorf("message of %d bytes", len(err.Error()))
			}
		})
	}
}

// A file of nothing but nonsense is answered shortly.
func TestManyFaults(t *testing.T) {
	var b strings.Builder
	for i := range 9_000 {
		b.WriteString("k" + strings.Repeat("y", i%7) + string(rune('a'+i%26)) + "_" + "x" + itoa(i) + " = 1\n")
	}
	_, err := Parse("f.toml", []byte(b.String()))
	all := faultsOf(t, err)
	if len(all) != mostFaults+1 || !strings.Contains(all[mostFaults].Reason, "further faults") {
		t.Errorf("%d faults reported", len(all))
	}
}

func itoa(i int) string {
	s := ""
	for ; i > 0; i /= 10 {
		s = string(rune('0'+i%10)) + s
	}
	return s
}

func TestExampleFigures(t *testing.T) {
	l := example(t, "inch-bench.toml")
	if l.Leadscrew.Lead != unit.MustRatio(127, 40) || l.Leadscrew.System() != unit.Inches {
		t.Errorf("leadscrew %v", l.Leadscrew)
	}
	if l.Gears.Module.Format(unit.Metric, 4) != "1.0583 mm" {
		t.Errorf("module %v", l.Gears.Module)
	}
	if got := l.Gearbox.Positions[2].Ratio; got != unit.MustRatio(1, 4) {
		t.Errorf("32 tpi on an 8 tpi screw: ratio %v, want 1/4", got)
	}
	if l.CrossSlide.Dial.Turn() != 2.54 || l.Motor.Power != unit.Power(0.5)*unit.Horsepower {
		t.Errorf("cross dial turn %v, power %v", l.CrossSlide.Dial.Turn(), l.Motor.Power)
	}
	if got := l.Speeds[0].CoastTurns; len(got) != 2 || got[0] != unit.MustRatio(1, 5) {
		t.Errorf("coast turns %v", got)
	}
	m := example(t, "metric-geared.toml")
	if m.Leadscrew.System() != unit.Metric || m.CrossSlide.Dial.Turn() != 2 || m.Compound.Dial.Turn() != 2 {
		t.Errorf("metric: %v, cross %v, compound %v a turn", m.Leadscrew, m.CrossSlide.Dial.Turn(), m.Compound.Dial.Turn())
	}
	if p, err := m.position("D 6"); err != nil || p.Ratio != unit.MustRatio(7, 2) {
		t.Errorf("D 6: %v, %v", p, err)
	}
	if m.Stiffness.Chuck != 45000 || m.Stiffness.ChuckTilt != 60_000_000 || m.Speeds[0].Torque != 150_000 {
		t.Errorf("stiffness %+v, torque %v", m.Stiffness, m.Speeds[0].Torque)
	}
	for _, s := range m.Speeds { // the wheels of the head make the speeds of the plate from one input speed
		n := 960.0
		for _, x := range s.Meshes {
			n *= float64(x.Driver()) / float64(x.Driven())
		}
		if r := n / s.RPM.RPM(); r < 0.97 || r > 1.03 {
			t.Errorf("%s: wheels give %.0f rpm, plate says %.0f", s.Label, n, s.RPM.RPM())
		}
	}
	if l.Text() != exampleText(t, "inch-bench.toml") {
		t.Error("the text is not kept")
	}
}

// Every key of the schema is explained in docs/lathe-file.md, and stands in at
// least one example.
func TestEveryKeyIsDocumented(t *testing.T) {
	doc, err := os.ReadFile(filepath.Join("..", "docs", "lathe-file.md"))
	if err != nil {
		t.Fatal(err)
	}
	used := map[string]bool{}
	for _, name := range []string{"inch-bench.toml", "metric-geared.toml"} {
		root, err := readTree(name, []byte(exampleText(t, name)))
		if err != nil {
			t.Fatal(err)
		}
		mark(root, "", used)
	}
	for _, k := range schema() {
		if !strings.Contains(string(doc), "`"+k+"`") {
			t.Errorf("docs/lathe-file.md does not explain `%s`", k)
		}
		if !used[k] {
			t.Errorf("no example has %s", k)
		}
	}
}

// The words of a key in a form are those of docs/lathe-file.md, and no key is
// without.
func TestKeysSayWhatTheDocumentSays(t *testing.T) {
	doc, err := os.ReadFile(filepath.Join("..", "docs", "lathe-file.md"))
	if err != nil {
		t.Fatal(err)
	}
	plain := strings.NewReplacer("`", "", "**needed**; ", "", "**needed** ", "", "**needed**", "").Replace(string(doc))
	seen := map[string]Key{}
	for _, k := range Keys() {
		seen[k.Path] = k
		if !strings.Contains(plain, "| "+k.Path+" | "+k.Words+" |") && k.Words != "" {
			t.Errorf("%s: the document does not say %q", k.Path, k.Words)
		}
	}
	for _, k := range schema() {
		if _, ok := seen[k]; !ok {
			t.Errorf("%s is not in data/keys.csv", k)
		}
	}
	for path, want := range map[string]KeyKind{
		"name": Word, "units": Choice, "bed": Table, "bed.swing": Figure, "leadscrew.hand": Choice, "leadscrew.electronic": YesNo, "gears.owned": Figures,
		"speed": Tables, "speed.coast_turns": Figures, "speed.meshes": List, "back_gear.meshes": List, "threading_dial.marks": List, "spindle.nose": Choice, "motor.power": Figure,
		"gearbox.position": Tables, "compound.protractor.zero_means": Choice, "stiffness.chuck": Figure,
	} {
		if seen[path].Kind != want {
			t.Errorf("%s: kind %d, want %d", path, seen[path].Kind, want)
		}
	}
}

func mark(n *node, path string, used map[string]bool) {
	used[path] = true
	for _, it := range n.items {
		mark(it, path, used)
	}
	for name, child := range n.keys {
		mark(child, join(path, name), used)
	}
}

func TestNearest(t *testing.T) {
	for _, tt := range []struct{ typed, want string }{
		{"tip", "tpi"}, {"ptch", ""}, {"leed", "lead"}, {"Lead", "lead"}, {"strats", "starts"}, {"electronics", "electronic"}, {"", ""}, {"x", ""},
	} {
		if got := nearest(tt.typed, []string{"tpi", "lead", "starts", "hand", "electronic"}); got != tt.want {
			t.Errorf("%q: got %q, want %q", tt.typed, got, tt.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		w := rapid.StringMatching(`[a-z_]{4,20}`).Draw(t, "word")
		i := rapid.IntRange(0, len(w)-1).Draw(t, "place")
		if got := nearest(w[:i]+w[i+1:], []string{w}); got != w {
			t.Fatalf("%q with a letter missing is not taken for it", w)
		}
		if distance(w, w) != 0 || distance(w, w[:i]+"#"+w[i:]) != 1 {
			t.Fatal("distance")
		}
	})
}

// Every length key takes every way of writing a length.
func TestLengthsAsWritten(t *testing.T) {
	base := exampleText(t, "inch-bench.toml")
	for typed, want := range map[string]unit.Length{
		"9": 228.6, `"9in"`: 228.6, `'9"'`: 228.6, `"228.6mm"`: 228.6, `"9-1/2in"`: 241.3, "9.5": 241.3, `"9 1/2"`: 241.3,
	} {
		l, err := Parse("x", []byte(strings.Replace(base, "swing = 9 ", "swing = "+typed+" ", 1)))
		if err != nil || (l.Bed.Swing-want).Abs() > 1e-9 {
			t.Errorf("swing = %s: %v, %v; want %v", typed, l, err, want)
		}
	}
	// A table with units of its own reads its bare numbers in them.
	metric := strings.Replace(base, "units = \"in\"\ndivision = 0.001\ndivisions = 100            #", "units = \"mm\"\ndivision = 0.05\ndivisions = 50 #", 1)
	metric = strings.Replace(metric, "lost_motion = 0.012", "lost_motion = 0.3", 1)
	l, err := Parse("x", []byte(metric))
	if err != nil || l.CrossSlide.Dial.Division != unit.MustRatio(1, 20) || l.CrossSlide.Dial.LostMotion != 0.3 || l.Compound.Dial.Division != unit.MustRatio(127, 5000) {
		t.Errorf("metric dial on an inch lathe: %+v, %v", l, err)
	}
}

// The schema walk and the types agree: no field of a read struct lacks a tag.
func TestEveryFieldHasAKey(t *testing.T) {
	var walk func(ty reflect.Type)
	walk = func(ty reflect.Type) {
		for ty.Kind() == reflect.Pointer || ty.Kind() == reflect.Slice {
			ty = ty.Elem()
		}
		if ty.Kind() != reflect.Struct || ty == ratioType {
			return
		}
		for _, sf := range reflect.VisibleFields(ty) {
			if _, ok := tagOf(sf); !ok && sf.IsExported() {
				t.Errorf("%s.%s has no key", ty, sf.Name)
			}
			walk(sf.Type)
		}
	}
	walk(reflect.TypeFor[Lathe]())
}

func FuzzParse(f *testing.F) {
	for _, name := range []string{"inch-bench.toml", "metric-geared.toml"} {
		text := exampleText(f, name)
		f.Add([]byte(text))
		for i := 0; i < len(text); i += 997 {
			f.Add([]byte(text[:i]))
			f.Add([]byte(text[i:]))
		}
	}
	for _, s := range []string{
		"", "\x00", "a.b.c = 1\na.b = 2", "[[speed]]\nrpm = 1e3", "[[speed]]\n[speed.meshes]\n", "[[gearbox.position]]\nlevers=\"A\"", "speed = [1, [2, {a=1}]]", "bed = 3", "name = \"\"\"\nx\"\"\"",
		"units = 1", "[leadscrew]\ntpi = 0x10\nlead = 1_000.0e-3", "[drive]\ntumbler = []", "banjo = {}\ngears = {owned = []}", "[[threading_dial]]\nteeth=1\nmarks=[]", "x = 1979-05-27T07:32:00Z",
		"[a]\n[[a.b]]\n[a.b.c]\nd = 1\n[[a.b]]", "a = {b = {c = [{d = 1}, {d = 2}]}}",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		l, err := Parse("f.toml", text)
		if err != nil {
			if l != nil {
				t.Fatal("a lathe and an error")
			}
			for _, e := range faultsOf(t, err) {
				if e.Field == "" || e.Reason == "" {
					t.Fatalf("an empty error: %+v", e)
				}
			}
			return
		}
		// A file that is accepted must serve every question without a panic.
		again, err := Parse("f.toml", []byte(l.Text()))
		if err != nil || !reflect.DeepEqual(l, again) {
			t.Fatalf("the same text reads differently: %v", err)
		}
		if _, err := Trains(l, unit.MustRatio(3, 2), Options{MaxStages: 1, Keep: 3}); err != nil {
			var none *NoTrain
			var in *unit.InputError
			if !errors.As(err, &none) && !errors.As(err, &in) && !errors.Is(err, unit.ErrOverflow) {
				t.Fatal(err)
			}
		}
		_, _ = l.Rules(unit.MustRatio(3, 2))
		l.IndexMethods(unit.Whole(3), 2, nil)
		l.Hazards()
		l.Missing()
		l.CrossSlide.Dial.Reading(1.234)
		l.Compound.Protractor.Reading(29.5 * unit.Degree)
	})
}
