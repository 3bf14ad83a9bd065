package main

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
)

// The parts worked by hand in docs/worked-parts.md agree with the program figure by
// figure, to half of the last digit written there.
func TestWorkedParts(t *testing.T) {
	doc, err := os.ReadFile(filepath.Join("..", "..", "docs", "worked-parts.md"))
	if err != nil {
		t.Fatal(err)
	}
	row := regexp.MustCompile("^\\| ([^|]+) \\| ([0-9.]+) \\| (\\S+) \\| `([^`]+)` \\|$")
	var plan any
	parts, figures := 0, 0
	for _, line := range strings.Split(string(doc), "\n") {
		if cmd, ok := strings.CutPrefix(line, "Command: `thrum "); ok {
			args, err := splitArgs(strings.TrimSuffix(cmd, "`"))
			if err != nil {
				t.Fatal(err)
			}
			status, out, errs := thrum("", args...)
			if status != 0 {
				t.Fatalf("%s: %s", cmd, errs)
			}
			d := json.NewDecoder(bytes.NewBufferString(out))
			if err := d.Decode(&plan); err != nil {
				t.Fatal(err)
			}
			parts++
			continue
		}
		m := row.FindStringSubmatch(line)
		if m == nil {
			continue
		}
		figures++
		hand, err := strconv.ParseFloat(m[2], 64)
		if err != nil {
			t.Fatalf("%s: %v", line, err)
		}
		ours := pick(t, plan, m[4])
		switch m[3] {
		case "in":
			ours /= 25.4
		case "deg":
			ours *= 180 / math.Pi
		}
		if tol := lastDigit(m[2]); math.Abs(ours-hand) > tol/2*1.0001 {
			t.Errorf("part %d, %s: by hand %s %s, the program has %.7g", parts, m[1], m[2], m[3], ours)
		}
	}
	if parts != 3 || figures < 45 {
		t.Errorf("%d parts with %d figures found", parts, figures)
	}
}

// pick follows a path like passes.-1.depth_mm; -1 is the last of a list.
func pick(t *testing.T, v any, path string) float64 {
	t.Helper()
	for _, key := range strings.Split(path, ".") {
		switch x := v.(type) {
		case map[string]any:
			v = x[key]
		case []any:
			i, err := strconv.Atoi(key)
			if i < 0 {
				i += len(x)
			}
			if err != nil || i < 0 || i >= len(x) {
				t.Fatalf("%s: no element %s", path, key)
			}
			v = x[i]
		}
	}
	f, ok := v.(float64)
	if !ok {
		t.Fatalf("%s is %v, not a figure", path, v)
	}
	return f
}

// lastDigit returns the place value of the last digit written.
func lastDigit(s string) float64 {
	_, frac, ok := strings.Cut(s, ".")
	if !ok {
		return 1
	}
	return math.Pow(10, -float64(len(frac)))
}
