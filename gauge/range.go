package gauge

import (
	"math"

	"thrum/thread"
	"thrum/unit"
)

// body is the straight part of a thread's flanks, and what a wire must keep clear
// of, at the limits of size. Heights are measured square to the axis from the
// pitch line: up to the crest, down to the bottom of the groove.
type body struct {
	f        Flanks
	pitch    thread.Band // limits of the pitch diameter, both filled in
	beside   thread.Band // pitch diameters that occur beside these crests; see bodyOf
	crest    thread.Band // limits of the diameter at the crest, both filled in
	crestEnd [2]unit.Length
	bottom   unit.Length    // from the pitch line down to the bottom of the groove
	rootEnd  [2]unit.Length // from the pitch line down to where each straight flank ends
	depth    unit.Length    // crest to bottom at the middle of the limits
}

// filled replaces a missing limit by the other one, or by the basic size.
func filled(b thread.Band, basic unit.Length) thread.Band {
	switch {
	case b.Min == 0 && b.Max == 0:
		return thread.Band{Min: basic, Max: basic}
	case b.Min == 0:
		b.Min = b.Max
	case b.Max == 0:
		b.Max = b.Min
	}
	return b
}

// bodyOf takes the body from a thread.
//
// A crest or root rounded with radius R, tangent to flank and crest line, takes
// R (1 - sin a) from the height of a flank with angle a: a Whitworth crest loses
// 0.0739P of height on each flank.
//
// The limits of a taper thread say where along it the gauge plane may lie; pitch
// and crest move together with it. So there only the middle pitch diameter occurs
// beside the crest, while on a parallel thread each may be at any limit.
func bodyOf(t thread.Thread) (body, error) {
	b := body{f: FlanksOf(t)}
	if err := b.f.check(); err != nil {
		return b, err
	}
	b.pitch = filled(t.Limits.Pitch, t.Basic.Pitch)
	b.crest = filled(t.Limits.Major, t.Basic.Major)
	if t.Side == thread.Internal {
		b.crest = filled(t.Limits.Minor, t.Basic.Minor)
	}
	if !(b.pitch.Min > 0) || !(b.crest.Min > 0) || b.pitch.Max < b.pitch.Min || b.crest.Max < b.crest.Min {
		return b, &unit.InputError{Field: "thread", Value: t.Callout, Reason: "has no limits of size to be measured against"}
	}
	b.beside = b.pitch
	if b.f.Taper != 0 {
		b.beside = thread.Band{Min: b.pitch.Mean(), Max: b.pitch.Mean()}
	}
	line := (b.crest.Mean() - b.pitch.Mean()).Abs() / 2
	b.depth = t.Depth()
	if b.depth <= line {
		b.depth = unit.Length(t.Form.Depth) * b.f.Pitch
	}
	b.bottom = b.depth - line
	for i, a := range []unit.Angle{b.f.Leading, b.f.Trailing} {
		left := unit.Length(1-a.Sin()) * b.f.Pitch
		b.crestEnd[i] = unit.Length(t.Form.CrestRadius) * left
		b.rootEnd[i] = b.bottom - unit.Length(t.Form.RootRadius)*left
	}
	return b, nil
}

// out is a length reckoned positive from the root towards the crest.
func (b body) out(l unit.Length) unit.Length { return unit.Length(b.f.opens()) * l }

// spareBelow is by how much a wire is larger than the least that can be used:
// negative when it does not stand proud of the crest, lies on the bottom of the
// groove, or touches below the straight flank. The smallest pitch diameter decides
// the first; the others hardly depend on it.
func (b body) spareBelow(w unit.Length) float64 {
	e := b.beside.Min
	s, err := b.f.SeatOf(e, w)
	if err != nil {
		return math.Inf(1) // only wires that are far too large find no seat
	}
	spare := min(
		b.out(s.Centre-e)/2-w/2+b.bottom,
		b.out(s.Leading-e)/2+b.rootEnd[0],
		b.out(s.Trailing-e)/2+b.rootEnd[1],
	)
	if b.f.Side == thread.External {
		spare = min(spare, (s.Over-b.crest.Max)/2)
	}
	return float64(spare)
}

// spareAbove is by how much a wire is smaller than the greatest that can be used:
// negative when it touches the corner or the rounding of the crest instead of the
// straight flank, where the least flank stands above the pitch line.
func (b body) spareAbove(w unit.Length) float64 {
	e, crest := b.beside.Max, b.crest.Min
	if b.f.Side == thread.Internal {
		e, crest = b.beside.Min, b.crest.Max
	}
	s, err := b.f.SeatOf(e, w)
	if err != nil {
		return math.Inf(-1)
	}
	return -float64(max(b.out(s.Leading-crest)/2+b.crestEnd[0], b.out(s.Trailing-crest)/2+b.crestEnd[1]))
}

// usable returns the least and the greatest wire that can be used at every size
// inside the limits.
func (b body) usable(best unit.Length) (thread.Band, bool) {
	u := thread.Band{
		Min: crossing(b.spareBelow, best/8, 4*best),
		Max: crossing(b.spareAbove, best/8, 4*best),
	}
	return u, u.Min < u.Max
}

// crossing finds where a monotone function changes sign between lo and hi: false
// position with halving wherever the function is not finite or the last end stays
// (the Illinois rule).
func crossing(f func(unit.Length) float64, lo, hi unit.Length) unit.Length {
	flo, fhi := f(lo), f(hi)
	if flo*fhi > 0 { // no change: the end nearer to it
		if math.Abs(flo) < math.Abs(fhi) {
			return lo
		}
		return hi
	}
	last := 0
	for range 60 {
		x := (lo + hi) / 2
		if !math.IsInf(flo, 0) && !math.IsInf(fhi, 0) && flo != fhi {
			x = lo + (hi-lo)*unit.Length(flo/(flo-fhi))
		}
		y := f(x)
		if math.Abs(y) < 1e-9 || hi-lo < unit.Micrometre/1000 {
			return x
		}
		if (y > 0) == (fhi > 0) {
			if hi, fhi = x, y; last == 1 && !math.IsInf(flo, 0) {
				flo /= 2
			}
			last = 1
		} else {
			if lo, flo = x, y; last == -1 && !math.IsInf(fhi, 0) {
				fhi /= 2
			}
			last = -1
		}
	}
	return (lo + hi) / 2
}

// contact returns how far, square to the axis, the places of contact lie from the
// pitch line, as the mean of both flanks: zero for the best wire.
func (b body) contact(e, w unit.Length) (unit.Length, error) {
	s, err := b.f.SeatOf(e, w)
	if err != nil {
		return 0, err
	}
	return b.out((s.Leading+s.Trailing)/2-e) / 2, nil
}

// firstSeat returns the depth of groove, from the blank, at which a wire of size w
// first touches flank and not the corners of the groove. The tool leaves the
// flank where it will be in the finished thread, less the depth still to go, so
// the wire must find its contact below the surface of the blank.
func (b body) firstSeat(w unit.Length) (unit.Length, error) {
	e, crest := b.pitch.Mean(), b.crest.Mean()
	s, err := b.f.SeatOf(e, w)
	if err != nil {
		return 0, err
	}
	above := max(b.out(s.Leading-e), b.out(s.Trailing-e)) / 2 // higher of both contacts
	height := b.out(crest-e) / 2
	return max(b.depth-(height-above), 0), nil
}
