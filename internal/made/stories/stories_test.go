package main

import (
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// TestPageIsCurrent cuts the first story again and compares with what the page says. Numbers
// may differ by a tenth, since another processor rounds otherwise and chatter magnifies it.
func TestPageIsCurrent(t *testing.T) {
	docs := filepath.Join("..", "..", "..", "docs")
	page, err := os.ReadFile(filepath.Join(docs, "stories.md"))
	if err != nil {
		t.Fatal(err)
	}
	s, err := slender()
	if err != nil {
		t.Fatal(err)
	}
	from, to, err := block(page, "slender")
	if err != nil {
		t.Fatal(err)
	}
	number := regexp.MustCompile(`[0-9.]+`)
	old, fresh := number.FindAllString(string(page[from:to]), -1), number.FindAllString(s.tables["slender"], -1)
	if len(old) != len(fresh) || len(old) < 20 {
		t.Fatalf("the page's table has %d numbers, a new one %d: run make docs", len(old), len(fresh))
	}
	for i := range old {
		a, err1 := strconv.ParseFloat(old[i], 64)
		b, err2 := strconv.ParseFloat(fresh[i], 64)
		if err1 != nil || err2 != nil || math.Abs(a-b) > 0.1*a+0.011 {
			t.Errorf("number %d of the table is %s on the page and %s when cut again: run make docs", i+1, old[i], fresh[i])
		}
	}
	for _, link := range regexp.MustCompile(`\]\((stories/[^)]+)\)`).FindAllStringSubmatch(string(page), -1) {
		if b, err := os.ReadFile(filepath.Join(docs, link[1])); err != nil || len(b) < 1000 {
			t.Errorf("%s is missing or empty: run make docs", link[1])
		}
	}
	for _, name := range []string{"slender", "cleaned", "spring", "slow"} {
		from, to, err := block(page, name)
		if err != nil || strings.Count(string(page[from:to]), "\n") < 5 {
			t.Errorf("table %s: %v, or empty: run make docs", name, err)
		}
	}
}
