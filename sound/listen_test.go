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
