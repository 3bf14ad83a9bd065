package tomltext

import (
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/pelletier/go-toml/v2"
	"pgregory.net/rapid"
)

const sample = `# head
name = "a # b"   # the name
list = [1, # one
  2] # two
quoted.key = '''x
# not a comment
y'''

[dial]
division = 0.001   # an inch

[[speed]]
rpm = 33
label = "slow"

[[speed]] # second
rpm = 50

[speed.extra]
z = 1

[end]
`

func TestGet(t *testing.T) {
	for path, want := range map[string]string{
		"name": `"a # b"`, "list": "[1, # one\n  2]", "quoted.key": "'''x\n# not a comment\ny'''", "dial.division": "0.001",
		"speed.0.rpm": "33", "speed.1.rpm": "50", "speed.1.extra.z": "1",
	} {
		if got, ok := Get(sample, ParsePath(path)); !ok || got != want {
			t.Errorf("%s: %q, %v", path, got, ok)
		}
	}
	if _, ok := Get(sample, ParsePath("dial.marks")); ok {
		t.Error("a key that is not there was found")
	}
	if n := Count(sample, Path{"speed"}); n != 2 {
		t.Errorf("%d speeds", n)
	}
}

func TestSet(t *testing.T) {
	for _, c := range []struct{ path, value, was, is string }{
		{"name", `"c"`, `name = "a # b"   # the name`, `name = "c"   # the name`},
		{"list", "[3]", "list = [1, # one\n  2] # two", "list = [3] # two"},
		{"dial.division", "0.02", "division = 0.001   # an inch", "division = 0.02   # an inch"},
		{"dial.units", `"in"`, "0.001   # an inch\n", "0.001   # an inch\nunits = \"in\"\n"},
		{"new", "true", "y'''\n", "y'''\nnew = true\n"},
		{"speed.0.back_gear", "true", "label = \"slow\"\n", "label = \"slow\"\nback_gear = true\n"},
		{"speed.1.label", `"x"`, "[[speed]] # second\nrpm = 50\n", "[[speed]] # second\nrpm = 50\nlabel = \"x\"\n"},
		{"speed.0.label", "", "label = \"slow\"\n", ""},
		{"end.a", "1", "[end]\n", "[end]\na = 1\n"},
		{"brake.kind", `"none"`, "[end]\n", "[end]\n\n[brake]\nkind = \"none\"\n"},
		{"speed.2.rpm", "70", "[end]\n", "[end]\n\n[[speed]]\nrpm = 70\n"},
	} {
		got, err := Set(sample, ParsePath(c.path), c.value)
		if want := strings.Replace(sample, c.was, c.is, 1); err != nil || got != want {
			t.Errorf("%s = %s: %v\n%s", c.path, c.value, err, got)
		}
	}
	for _, c := range []struct{ path, value string }{
		{"dial.division", "0.1 0.2"}, {"dial.division", "\"x\n"}, {"speed.7.rpm", "1"}, {"dial.division", "1\n[[dial]]"}, {"list.0.a", "1"},
	} {
		if got, err := Set(sample, ParsePath(c.path), c.value); err == nil || got != sample {
			t.Errorf("%s = %q was taken", c.path, c.value)
		}
	}
}

func TestAt(t *testing.T) {
	for line, want := range map[int]string{2: "name", 3: "list", 4: "list", 7: "quoted.key", 10: "dial.division", 12: "speed.0", 13: "speed.0.rpm", 20: "speed.1.extra.z"} {
		if got := At(sample, line).String(); got != want {
			t.Errorf("line %d: %q, want %q", line, got, want)
		}
	}
	if got := At(sample, 99); got != nil {
		t.Errorf("line 99: %v", got)
	}
}

func TestRemove(t *testing.T) {
	got, err := Remove(sample, Path{"speed", "1"})
	if err != nil || strings.Contains(got, "50") || strings.Contains(got, "extra") || !strings.Contains(got, "33") || !strings.Contains(got, "[end]") {
		t.Errorf("%v\n%s", err, got)
	}
	if _, err := Remove(sample, Path{"speed", "5"}); err == nil {
		t.Error("removed what is not there")
	}
}

// In the texts of the example lathes any value can be set, and nothing else changes:
// an independent reader finds the old document with the one new value.
func TestSetChangesOneValue(t *testing.T) {
	files, err := filepath.Glob("../../examples/lathes/*.toml")
	if err != nil || len(files) == 0 {
		t.Fatal(err, files)
	}
	for _, file := range files {
		data, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		text := string(data)
		d, err := read(text)
		if err != nil {
			t.Fatal(err)
		}
		rapid.Check(t, func(rt *rapid.T) {
			e := rapid.SampledFrom(d.entries).Draw(rt, "entry")
			v := rapid.IntRange(0, 1000000).Draw(rt, "value")
			got, err := Set(text, e.path, fmt.Sprint(v))
			if err != nil {
				rt.Fatal(err)
			}
			var was, is map[string]any
			if err := toml.Unmarshal([]byte(text), &was); err != nil {
				rt.Fatal(err)
			}
			if err := toml.Unmarshal([]byte(got), &is); err != nil {
				rt.Fatal(err)
			}
			put(was, e.path, int64(v))
			if !reflect.DeepEqual(was, is) {
				rt.Fatalf("%s = %d changed more than that", e.path, v)
			}
			if strings.Count(got, "\n") > strings.Count(text, "\n") || strings.Count(text, "#")-strings.Count(got, "#") > strings.Count(text[e.from:e.to], "#") {
				rt.Fatal("lines or comments were lost")
			}
		})
	}
}

// put sets a value in a document that has been read.
func put(doc any, p Path, v any) {
	switch at := doc.(type) {
	case map[string]any:
		if len(p) == 1 {
			at[p[0]] = v
			return
		}
		put(at[p[0]], p[1:], v)
	case []any:
		var i int
		fmt.Sscan(p[0], &i)
		put(at[i], p[1:], v)
	}
}

func FuzzSet(f *testing.F) {
	f.Add(sample, "speed.0.rpm", "34")
	f.Add("a = 1", "b.c", "\"x\"")
	f.Fuzz(func(t *testing.T, text, path, value string) {
		got, err := Set(text, ParsePath(path), value)
		if err != nil && got != text {
			t.Fatal("the text was changed although that failed")
		}
		_, _ = Remove(text, ParsePath(path))
	})
}
