package draw

import (
	"math"
	"strconv"
)

// dash cuts a chain of points into the pieces that a pen of the given dashes and
// gaps leaves; without dashes it is the chain itself. A gap is measured between
// the middles of the round ends, as for a pen that is set down and lifted.
func dash(chain []fpt, pattern []float64) [][]fpt {
	total := 0.0
	for _, d := range pattern {
		total += d
	}
	if total <= 0 || len(chain) < 2 || tooFine(chain, total) {
		return [][]fpt{chain}
	}
	var out [][]fpt
	piece := []fpt{chain[0]}
	i, left, on := 0, pattern[0], true
	for n := 1; n < len(chain); n++ {
		a, b := chain[n-1], chain[n]
		length := math.Hypot(b.x-a.x, b.y-a.y)
		for done := 0.0; ; {
			if length-done < left {
				left -= length - done
				if on {
					piece = append(piece, b)
				}
				break
			}
			done += left
			t := 0.0
			if length > 0 {
				t = done / length
			}
			p := fpt{a.x + (b.x-a.x)*t, a.y + (b.y-a.y)*t}
			if on {
				out = append(out, append(piece, p))
			}
			i = (i + 1) % len(pattern)
			left, on, piece = pattern[i], !on, []fpt{p}
		}
	}
	if on && len(piece) > 1 {
		out = append(out, piece)
	}
	return out
}

// tooFine reports a line of more than 100,000 dashes, which no eye resolves.
func tooFine(chain []fpt, period float64) bool {
	length := 0.0
	for n := 1; n < len(chain); n++ {
		length += math.Hypot(chain[n].x-chain[n-1].x, chain[n].y-chain[n-1].y)
	}
	return !(length/period < 1e5)
}

// ribbon returns the outlines of a line of the given half width with round
// corners and ends: one rectangle for every stretch and one disc for every point,
// all running the same way round.
func ribbon(chain []fpt, half float64) loops {
	var out loops
	for n, p := range chain {
		if n == 0 || n == len(chain)-1 || corner(chain[n-1], p, chain[n+1]) {
			out = append(out, disc(p, half))
		}
		if n == 0 {
			continue
		}
		a := chain[n-1]
		dx, dy := p.x-a.x, p.y-a.y
		length := math.Hypot(dx, dy)
		if length < 1e-9 {
			continue
		}
		ux, uy := -dy/length*half, dx/length*half
		out = append(out, []fpt{{a.x + ux, a.y + uy}, {a.x - ux, a.y - uy}, {p.x - ux, p.y - uy}, {p.x + ux, p.y + uy}})
	}
	return out
}

// corner reports whether a line turns so much at b that it needs rounding; the
// points of a curve do not.
func corner(a, b, c fpt) bool {
	ux, uy, vx, vy := b.x-a.x, b.y-a.y, c.x-b.x, c.y-b.y
	cross, dot := ux*vy-uy*vx, ux*vx+uy*vy
	return dot <= 0 || math.Abs(cross) > 0.2*dot
}

// disc has the same sense of rotation as the rectangles of ribbon.
func disc(c fpt, r float64) []fpt {
	n := max(8, min(48, int(4*math.Sqrt(r)*3)))
	loop := make([]fpt, n)
	for i := range loop {
		s, cs := math.Sincos(2 * math.Pi * float64(i) / float64(n))
		loop[i] = fpt{c.x + r*cs, c.y + r*s}
	}
	return loop
}

func itoa(i int) string { return strconv.Itoa(i) }
