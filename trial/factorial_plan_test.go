package trial

import (
	"slices"
	"strings"
	"testing"

	"thrum/internal/outside"
)

// Fractions as handbooks list them: half of four with I = ABCD is of resolution 4
// and pairs AB with CD; a quarter of five with D = AB and E = AC has
// I = ABD = ACE = BCDE, resolution 3. Every column sums to nought, and each pair
// of columns is square to each other unless aliased.
func TestFactorialPlans(t *testing.T) {
	for _, c := range []struct {
		names, words string
		group        string
		resolution   int
		alias        string
	}{
		{"speed,centre,oil", "", "", 0, ""},
		{"speed,centre,oil,last", "D=ABC", "ABCD", 4, "AB=CD"},
		{"a,b,c,d,e", "D=AB,E=AC", "ABD ACE BCDE", 3, "A=BD CE ABCDE"},
		{"a,b,c", "C=AB", "ABC", 3, "A=BC"},
	} {
		f, err := NewFactorial(strings.Split(c.names, ","), strings.FieldsFunc(c.words, func(r rune) bool { return r == ',' }))
		if err != nil {
			t.Fatal(err)
		}
		outside.Check(t, outside.Claim{What: "resolution of a fraction with " + c.names + " " + c.words, Source: "Box, Hunter and Hunter, Statistics for Experimenters, 2nd ed., ch. 6", Status: outside.Memory, Published: float64(c.resolution), Ours: float64(f.Resolution)})
		if got := strings.Join(f.Group, " "); got != c.group {
			t.Errorf("%s: group %q, want %q", c.names, got, c.group)
		}
		if effect, from, ok := strings.Cut(c.alias, "="); ok {
			if !slices.ContainsFunc(f.Aliases, func(a Aliased) bool { return a.Effect == effect && strings.Join(a.From, " ") == from }) {
				t.Errorf("%s: no alias %s in %+v", c.names, c.alias, f.Aliases)
			}
		}
		checkColumns(t, f)
	}
	for _, bad := range [][2]string{{"a", ""}, {"a,b,c", "D=AB"}, {"a,b,c,d", "D=AD"}, {"a,b,c,d", "D"}, {"a,b", "B=A"}, {"a,b,c,d,e,f,g,h,i", ""}} {
		if _, err := NewFactorial(strings.Split(bad[0], ","), strings.FieldsFunc(bad[1], func(r rune) bool { return r == ',' })); err == nil {
			t.Errorf("%v was planned", bad)
		}
	}
}

func checkColumns(t *testing.T, f Factorial) {
	t.Helper()
	runs := f.Draw(5)
	sign := func(r Combination, w Word) int {
		s := 1
		for i, high := range r.High {
			if w>>i&1 == 1 && !high {
				s = -s
			}
		}
		return s
	}
	for e := Word(1); e < 1<<len(f.Names); e++ {
		sum := 0
		for _, r := range runs {
			sum += sign(r, e)
		}
		if want := 0; slices.Contains(f.Group, e.String()) {
			if sum != len(runs) {
				t.Errorf("%s of the group is not one throughout: %d", e, sum)
			}
		} else if sum != want {
			t.Errorf("column %s sums to %d", e, sum)
		}
	}
}
