package house

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The drawing in docs/architecture.md is true: every package stands in it once, and
// imports only what stands on lines below its own.
func TestLayersAreAsDrawn(t *testing.T) {
	doc, err := os.ReadFile(filepath.Join("..", "..", "docs", "architecture.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, rest, found := strings.Cut(string(doc), "## The layers")
	_, rest, fenced := strings.Cut(rest, "```\n")
	drawing, _, closed := strings.Cut(rest, "```")
	if !found || !fenced || !closed {
		t.Fatal("docs/architecture.md has no drawing under \"The layers\"")
	}
	line := map[string]int{}
	for n, l := range strings.Split(drawing, "\n") {
		for _, p := range strings.Fields(l) {
			if _, twice := line[p]; twice {
				t.Errorf("%s stands in the drawing twice", p)
			}
			line[p] = n
		}
	}
	for pkg, imports := range allowed {
		if strings.HasPrefix(pkg, "internal/") {
			continue
		}
		at, ok := line[pkg]
		if !ok {
			t.Errorf("%s is not in the drawing", pkg)
			continue
		}
		for _, im := range imports {
			if below, ok := line[im]; ok && below <= at {
				t.Errorf("%s may import %s, which does not stand below it in the drawing", pkg, im)
			}
		}
	}
	for p := range line {
		if _, ok := allowed[p]; !ok {
			t.Errorf("%s is in the drawing and not in the tree", p)
		}
	}
}
