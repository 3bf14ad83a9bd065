package web

import (
	"bytes"
	"fmt"
	"testing"

	"thrum/draw"
	"thrum/lathe"
	"thrum/unit"
)

// The faces of dials stay legible, whatever a lathe's collars are divided into.
func TestDialFaces(t *testing.T) {
	for _, n := range []int{1, 3, 40, 50, 80, 100, 125, 200, 250, 1000} {
		l := &lathe.Lathe{}
		l.CrossSlide.Dial = lathe.Dial{Reads: lathe.Diameter, Units: unit.Inches, Division: unit.MustRatio(127, 5000), Divisions: n}
		l.Compound.Dial = lathe.Dial{Reads: lathe.Direct, Units: unit.Metric, Division: unit.MustRatio(1, 50), Divisions: n}
		d := draw.New(dialPaper, "dials")
		slideDials(d, dialPaper.Box(1), l)
		for _, f := range d.Faults(0, draw.SmallText) {
			t.Errorf("%d divisions: %s", n, f)
		}
	}
	for _, lines := range []int{1, 4, 6, 7, 8, 12, 16, 64} {
		w := lathe.DialWheel{Teeth: 2 * lines}
		for i := range lines {
			w.Marks = append(w.Marks, fmt.Sprint(i+1))
		}
		d := draw.New(threadingPaper, "threading dial")
		threadingDials(d, threadingPaper.Box(1), []lathe.DialWheel{w, w, w, w})
		for _, f := range d.Faults(0, draw.SmallText) {
			t.Errorf("%d lines: %s", lines, f)
		}
		var b bytes.Buffer
		if err := d.SVG(&b, 0, draw.SVGOptions{}); err != nil {
			t.Error(err)
		}
	}
}
