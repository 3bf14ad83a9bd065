package main

import (
	"bufio"
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"thrum/internal/pgtest"
)

var update = flag.Bool("update", false, "rewrite the golden parts of the scripts")

func TestMain(m *testing.M) {
	testscript.Main(withDatabase{m}, map[string]func(){"thrum": main})
}

// withDatabase ends the PostgreSQL server, if a test began one.
type withDatabase struct{ m *testing.M }

func (w withDatabase) Run() int { return pgtest.Run(w.m) }

// Each script is one behaviour of the command, run as a process.
func TestScripts(t *testing.T) {
	testscript.Run(t, testscript.Params{
		Dir:                 "testdata/script",
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
	})
}

// thrum runs the command in this process.
func thrum(stdin string, args ...string) (status int, out, errs string) {
	var o, e bytes.Buffer
	status = run(args, strings.NewReader(stdin), &o, &e)
	return status, o.String(), e.String()
}

// Every command in the table of capabilities runs from the module's root.
func TestCapabilities(t *testing.T) {
	f, err := os.Open(filepath.Join("..", "..", "docs", "capabilities.md"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	t.Chdir(filepath.Join("..", ".."))
	ran := 0
	for sc := bufio.NewScanner(f); sc.Scan(); {
		cells := strings.Split(sc.Text(), "|")
		if len(cells) < 4 || !strings.Contains(cells[2], "`thrum ") {
			continue
		}
		line := strings.Trim(strings.TrimSpace(cells[2]), "`")
		args, err := splitArgs(strings.TrimPrefix(line, "thrum "))
		if err != nil {
			t.Errorf("%s: %v", line, err)
			continue
		}
		ran++
		if status, out, errs := thrum("", args...); status != 0 || out == "" {
			t.Errorf("%s: status %d, %d bytes out, %s", line, status, len(out), errs)
		}
	}
	if ran < 10 {
		t.Errorf("only %d commands found in docs/capabilities.md", ran)
	}
}

// splitArgs splits at spaces outside double quotes.
func splitArgs(s string) ([]string, error) {
	var args []string
	var cur strings.Builder
	quoted, any := false, false
	for _, r := range s {
		switch {
		case r == '"':
			quoted, any = !quoted, true
		case r == ' ' && !quoted:
			if any || cur.Len() > 0 {
				args = append(args, cur.String())
			}
			cur.Reset()
			any = false
		default:
			cur.WriteRune(r)
		}
	}
	if any || cur.Len() > 0 {
		args = append(args, cur.String())
	}
	return args, nil
}

// Bad input of every kind ends with status 2, quotes what was typed and panics never.
func TestBadInput(t *testing.T) {
	t.Chdir(filepath.Join("..", ".."))
	sheet := func(args ...string) []string {
		return append([]string{"sheet"}, args...)
	}
	good := []string{"--lathe", "inch-bench", "--material", "1018"}
	long := strings.Repeat("9", 200)
	for _, c := range []struct {
		name  string
		stdin string
		args  []string
		want  []string
	}{
		{"impossible pitch", "", sheet(append(good, "M10x0", "--length", "1in")...), []string{`"M10x0"`}},
		{"no standard pitch", "", sheet(append(good, "M10x1.6-6g", "--length", "1in")...), []string{`"M10x1.6-6g"`, "special"}},
		{"zero length", "", sheet(append(good, "M10", "--length", "0")...), []string{`length "0"`, "hint"}},
		{"negative length", "", sheet(append(good, "M10", "--length", "-5mm")...), []string{"length"}},
		{"length is a word", "", sheet(append(good, "M10", "--length", "long")...), []string{`"long"`, "12.7mm"}},
		{"NaN", "", sheet(append(good, "M10", "--length", "NaN")...), []string{`"NaN"`}},
		{"200 digits", "", sheet(append(good, "M10", "--length", long)...), []string{"999999"}},
		{"200 digits in the callout", "", sheet(append(good, "M"+long, "--length", "1in")...), []string{"thread"}},
		{"NUL byte", "", sheet(append(good, "M10\x00", "--length", "1in")...), []string{"NUL"}},
		{"10 MB on standard input", strings.Repeat("M10 ", 2_500_000), sheet(append(good, "-", "--length", "1in")...), []string{"200"}},
		{"nothing on standard input", "", sheet(append(good, "-", "--length", "1in")...), []string{"empty"}},
		{"unknown lathe", "", sheet("M10", "--lathe", "nosuch", "--material", "1018", "--length", "1in"), []string{`"nosuch"`, "inch-bench"}},
		{"lathe file missing", "", sheet("M10", "--lathe", "./nosuch.toml", "--material", "1018", "--length", "1in"), []string{"nosuch.toml"}},
		{"unknown material", "", sheet("M10", "--lathe", "inch-bench", "--material", "1081", "--length", "1in"), []string{`"1081"`, "1018"}},
		{"unknown speed", "", sheet(append(good, "M10", "--length", "1in", "--rpm", "333")...), []string{"333", "nearest"}},
		{"unknown ending", "", sheet(append(good, "M10", "--length", "1in", "--ending", "hope")...), []string{`"hope"`}},
		{"unknown flag", "", sheet("M10", "--colour"), []string{"--colour"}},
		{"unknown command", "", []string{"sheeet"}, []string{"sheeet"}},
		{"tip too wide", "", sheet(append(good, "M10", "--length", "1in", "--tip-flat", "2mm")...), []string{"tip flat"}},
		{"stick-out too short", "", sheet(append(good, "M10", "--length", "1in", "--stickout", "1/2in")...), []string{"stickout"}},
		{"several faults at once", "", sheet("M10", "--lathe", "nosuch", "--length", "x", "--bore", "y"), []string{`"nosuch"`, `"x"`, `"y"`}},
	} {
		t.Run(c.name, func(t *testing.T) {
			status, _, errs := thrum(c.stdin, c.args...)
			if status != 2 {
				t.Errorf("status %d, want 2: %s", status, errs)
			}
			for _, w := range c.want {
				if !strings.Contains(errs, w) {
					t.Errorf("the message does not contain %s:\n%s", w, errs)
				}
			}
			if len(errs) > 4000 {
				t.Errorf("%d bytes of error message", len(errs))
			}
		})
	}
}
