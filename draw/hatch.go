package draw

import (
	"math"
	"slices"

	"thrum/unit"
)

// Hatch draws parallel lines inside the path, as a cut face is marked (ISO
// 128-3, formerly ISO 128-50: narrow lines, preferably at 45°). The lines of all
// hatchings with the same angle and spacing continue each other, so that one
// part cut in several places reads as one; give a neighbouring part another
// angle. Nested parts of the path are holes.
func (l *List) Hatch(p *Path, angle unit.Angle, spacing unit.Length, pen Pen) {
	lines := new(Path)
	for _, s := range hatchLines(p, angle, spacing) {
		lines.Move(s[0]).Line(s[1])
	}
	if len(lines.steps) > 0 {
		l.Stroke(lines, pen)
	}
}

// HatchAngle is the usual direction of hatching.
const HatchAngle = 45 * unit.Degree

// maxHatch bounds the lines of one hatching.
const maxHatch = 2000

// hatchLines cuts the outline with lines x' = k * spacing in a frame turned by
// the angle, and pairs the crossings of each line from below.
func hatchLines(p *Path, angle unit.Angle, spacing mm) [][2]Pt {
	sin, cos := math.Sincos(angle.Rad())
	into := func(q Pt) (along, across float64) { // along the lines, and across them
		x, y := q.X.MM(), -q.Y.MM()
		return x*cos + y*sin, -x*sin + y*cos
	}
	back := func(along, across float64) Pt {
		return Pt{mm(along*cos - across*sin), -mm(along*sin + across*cos)}
	}
	chains, _ := p.flat(0.02)
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, ch := range chains {
		for _, q := range ch {
			_, v := into(q)
			lo, hi = min(lo, v), max(hi, v)
		}
	}
	step := spacing.MM()
	if !(step > 0) || !((hi-lo)/step < maxHatch) {
		return nil
	}
	var out [][2]Pt
	// Lines lie half a step off the multiples: edges on round figures are not grazed.
	for k := math.Ceil(lo/step - 0.5); (k+0.5)*step < hi; k++ {
		v := (k + 0.5) * step
		var cuts []float64
		for _, ch := range chains {
			for i := range ch {
				u0, v0 := into(ch[i])
				u1, v1 := into(ch[(i+1)%len(ch)])
				if (v0 <= v) != (v1 <= v) {
					cuts = append(cuts, u0+(u1-u0)*(v-v0)/(v1-v0))
				}
			}
		}
		slices.Sort(cuts)
		for i := 0; i+1 < len(cuts); i += 2 {
			if cuts[i+1]-cuts[i] > 0.05 {
				out = append(out, [2]Pt{back(cuts[i], v), back(cuts[i+1], v)})
			}
		}
	}
	return out
}
