package trial

import (
	"errors"
	"math"
	"strings"
	"testing"

	"thrum/internal/outside"
	"thrum/unit"
)

func gaugeOf(t *testing.T, text string) *GaugeFinding {
	t.Helper()
	r, err := ReadReadings(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	f, err := r.Judge()
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// Six batches of dyestuff, five samples each: Davies, Statistical Methods in Research and
// Production (1947), with the components of variance in Bates, lme4 (2010), 1.3: 1764.05
// between batches, 2451.25 within. From memory; figures that do not belong together would
// not come out.
func TestGaugeOfOnePersonPublished(t *testing.T) {
	const yields = `a,1545 1440 1440 1520 1580
b,1540 1555 1490 1560 1495
c,1595 1550 1605 1510 1560
d,1445 1440 1595 1465 1545
e,1595 1630 1515 1635 1625
f,1520 1455 1450 1480 1445`
	var table strings.Builder
	for line := range strings.Lines(yields) {
		part, values, _ := strings.Cut(strings.TrimSpace(line), ",")
		for _, v := range strings.Fields(values) {
			table.WriteString(part + "," + v + "\n")
		}
	}
	f := gaugeOf(t, table.String())
	const source = "Davies 1947, dyestuff; Bates, lme4 (2010), 1.3"
	claim(t, "dyestuff, standard deviation within a batch", source, outside.Memory, math.Sqrt(2451.25), f.Again.SD, .01)
	claim(t, "dyestuff, standard deviation of single samples", source, outside.Memory, math.Sqrt(1764.05+2451.25), f.Apart.SD, .01)
	if f.Again.DF != 24 || f.Apart.DF != 5 {
		t.Errorf("degrees of freedom %d and %d, want 24 and 5", f.Again.DF, f.Apart.DF)
	}
}

// chi^2 of 10 degrees of freedom: 20.483 and 3.247 leave 2.5 % outside each.
func TestSpreadBetween(t *testing.T) {
	low, high := Spread{SD: 1, DF: 10}.Between()
	claim(t, "least standard deviation behind 1 on 10", "table of chi^2", outside.Memory, math.Sqrt(10/20.483), low, .0002)
	claim(t, "largest standard deviation behind 1 on 10", "table of chi^2", outside.Memory, math.Sqrt(10/3.247), high, .0002)
}

// Five bars measured twice: sqrt(sum d^2 / 2n) by hand, d = .5, 0, -.5, .5, -.5.
func TestGaugeOfFiveBars(t *testing.T) {
	for name, table := range map[string]string{
		"plain":     "1,8\n2,7.5\n3,9\n4,6\n5,8\n1,8.5\n2,7.5\n3,8.5\n4,6.5\n5,7.5\n",
		"named":     "# marks\nreading,part\n8,1\n7.5,2\n9,3\n6,4\n8,5\n8.5,1\n7.5,2\n8.5,3\n6.5,4\n7.5,5\n",
		"semicolon": "1;8\n2;7,5\n3;9\n4;6\n5;8\n1;8,5\n2;7,5\n3;8,5\n4;6,5\n5;7,5\n",
	} {
		f := gaugeOf(t, table)
		if want := math.Sqrt(1. / 10); math.Abs(f.Again.SD-want) > 1e-12 || f.Again.DF != 5 || len(f.Parts) != 5 {
			t.Errorf("%s: %+v on %d parts, want %g on 5", name, f.Again, len(f.Parts), want)
		}
		claim(t, "smallest difference, "+name, "t table: 2.571 on 5 degrees of freedom", outside.Memory, 2.571*math.Sqrt2*math.Sqrt(.1), f.Smallest, .001)
	}
}

func TestReadingsRefused(t *testing.T) {
	for table, want := range map[string]string{
		"":                                      "holds no reading",
		"part,value\n1,2":                       "no column reading",
		"1,2\n1,two":                            "is not a number",
		"1\n2":                                  "neither two nor three",
		"1,2\n2,3":                              "measured twice",
		"ann,1,2\nann,1,2\nbob,1,3":             "everyone measures",
		"ann,1,2\nann,1,2\nbob,1,3\nbob,1,3":    "full table",
		"1,2\n,3":                               "name the part",
		"1,nan\n1,2":                            "is not a number",
		strings.Repeat("1,2\n", mostReadings+2): "too long",
	} {
		r, err := ReadReadings(strings.NewReader(table))
		if err == nil {
			_, err = r.Judge()
		}
		var in *unit.InputError
		if !errors.As(err, &in) || !strings.Contains(err.Error(), want) {
			t.Errorf("%.40q: %v; want %q", table, err, want)
		}
	}
}

func TestReadingsAllAlike(t *testing.T) {
	f := gaugeOf(t, "1,2\n1,2\n2,3\n2,3\n")
	if f.Smallest != 0 || !strings.Contains(f.Words, "coarser") {
		t.Errorf("%g, %q", f.Smallest, f.Words)
	}
}

func FuzzReadings(f *testing.F) {
	f.Add("part,reading\n1,2\n1,3\n")
	f.Add("ann;1;2,5\nann;1;3\nbob;1;2\nbob;1;4\nann;2;2,5\nann;2;3\nbob;2;2\nbob;2;4")
	f.Add("\ufeff\"a\tb\",1\n")
	f.Fuzz(func(t *testing.T, table string) {
		r, err := ReadReadings(strings.NewReader(table))
		if err != nil {
			return
		}
		if g, err := r.Judge(); err == nil && (math.IsNaN(g.Again.SD) || math.IsNaN(g.Smallest) || math.IsNaN(g.Apart.SD) || g.Words == "") {
			t.Errorf("%+v", g)
		}
	})
}
