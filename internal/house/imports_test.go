// Package house holds the tests that keep the tree in order: which package may
// import which, and what the domain packages must not touch.
package house

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

// allowed is the table of direct imports between our packages. Dependencies run
// one way, from the quantities up to the command. Test files may also import
// internal/outside and internal/pgtest.
var allowed = map[string][]string{
	"unit":                    {},
	"thread":                  {"unit"},
	"lathe":                   {"unit"},
	"shaft":                   {"unit"},
	"trial":                   {"unit"},
	"sound":                   {"unit", "internal/dsp"},
	"photo":                   {"unit", "internal/dsp"},
	"gauge":                   {"unit", "thread"},
	"cut":                     {"unit", "thread", "shaft"},
	"vibe":                    {"unit", "cut", "shaft"},
	"cause":                   {"unit", "sound", "photo"},
	"plan":                    {"unit", "thread", "lathe", "shaft", "gauge", "cut", "vibe", "cause", "photo"},
	"piece":                   {"unit", "plan", "gauge", "lathe"},
	"draw":                    {"unit"},
	"render":                  {"unit", "draw", "plan", "thread", "lathe", "gauge", "cut", "vibe", "shaft", "trial", "sound", "cause", "photo"},
	"store":                   {"unit"},
	"job":                     {"unit", "store"},
	"web":                     {"unit", "thread", "lathe", "gauge", "cut", "shaft", "vibe", "plan", "render", "draw", "store", "job", "trial", "sound", "photo", "cause", "examples", "piece", "internal/tomltext"},
	"app":                     {"unit", "trial", "plan", "render", "draw", "store", "job", "web", "lathe", "cut", "examples", "internal/ffmpeg"},
	"cmd/thrum":               {"unit", "thread", "lathe", "gauge", "cut", "plan", "render", "draw", "trial", "sound", "photo", "cause", "app", "store", "web", "examples", "internal/ffmpeg"},
	"examples":                {},
	"internal/dsp":            {},
	"internal/ffmpeg":         {},
	"internal/pgtest":         {},
	"internal/tomltext":       {},
	"internal/outside":        {},
	"internal/outside/report": {"internal/outside"},
	"internal/house":          {},
	"internal/made":           {"unit", "cut", "shaft", "vibe", "sound"},
	"internal/made/stories":   {"unit", "cut", "vibe", "draw", "internal/made"},
	"internal/release":        {},
	"internal/bundle":         {},
	"internal/made/samples":   {"unit", "cut", "shaft", "vibe", "plan", "internal/made"},
}

// domain packages take values and return values: no files, no network, no screen.
var domain = []string{"unit", "thread", "lathe", "shaft", "trial", "sound", "photo", "gauge", "cut", "vibe", "cause", "plan", "piece", "draw", "render"}

var forbidden = []string{"os", "os/exec", "net", "net/http", "database/sql", "html/template", "syscall", "io/ioutil"}

var testOnly = []string{"internal/outside", "internal/pgtest"}

const module = "thrum/"

func TestImports(t *testing.T) {
	root := filepath.Join("..", "..")
	seen := map[string]bool{}
	err := filepath.WalkDir(root, func(file string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		name := d.Name()
		if d.IsDir() && (strings.HasPrefix(name, ".") && file != root || name == "testdata" || name == "node_modules" || name == "demo-data") {
			return filepath.SkipDir
		}
		if d.IsDir() || !strings.HasSuffix(name, ".go") {
			return nil
		}
		rel, err := filepath.Rel(root, file)
		if err != nil {
			return err
		}
		rel = filepath.ToSlash(rel)
		pkg := path.Dir(rel)
		seen[pkg] = true
		checkFile(t, file, rel, pkg)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	for pkg := range seen {
		if _, ok := allowed[pkg]; !ok && !strings.HasPrefix(pkg, "docs/") && !strings.HasPrefix(pkg, "bench") {
			t.Errorf("package %s is not in the table of allowed imports", pkg)
		}
	}
}

func checkFile(t *testing.T, file, rel, pkg string) {
	src, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	f, err := parser.ParseFile(token.NewFileSet(), file, src, parser.ImportsOnly)
	if err != nil {
		t.Errorf("%s: %v", rel, err)
		return
	}
	isTest := strings.HasSuffix(rel, "_test.go")
	for _, im := range f.Imports {
		p, err := strconv.Unquote(im.Path.Value)
		if err != nil {
			t.Fatal(err)
		}
		own, ours := strings.CutPrefix(p, module)
		switch {
		case ours && isTest && (slices.Contains(testOnly, own) || own == pkg):
		case ours && !isTest && slices.Contains(testOnly, own) && pkg != "internal/outside/report":
			t.Errorf("%s imports %s, which is for tests only", rel, own)
		case ours && !slices.Contains(allowed[pkg], own) && own != pkg && !isTest:
			t.Errorf("%s imports %s, which the table of imports does not allow", rel, own)
		case !ours && !isTest && slices.Contains(domain, pkg) && slices.Contains(forbidden, p):
			t.Errorf("%s imports %s: domain packages do no input or output", rel, p)
		}
	}
}
