package trial

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
)

func named(t *testing.T, x *Effects, word string) Effect {
	t.Helper()
	for _, e := range x.Effects {
		if e.Word == word {
			return e
		}
	}
	t.Fatalf("no effect %s", word)
	return Effect{}
}

// measured gives each run the result of its place in standard order.
func measured(runs []Combination, y []float64) []float64 {
	var out []float64
	for _, r := range runs {
		out = append(out, y[r.Standard-1])
	}
	return out
}

// A half of the filtration-rate plan, cut in any order, gives the effects of the book.
func TestFactorialReadPublished(t *testing.T) {
	const book = "Montgomery, Design and Analysis of Experiments, filtration rate, the half with I = ABCD"
	f, err := NewFactorial([]string{"temperature", "pressure", "concentration", "stirring"}, []string{"D=ABC"})
	if err != nil {
		t.Fatal(err)
	}
	y := []float64{45, 100, 45, 65, 75, 60, 80, 96} // (1), ad, bd, ab, cd, ac, bc, abcd
	for seed := range uint64(5) {
		runs := f.Draw(seed)
		x, err := f.Read(runs, measured(runs, y))
		if err != nil {
			t.Fatal(err)
		}
		for word, want := range map[string]float64{"A": 19, "B": 1.5, "C": 14, "D": 16.5, "AB": -1, "AC": -18.5, "BC": 19} {
			claim(t, "half of filtration "+word, book, outside.Memory, want, named(t, x, word).Size, 1e-9)
		}
		if got := named(t, x, "BC").From; !slices.Equal(got, []string{"AD"}) {
			t.Errorf("BC cannot be told from %v", got)
		}
	}
	full, err := NewFactorial([]string{"temperature", "pressure", "concentration", "stirring"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	runs := full.Draw(3)
	x, err := full.Read(runs, measured(runs, []float64{45, 71, 48, 65, 68, 60, 80, 65, 43, 100, 45, 104, 75, 86, 70, 96}))
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, e := range x.Effects {
		if e.Standing == StandsOut || e.Standing == Perhaps {
			out = append(out, e.Word)
		}
	}
	slices.Sort(out)
	if want := []string{"A", "AC", "AD", "C", "D"}; !slices.Equal(out, want) { // the five the book keeps
		t.Errorf("beyond the margin: %v, the book keeps %v", out, want)
	}
}

// What was put into the scores comes out, whatever the plan and the order.
func TestFactorialReadFindsWhatWasPutIn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 6).Draw(t, "factors")
		names := []string{"p", "q", "r", "s", "t", "u"}[:n]
		f, err := NewFactorial(names, nil)
		if err != nil {
			t.Fatal(err)
		}
		k := rapid.IntRange(0, n-1).Draw(t, "factor")
		size := rapid.Float64Range(-50, 50).Draw(t, "size")
		runs := f.Draw(rapid.Uint64().Draw(t, "seed"))
		var y []float64
		for _, r := range runs {
			v := 7.0
			if r.High[k] {
				v += size
			}
			y = append(y, v)
		}
		x, err := f.Read(runs, y)
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range x.Effects {
			want := 0.0
			if e.Word == string(rune('A'+k)) {
				want = size
			}
			if math.Abs(e.Size-want) > 1e-9 {
				t.Fatalf("%s is %v, put in %v", e.Word, e.Size, want)
			}
		}
	})
}

