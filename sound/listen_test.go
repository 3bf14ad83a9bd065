package sound

import (
	"context"
	"errors"
	"os"
	"testing"
	"thrum/unit"
)

func TestTryMilling(t *testing.T) {
	f, err := os.Open("../../shared/reference/data/milling-accel-N255/N255_accelY_10kHz.csv")
	if errors.Is(err, os.ErrNotExist) {
		t.Skip("the open milling record is not here (../shared/reference/data)")
	}
	s, err := Open(f, OpenOptions{Rate: 10000})
	if err != nil {
		t.Fatal(err)
	}
	h, err := Listen(context.Background(), s, ListenOptions{Given: 5000, Lines: []Line{{Name: "cutter, 4 flutes", Kind: OtherLine, PerTurn: unit.Whole(4), Harmonics: 8}}})
	if err != nil {
		t.Fatal(err)
	}
	t.Logf("%+v", h.Speed)
	t.Log(h.Notes)
	for _, p := range h.Passes {
		t.Logf("%.2f-%.2f %.1f above %.1f  %+v", p.Start, p.End, p.Level, p.Above, p.Speed)
		for _, x := range p.Tones {
			t.Logf("   %8.2f ±%.2f %.1f prom %.1f steady %.2f perturn %.3f %.3f %s %s x%d", x.Freq.Value, x.Freq.SE, x.Level, x.Prominence, x.Steady, x.PerTurn, x.PerTurnSE, x.Whole, x.Line, x.Multiple)
		}
	}
}

func TestTryCut(t *testing.T) {
	for name, given := range map[string]unit.Rotation{"slow": 210, "fast": 250, "tone": 200} {
		f, err := os.Open("testdata/listen/" + name + ".opus")
		if err != nil {
			t.Fatal(err)
		}
		s, err := Open(f, OpenOptions{})
		if err != nil {
			t.Fatal(err)
		}
		h, err := Listen(context.Background(), s, ListenOptions{Given: given, Lines: []Line{
			{Name: "spindle gear 40", Kind: MeshLine, PerTurn: unit.Whole(40), Harmonics: 3},
			{Name: "stud 35 into 30", Kind: MeshLine, PerTurn: unit.MustRatio(105, 4), Harmonics: 3},
			{Name: "mains", Kind: MainsLine, Freq: 50, Harmonics: 4},
			{Name: "motor", Kind: MotorLine, Freq: 25, Slip: 0.06, Harmonics: 2},
		}})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("%s %+v", name, h.Speed)
		t.Log(h.Notes)
		for _, p := range h.Passes {
			t.Logf("%.2f-%.2f %.1f above %.1f  %+v", p.Start, p.End, p.Level, p.Above, p.Speed)
			for _, x := range p.Tones {
				t.Logf("   %8.2f ±%.2f %.1f prom %.1f steady %.2f perturn %.3f %.3f %s %s x%d", x.Freq.Value, x.Freq.SE, x.Level, x.Prominence, x.Steady, x.PerTurn, x.PerTurnSE, x.Whole, x.Line, x.Multiple)
			}
		}
		t.Logf("%+v", h.Growth)
	}
}
