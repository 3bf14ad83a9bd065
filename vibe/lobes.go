package vibe

import (
	"math"

	"thrum/shaft"
	"thrum/unit"
)

// LobePoint is a point of the border of stability where edges cut again what the
// last turn left.
type LobePoint struct {
	Lobe      int
	Frequency unit.Frequency
	Speed     unit.Rotation
	Width     unit.Length // of chip, all edges together; above it waves grow from turn to turn
}

// Lobes returns the borders of stability of a cut that overlaps the last turn by the
// part overlap: a multi-tooth chaser, a full-profile insert that tops the crest, a
// groove wider than its pitch. A partial-profile tool overlaps nothing and has none.
//
//	1 + K b Phi (1 - u e^(-i e)) = 0,   N = 60 f / (j + e / 2 pi)
//
// u is the overlap, e the part of a wave left over after j whole ones in a turn.
// For u = 1: b = -1 / (2 K Re Phi).
//
// Source: Tobias, Tlusty and Merritt; Altintas, Manufacturing Automation (from
// memory). The pass-to-pass carry-over comes on top. Points stand at the
// given frequencies, lobe after lobe.
func Lobes(phi func(unit.Frequency) shaft.Receptance, k unit.Stress, overlap float64, at []unit.Frequency, lobes int) []LobePoint {
	var out []LobePoint
	if !(overlap > 0 && overlap <= 1) || !(k > 0) {
		return nil
	}
	for j := range min(lobes, mostLobes) {
		for _, f := range at {
			for _, e := range phases(complex128(phi(f)), overlap) {
				out = append(out, LobePoint{j, f, unit.Rotation(60 * f.Hz() / (float64(j) + e.left/(2*math.Pi))), unit.Length(e.b / float64(k))})
			}
		}
	}
	return out
}

const mostLobes = 200

type phase struct{ left, b float64 } // b: times K

// phases solves for the part of a wave left over, 0 to 2 pi, and the width, for
// which Phi (1 - u e^(-ie)) is real and negative.
//
// With Phi = |Phi| e^(i psi): sin psi = u sin(psi - e).
func phases(phi complex128, u float64) []phase {
	m := math.Hypot(real(phi), imag(phi))
	psi := math.Atan2(imag(phi), real(phi))
	q := math.Sin(psi) / u
	if m == 0 || math.Abs(q) > 1 {
		return nil
	}
	var out []phase
	asin := math.Asin(q)
	for i, a := range [2]float64{asin, math.Pi - asin} {
		if i == 1 && math.Abs(math.Cos(asin)) < 1e-12 {
			break
		}
		re := m * (math.Cos(psi) - u*math.Cos(a))
		left := math.Mod(psi-a, 2*math.Pi)
		if left <= 1e-12 {
			left += 2 * math.Pi
		}
		if re < -1e-12*m {
			out = append(out, phase{left, -1 / re})
		}
	}
	return out
}

// LobeLimit returns the width of chip above which waves grow from turn to turn at
// one speed: the least over all lobes. The response is searched at the given ascending
// frequencies, between which the border is taken as straight; infinite when no
// lobe is met.
func LobeLimit(phi func(unit.Frequency) shaft.Receptance, k unit.Stress, overlap float64, n unit.Rotation, at []unit.Frequency) unit.Length {
	least := math.Inf(1)
	if !(overlap > 0 && overlap <= 1) || !(k > 0) || !(n > 0) {
		return unit.Length(least)
	}
	turn := n.Hz().Hz()
	var last [2]phase
	var lastTurns [2]float64
	known := [2]bool{}
	for _, f := range at {
		ps := phases(complex128(phi(f)), overlap)
		for i := range 2 {
			if i >= len(ps) {
				known[i] = false
				continue
			}
			turns := f.Hz()/turn - ps[i].left/(2*math.Pi) // a whole number on a lobe
			if known[i] && math.Abs(turns-lastTurns[i]) < 0.5 {
				if w := math.Floor(max(turns, lastTurns[i])); w >= 0 && w >= min(turns, lastTurns[i]) && turns != lastTurns[i] {
					part := (w - lastTurns[i]) / (turns - lastTurns[i])
					least = min(least, last[i].b+part*(ps[i].b-last[i].b))
				}
			}
			last[i], lastTurns[i], known[i] = ps[i], turns, true
		}
	}
	return unit.Length(least / float64(k))
}