// A made interaction: with the centre the speed does nothing, without it five.
func TestInteractionInWords(t *testing.T) {
	f, err := NewFactorial([]string{"speed", "centre", "oil"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	runs := f.Draw(1)
	var y []float64
	for _, r := range runs {
		v := 10.0
		if r.High[0] && !r.High[1] {
			v += 5
		}
		y = append(y, v)
	}
	x, err := f.Read(runs, y)
	if err != nil {
		t.Fatal(err)
	}
	if e := named(t, x, "AB"); e.Size != -2.5 || e.Words != "speed and centre together: what one does depends on the other, by 2.5 either way" {
		t.Errorf("%+v", e)
	}
}

func TestFactorialReadRefuses(t *testing.T) {
	f, err := NewFactorial([]string{"speed", "centre"}, nil)
	if err != nil {
		t.Fatal(err)
	}
	runs := f.Draw(1)
	for name, y := range map[string][]float64{"too few": {1, 2, 3}, "no number": {1, 2, 3, math.NaN()}, "without end": {1, 2, 3, math.Inf(1)}} {
		if _, err := f.Read(runs, y); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
	if x, err := f.Read(runs, []float64{4, 4, 4, 4}); err != nil || x.Effects[0].Standing != Unjudged {
		t.Errorf("all alike: %+v, %v", x, err)
	}
}

// rockets is the square of the book, batches in rows, operators in columns.
func rockets() (Square, []float64) {
	return Square{Treatments: []string{"A", "B", "C", "D", "E"}, Rows: [][]int{{0, 1, 2, 3, 4}, {1, 2, 3, 4, 0}, {2, 3, 4, 0, 1}, {3, 4, 0, 1, 2}, {4, 0, 1, 2, 3}}},
		[]float64{24, 20, 19, 24, 24, 17, 24, 30, 27, 36, 18, 38, 26, 27, 21, 26, 31, 26, 23, 22, 22, 30, 20, 29, 31}
}

func TestSquarePublished(t *testing.T) {
	q, y := rockets()
	f, err := q.Read(y)
	if err != nil {
		t.Fatal(err)
	}
	const book = "Montgomery, Design and Analysis of Experiments, rocket propellant"
	for _, c := range []struct {
		what      string
		want, got float64
		tol       float64
	}{
		{"treatments", 330, f.Treatments, 1e-9},
		{"bars", 68, f.Bars, 1e-9},
		{"places", 150, f.Places, 1e-9},
		{"rest", 128, f.Rest, 1e-9},
		{"F", 7.73, f.F, .005},
		{"p", .0025, f.P, 5e-5},
	} {
		claim(t, "square "+c.what, book, outside.Memory, c.want, c.got, c.tol)
	}
	ref := reference(t, "trial.csv")
	for name, got := range map[string]float64{
		"treatments": f.Treatments, "bars": f.Bars, "places": f.Places, "rest": f.Rest, "f": f.F, "p": f.P, "smallest": f.Smallest,
	} {
		claim(t, "square "+name, "numpy least squares and scipy, docs/validation/trial.py", outside.Computed, ref["square_"+name], got, 1e-8*max(1, math.Abs(got)))
	}
}

// Bars and places that differ are taken out whole: the treatments are judged as if
// they did not.
func TestSquareTakesBarsAndPlacesOut(t *testing.T) {
	plain, y := rockets()
	first, err := plain.Read(y)
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		z := slices.Clone(y)
		bars := rapid.SliceOfN(rapid.Float64Range(-100, 100), 5, 5).Draw(t, "bars")
		places := rapid.SliceOfN(rapid.Float64Range(-100, 100), 5, 5).Draw(t, "places")
		for k := range z {
			z[k] += bars[k/5] + places[k%5]
		}
		f, err := plain.Read(z)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(f.F-first.F) > 1e-6 {
			t.Fatalf("F %v, without the bars %v", f.F, first.F)
		}
	})
}

func TestSquareRefuses(t *testing.T) {
	for name, n := range map[string][]string{"two": {"a", "b"}, "twice": {"a", "b", "a"}, "empty": {"a", "", "c"}, "many": make([]string, 13)} {
		if _, err := DrawSquare(n, 1); err == nil {
			t.Errorf("%s: drawn", name)
		}
	}
	q, err := DrawSquare([]string{"dry", "oil", "paste"}, 4)
	if err != nil {
		t.Fatal(err)
	}
	for name, y := range map[string][]float64{"too few": {1, 2, 3, 4, 5, 6, 7, 8}, "no number": {1, 2, 3, 4, 5, 6, 7, 8, math.NaN()}} {
		if _, err := q.Read(y); err == nil {
			t.Errorf("%s: taken", name)
		}
	}
	f, err := q.Read(slices.Repeat([]float64{5}, 9))
	if err != nil || f.P != 1 || f.F != 0 {
		t.Errorf("all alike: %+v, %v", f, err)
	}
}

// The usual fractions have the resolution of the books' table.
func TestUsualWordsPublished(t *testing.T) {
	table := map[int][]int{2: {0}, 3: {0, 3}, 4: {0, 4}, 5: {0, 5, 3}, 6: {4, 3}, 7: {4, 3}, 8: {4}}
	for n, resolutions := range table {
		words := UsualWords(n)
		if len(words) != len(resolutions) {
			t.Fatalf("%d factors: %q", n, words)
		}
		for i, w := range words {
			f, err := NewFactorial(strings.Split("abcdefgh", "")[:n], strings.FieldsFunc(w, func(r rune) bool { return r == ',' }))
			if err != nil {
				t.Fatal(err)
			}
			claim(t, fmt.Sprintf("resolution of %d factors, %q", n, w), "Box, Hunter and Hunter, table of fractional factorials", outside.Memory, float64(resolutions[i]), float64(f.Resolution), 0)
		}
	}
}
