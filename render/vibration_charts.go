package render

import (
	"fmt"
	"math"
	"slices"

	"thrum/draw"
	"thrum/plan"
	"thrum/unit"
	"thrum/vibe"
)

// vibrationCharts draws what the assessment knows; nothing for a plan that was read
// back, which holds the words alone.
func (s sheet) vibrationCharts() []Drawing {
	v := s.p.Vibration
	if v == nil || v.Assessment == nil || v.Assessment.Passes[v.Assessment.Worst].Spring {
		return nil
	}
	out := []Drawing{s.speedChart(v.Assessment)}
	if d, ok := s.depthMap(v.Assessment); ok {
		out = append(out, d)
	}
	if d, ok := s.centreChart(v.Assessment); ok {
		out = append(out, d)
	}
	return out
}

// span is from the slowest to the fastest speed of the lathe.
func (s sheet) span() (lo, hi float64) {
	lo, hi = s.p.Speed.RPM.RPM(), s.p.Speed.RPM.RPM()
	for _, st := range s.p.Speed.Steps {
		lo, hi = min(lo, st.RPM.RPM()), max(hi, st.RPM.RPM())
	}
	if hi < 1.2*lo {
		lo, hi = lo/2, hi*2
	}
	return max(lo, 1), min(hi, 10000)
}

const grows = "above 1: waves grow"

// leaves is the axis of carry-over; it always shows where waves begin to grow.
func leaves(most float64) draw.Axis {
	return draw.Axis{Title: "a pass leaves, times the last", Max: max(1.3, 1.05*most)}
}

// speedChart is speed against carry-over, with what is not known as a band, what one
// pass would leave of marks that are there, and the fastest speed that the room to stop
// allows.
func (s sheet) speedChart(a *vibe.Assessment) Drawing {
	const n = 48
	lo, hi := s.span()
	var speeds []unit.Rotation
	for i := range n {
		speeds = append(speeds, unit.Rotation(lo*math.Pow(hi/lo, float64(i)/(n-1))))
	}
	var x, low, likely, high, clean []float64
	for _, p := range a.SpeedCurve(speeds) {
		x = append(x, p.Speed.RPM())
		low, likely, high = append(low, p.CarryOver.Low), append(likely, p.CarryOver.Likely), append(high, p.CarryOver.High)
		clean = append(clean, p.CleanUp)
	}
	now := a.SpeedCurve([]unit.Rotation{s.p.Speed.RPM})
	c := draw.Chart{
		X: draw.Axis{Title: "spindle speed, rpm", Log: true}, Y: leaves(slices.Max(high)),
		Bands: []draw.Band{{X: x, Low: low, High: high}},
		Series: []draw.Series{
			{Name: "new waves", X: x, Y: likely, Accent: true},
			{Name: "old marks", X: x, Y: clean, Line: draw.ShortDash},
		},
		Limits: []draw.Limit{{Name: grows, At: 1}},
	}
	if len(now) == 1 {
		c.Series = append(c.Series, draw.Series{Name: "this sheet", X: []float64{now[0].Speed.RPM()}, Y: []float64{now[0].CarryOver.Likely}, Dots: true, Mark: draw.Disc, Accent: true})
	}
	desc := fmt.Sprintf("Carry-over of pass %d, the liveliest, over spindle speed from %.0f to %.0f rpm; the band is what is not known. At %.4g rpm a pass leaves %s the waves of the last.",
		a.Worst+1, lo, hi, s.p.Speed.RPM.RPM(), plan.TimesOf(s.p.Vibration.CarryOver))
	if most := s.p.Stopping.MaxRPM; most > lo && most < hi {
		c.Limits = append(c.Limits, draw.Limit{Name: "room to stop", At: most, Upright: true})
		desc += fmt.Sprintf(" Beyond %.0f rpm the room to end a pass does not suffice.", most)
	}
	return chart("carry-over", "Speed against carry-over", desc, c)
}

// depthMap is carry-over over speed and depth.
func (s sheet) depthMap(a *vibe.Assessment) (Drawing, bool) {
	const columns, rows = 24, 16
	lo, hi := s.span()
	var speeds []unit.Rotation
	for i := range columns {
		speeds = append(speeds, unit.Rotation(lo+(hi-lo)*(float64(i)+0.5)/columns))
	}
	m := a.SpeedDepthMap(speeds)
	if len(m.Depths) < 2 || len(m.Speeds) != columns {
		return Drawing{}, false
	}
	measure := 1.0
	if s.sys == unit.Inches {
		measure = float64(unit.Inch)
	}
	top := m.Depths[len(m.Depths)-1]
	h := &draw.Heat{Name: "times the last", X0: lo, X1: hi, Y0: 0, Y1: float64(top) / measure, Limit: 1, LimitName: "waves grow"}
	most := 0.0
	for j := range rows { // each row shows the pass that ends at or next below its depth
		d := top * unit.Length((float64(j)+0.5)/rows)
		k := 0
		for k+1 < len(m.Depths) && m.Depths[k] < d {
			k++
		}
		h.Values = append(h.Values, m.CarryOver[k])
		for _, v := range m.CarryOver[k] {
			most = max(most, v)
		}
	}
	c := draw.Chart{X: draw.Axis{Title: "spindle speed, rpm"}, Y: draw.Axis{Title: "depth of the groove, " + s.sys.String()}, Heat: h}
	if most := s.p.Stopping.MaxRPM; most > lo && most < hi {
		c.Limits = []draw.Limit{{Name: "room to stop", At: most, Upright: true}}
	}
	desc := fmt.Sprintf("Likely carry-over of each pass at each speed; at most %s times. Where it is above 1 the map is hatched.", vibe.Times(most))
	return chart("speed-depth", "Speed and depth", desc, c), true
}

// centreChart is carry-over over frequency with the centre and without.
func (s sheet) centreChart(a *vibe.Assessment) (Drawing, bool) {
	if a.Centre == nil {
		return Drawing{}, false
	}
	lo, hi := math.Inf(1), 0.0
	for _, h := range []vibe.Held{a.Centre.With, a.Centre.Without} {
		if f := h.Mode.Frequency.Hz(); f > 0 {
			lo, hi = min(lo, f), max(hi, f)
		}
	}
	if hi == 0 {
		return Drawing{}, false
	}
	with, without := a.CentreCurves(unit.Frequency(max(lo/3, 20)), unit.Frequency(hi*2.5))
	series := func(name string, ps []vibe.FrequencyPoint) draw.Series {
		out := draw.Series{Name: name}
		for _, p := range ps {
			out.X, out.Y = append(out.X, p.Frequency.Hz()), append(out.Y, p.CarryOver)
		}
		return out
	}
	if len(with) < 2 || len(without) < 2 {
		return Drawing{}, false
	}
	x, y := series("with centre", with), series("without", without)
	x.Line = draw.ShortDash
	if s.p.Work.Centre {
		x.Accent = true
	} else {
		y.Accent = true
	}
	c := draw.Chart{
		X: draw.Axis{Title: "frequency, Hz", Log: true}, Y: leaves(max(slices.Max(x.Y), slices.Max(y.Y))),
		Series: []draw.Series{x, y}, Limits: []draw.Limit{{Name: grows, At: 1}},
	}
	return chart("centre", "What the centre changes", "Carry-over of the liveliest pass over frequency, with the centre and without. "+a.Centre.Why+".", c), true
}

func chart(id, title, desc string, c draw.Chart) Drawing {
	return Drawing{ID: id, Title: title, Desc: desc, Draw: func(l *draw.List, b draw.Box) { c.Draw(l, b) }}
}
