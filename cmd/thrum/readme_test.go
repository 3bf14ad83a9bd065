package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// The README shows what the program really prints, and every callout in its table
// of families has limits. With -update the outputs are written anew.
func TestReadme(t *testing.T) {
	t.Chdir(filepath.Join("..", ".."))
	doc, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	blocks := regexp.MustCompile("(?ms)^```\n\\$ thrum (.*?)\n(.*?)^```$")
	seen := 0
	fresh := blocks.ReplaceAllStringFunc(string(doc), func(block string) string {
		m := blocks.FindStringSubmatch(block)
		args, err := splitArgs(m[1])
		if err != nil {
			t.Fatal(err)
		}
		status, out, errs := thrum("", args...)
		if status != 0 {
			t.Errorf("thrum %s: status %d: %s", m[1], status, errs)
		}
		if out != m[2] && !*update {
			t.Errorf("thrum %s prints something else than the README shows (go test ./cmd/thrum -update):\n%s", m[1], out)
		}
		seen++
		return "```\n$ thrum " + m[1] + "\n" + out + "```"
	})
	if seen < 5 {
		t.Errorf("only %d examples found", seen)
	}
	example := regexp.MustCompile(`(?m)^    thrum (sheet .*)$`).FindStringSubmatch(string(doc))
	if example == nil {
		t.Fatal("no sheet in the README")
	}
	args, err := splitArgs(example[1])
	if err != nil {
		t.Fatal(err)
	}
	status, sheet, errs := thrum("", args...)
	if status != 0 {
		t.Fatalf("thrum %s: %s", example[1], errs)
	}
	golden := filepath.Join("docs", "example-sheet.txt")
	if *update {
		for name, text := range map[string]string{"README.md": fresh, golden: sheet} {
			if err := os.WriteFile(name, []byte(text), 0o644); err != nil {
				t.Fatal(err)
			}
		}
	}
	if want, err := os.ReadFile(golden); err != nil || string(want) != sheet {
		t.Errorf("docs/example-sheet.txt is out of date (go test ./cmd/thrum -update): %v", err)
	}
	checkFamilies(t, string(doc))
}

func checkFamilies(t *testing.T, doc string) {
	_, table, ok := strings.Cut(doc, "## Threads")
	table, _, ok2 := strings.Cut(table, "## Your lathe")
	if !ok || !ok2 {
		t.Fatal("no table of families")
	}
	callouts := 0
	for _, line := range strings.Split(table, "\n") {
		cells := strings.Split(line, "|")
		if len(cells) < 4 {
			continue
		}
		for _, m := range regexp.MustCompile("`([^`]+)`").FindAllStringSubmatch(cells[2], -1) {
			callouts++
			if status, out, errs := thrum("", "limits", m[1]); status != 0 || !strings.Contains(out, "pitch diameter") {
				t.Errorf("%s: status %d: %s", m[1], status, errs)
			}
		}
	}
	if callouts < 20 {
		t.Errorf("only %d callouts in the table", callouts)
	}
}
