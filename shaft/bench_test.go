package shaft

import (
	"testing"

	"thrum/unit"
)

func benchBar(b *testing.B) (*Bar, []unit.Length) {
	b.Helper()
	w := held(steel, Joint{50 * unit.NewtonPerMicrometre, 8e4 * unit.NewtonMetrePerRadian}, Joint{Radial: 8 * unit.NewtonPerMicrometre}, rod(20, 40), rod(14, 60), rod(16, 50))
	bar := bar(b, w, false)
	at := make([]unit.Length, 20)
	for i := range at {
		at[i] = unit.Length(40 + 3*i)
	}
	return bar, at
}

func BenchmarkTwentyStations(b *testing.B) {
	bar, at := benchBar(b)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := bar.AtTool(at); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkModes(b *testing.B) {
	bar, _ := benchBar(b)
	for b.Loop() {
		if _, err := bar.solveModes(usualModes); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkResponseAt(b *testing.B) {
	bar, _ := benchBar(b)
	r, err := bar.Response(100)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		r.Oriented(850, Direction{Radial: 0.25, Axial: 0.75})
	}
}
