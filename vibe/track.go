package vibe

import (
	"math"

	"thrum/cut"
	"thrum/unit"
)

// track is a piece of edge with one direction, and the surface that it cuts: kept
// for every step along the helix as a height along the edge's normal, larger the deeper.
type track struct {
	part    cut.Part
	nx, nz  float64
	surface []float64
	inPass  []stretch // by pass
}

// stretch is what a track does in one pass.
type stretch struct {
	length float64 // of edge, mm; zero when it is out of the way
	kn     float64 // N/mm^2 square to the edge, per thickness
	chip   float64 // length times nominal thickness, mm^2
	rubs   bool    // too thin a chip to count as cutting in the linear case
	at     float64 // commanded place along the normal, mm below the blank
}

const (
	wedge = 20 * math.Pi / 180 // pieces of an arc's edge within it share a track
	away  = 0.02               // mm: an edge farther from the metal is taken to stay out of it
)

// tracks sorts the elements of all passes by the direction of their edge. Straight
// edges keep their own; arcs are gathered in wedges.
func (in *Cutting) tracks() []track {
	type key struct {
		part  cut.Part
		angle int
	}
	index := map[key]int{}
	var out []track
	find := func(e cut.Element) int {
		k := key{e.Part, int(math.Round(math.Atan2(e.Axial, e.Radial) / wedge))}
		i, ok := index[k]
		if !ok {
			i = len(out)
			index[k] = i
			out = append(out, track{part: e.Part, inPass: make([]stretch, len(in.Passes))})
		}
		return i
	}
	for p, pass := range in.Passes {
		for _, e := range pass.Chip.Elements {
			l := e.Length.MM()
			if l <= 0 {
				continue
			}
			i := find(e)
			t := &out[i]
			t.nx += l * e.Radial
			t.nz += l * e.Axial
			s := &t.inPass[p]
			s.length += l
			s.kn += l * in.Force.Thrust * float64(in.Force.Slope(max(e.Thickness, thin)))
			s.rubs = s.rubs || e.Thickness <= 0 || e.Thickness < in.Edge.MinHi
			s.chip += l * e.Thickness.MM()
		}
	}
	for i := range out {
		out[i].place(in.Passes, !in.Linear)
	}
	return out
}

// place puts the edge where each pass commands it, and settles how much of an edge
// that only touches the metal counts: as much as when it last cut.
func (t *track) place(passes []Pass, touches bool) {
	n := math.Hypot(t.nx, t.nz)
	t.nx, t.nz = t.nx/n, t.nz/n
	blank, deepest, last := math.NaN(), math.Inf(-1), stretch{}
	for p := range passes {
		s, at := &t.inPass[p], passes[p].Chip.At
		s.at = t.nx*at.Depth.MM() + t.nz*at.Along.MM()
		switch {
		case s.length > 0:
			s.kn /= s.length
			if math.IsNaN(blank) {
				blank = s.at - s.chip/s.length
			}
			last = *s
		case touches && last.length > 0 && s.at > deepest-away:
			s.length, s.kn, s.rubs = last.length, last.kn, true
		}
		if s.length > 0 {
			deepest = max(deepest, s.at)
		}
	}
	for p := range t.inPass { // measured from the blank
		t.inPass[p].at -= blank
	}
}

// Surface is what one edge leaves along the helix.
type Surface struct {
	Part          cut.Part
	Radial, Axial float64       // the edge's normal, into the work
	Height        []unit.Length // along the normal, one for each step; larger is deeper into the work
}
