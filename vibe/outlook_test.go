package vibe

import (
	"context"
	"flag"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"

	"thrum/cut"
	"thrum/internal/outside"
)

var update = flag.Bool("update", false, "rewrite the stiffness of the cut that docs/validation/outlook.py reads")

const (
	outlookCases = "../docs/validation/outlook.cases.csv"
	outlookCSV   = "../docs/validation/outlook.csv"
	outlookBy    = "docs/validation/outlook.py: numpy, scipy; finite elements, every case solved anew"
)

// caseText is what the script has to know of the passes and the places.
func caseText(with, without *Sampler) string {
	var b strings.Builder
	b.WriteString("# made by go test ./vibe -run Outlook -update: stiffness of the cut in N/mm, edge that rubs in mm\n")
	fmt.Fprintf(&b, "rpm,%g\nthrust,%g\ndoubt,%g\nplace_with,%g\nplace_without,%g\n", with.run.speeds[0].RPM(), with.in.Force.Thrust, with.ranges.cut.High-1, with.at.MM(), without.at.MM())
	for _, g := range with.gains[edgeClasses-1] {
		fmt.Fprintf(&b, "pass,%.6g,%.6g,%.6g,%.6g\n", float64(g.Radial), float64(g.Axial), g.rub[0], g.rub[1])
	}
	return b.String()
}

// Shares and quantiles of plausible cases against an independent program that draws its
// own cases, solves each bar anew and searches growth on a fine grid.
func TestOutlookAgainstScipy(t *testing.T) {
	with, without := sampler(t, cut.Infeed{}, true, 600), sampler(t, cut.Infeed{}, false, 600)
	text := caseText(with, without)
	if *update {
		if err := os.WriteFile(outlookCases, []byte(text), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if kept, err := os.ReadFile(outlookCases); err != nil || string(kept) != text {
		t.Fatalf("the passes are no longer those that the script was given (%v): go test ./vibe -run Outlook -update, then run the script", err)
	}
	const n, theirs = 2500, 3000
	cases := Cases(11, n)
	a, err1 := with.All(context.Background(), cases)
	b, err2 := without.All(context.Background(), cases)
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	figures := map[string][]Figures{"with": a, "without": b}
	part := func(of []Figures, holds func(int, Figures) bool) float64 {
		k := 0
		for i, f := range of {
			if holds(i, f) {
				k++
			}
		}
		return float64(k) / float64(len(of))
	}
	// Joints come in classes here, which costs up to a hundredth; the rest is chance.
	within := func(p float64) float64 { return 0.01 + 4*math.Sqrt(max(p*(1-p), 0.01)*(1.0/n+1.0/theirs)) }
	checked := 0
	for _, r := range outlookRows(t) {
		checked++
		switch {
		case r[0] == "below":
			p := number(t, r[2]) / 100
			for i, name := range []string{"carry-over", "log10 growth"} {
				limit := number(t, r[3+i])
				ours := part(figures[r[1]], func(_ int, f Figures) bool {
					return []float64{f.CarryOver, math.Log10(f.Growth)}[i] <= limit
				})
				outside.Check(t, outside.Claim{
					What: fmt.Sprintf("cases %s the centre with a %s below %.3g", r[1], name, limit), Source: outlookBy, Status: outside.Computed,
					Published: p, Ours: ours, Unit: "of all", Tolerance: within(p),
				})
			}
		case r[0] == "share":
			p := number(t, r[3])
			of, holds := figures[r[1]], func(_ int, f Figures) bool { return f.Marks() }
			switch r[2] {
			case "quiet":
				holds = func(_ int, f Figures) bool { return f.Quiet() }
			case "helps":
				of, holds = b, func(i int, f Figures) bool { return f.Helped(a[i]) }
			}
			outside.Check(t, outside.Claim{
				What: "cases: " + r[1] + ", " + r[2], Source: outlookBy, Status: outside.Computed,
				Published: p, Ours: part(of, holds), Unit: "of all", Tolerance: within(p),
			})
		default:
			checked--
		}
	}
	if checked < 15 {
		t.Errorf("only %d figures", checked)
	}
}

func outlookRows(t *testing.T) [][]string {
	t.Helper()
	all := outside.Table(t, outlookCSV)
	return all
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}
