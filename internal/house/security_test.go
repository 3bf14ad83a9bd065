package house

import (
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// Every test that docs/security.md names is there, and no threat of its tables is
// without one or without a word on what remains.
func TestThreatsHaveTheirTests(t *testing.T) {
	root := filepath.Join("..", "..")
	doc, err := os.ReadFile(filepath.Join(root, "docs", "security.md"))
	if err != nil {
		t.Fatal(err)
	}
	there := map[string]bool{}
	function := regexp.MustCompile(`(?m)^func ((?:Test|Fuzz)[A-Za-z0-9_]*)\(`)
	err = filepath.WalkDir(root, func(file string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() && (d.Name() == "node_modules" || strings.HasPrefix(d.Name(), ".git")) {
			if d != nil && d.IsDir() && err == nil {
				return filepath.SkipDir
			}
			return err
		}
		if !strings.HasSuffix(file, "_test.go") {
			return nil
		}
		text, err := os.ReadFile(file)
		for _, m := range function.FindAllStringSubmatch(string(text), -1) {
			there[m[1]] = true
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	named := regexp.MustCompile("`((?:Test|Fuzz)[A-Za-z0-9_]*)`").FindAllStringSubmatch(string(doc), -1)
	if len(named) < 20 {
		t.Errorf("only %d tests are named", len(named))
	}
	for _, m := range named {
		if !there[m[1]] {
			t.Errorf("docs/security.md names %s, which is no test", m[1])
		}
	}
	for _, l := range strings.Split(string(doc), "\n") {
		if cells := strings.Split(l, "|"); strings.HasPrefix(l, "| ") && len(cells) > 3 && !strings.HasPrefix(l, "| threat") {
			if strings.TrimSpace(cells[len(cells)-2]) == "" {
				t.Errorf("no test and no word for: %s", cells[1])
			}
		}
	}
}
