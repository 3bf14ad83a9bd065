package lathe

import (
	"fmt"
	"math"

	"thrum/unit"
)

// mostStuds is the most wheels or pairs that a banjo can carry; mostShafts adds
// the stud and the screw.
const (
	mostStuds  = 4
	mostShafts = mostStuds + 2
)

// Clearance is the least gap between wheels that do not mesh, and between a wheel
// and another's shaft.
const Clearance unit.Length = 1

// chain is a train as wheels on shafts, without positions. Shaft 0 is the stud,
// shaft last the screw (or the gearbox input); between them lie the banjo studs.
// in is the wheel that is driven, out the one that drives on; an idler is one
// wheel that does both.
type chain struct {
	in, out [mostShafts]int16
	idler   [mostShafts]bool
	last    int8
}

// chainOf makes a chain from tooth counts written mesh by mesh, driver first; an
// idler is written twice.
func chainOf(wheels []int) (chain, error) {
	var c chain
	if len(wheels) < 2 || len(wheels)%2 != 0 {
		return c, &NoTrain{WrongCount, fmt.Sprintf("%d wheels are named; write each mesh as driver, driven, and an idler twice", len(wheels))}
	}
	if len(wheels)/2 > mostStuds+1 {
		return c, &NoTrain{TooFewStuds, fmt.Sprintf("%d meshes need %d studs on the banjo", len(wheels)/2, len(wheels)/2-1)}
	}
	c.last = int8(len(wheels) / 2)
	for i, z := range wheels {
		if z < leastTeeth || z > mostTeeth {
			return c, &NoTrain{NoSuchWheel, fmt.Sprintf("a wheel of %d teeth is no change gear", z)}
		}
		if i%2 == 0 {
			c.out[i/2] = int16(z)
		} else {
			c.in[i/2+1] = int16(z)
		}
	}
	for k := int8(1); k < c.last; k++ {
		c.idler[k] = c.in[k] == c.out[k]
	}
	return c, nil
}

// wheels writes the chain mesh by mesh, as chainOf reads it.
func (c *chain) wheels() []int {
	var ws []int
	for k := int8(0); k < c.last; k++ {
		ws = append(ws, int(c.out[k]), int(c.in[k+1]))
	}
	return ws
}

// count returns the numbers of pairs locked together and of idlers.
func (c *chain) count() (pairs, idlers int) {
	for k := int8(1); k < c.last; k++ {
		if c.idler[k] {
			idlers++
		} else {
			pairs++
		}
	}
	return pairs, idlers
}

// yard is the banjo in plain numbers (millimetres), ready for many trials.
type yard struct {
	half       float64 // module / 2: pitch radius per tooth
	add        float64 // addendum = module
	centres    float64
	slot       [2]float64
	cos        [2]float64 // of the largest and the smallest swing
	stud, bush float64    // radii
	screw      float64
	studMost   int16
	screwMost  int16
	studs      int
	bushes     int
	planes     int
}

func yardOf(l *Lathe) yard {
	b, m := l.Banjo, l.Gears.Module.MM()
	y := yard{
		half: m / 2, add: m, centres: b.Centres.MM(),
		slot: [2]float64{b.SlotMin.MM(), b.SlotMax.MM()},
		cos:  [2]float64{b.SwingMax.Cos(), b.SwingMin.Cos()},
		stud: b.StudDia.MM() / 2, bush: b.BushDia.MM() / 2, screw: b.ScrewDia.MM() / 2,
		studMost: mostTeeth, screwMost: mostTeeth,
		studs: b.Studs, bushes: b.Bushes, planes: b.Planes,
	}
	if b.StudMost > 0 {
		y.studMost = int16(b.StudMost)
	}
	if b.ScrewMost > 0 {
		y.screwMost = int16(b.ScrewMost)
	}
	return y
}

// obstacle says what is in the way of a chain: which shafts, and by how much.
type obstacle struct {
	reason     Reason
	a, b       int8    // shafts
	have, need float64 // millimetres, teeth, degrees or a count, after the reason
}

// edge, in millimetres, lets a train that fits exactly fit, whatever the rounding.
const edge = 1e-9

// spot is a chain laid out: distance of each shaft from the screw along the slot,
// and the cosine of the angle between slot and stud.
type spot struct {
	r   [mostShafts]float64
	cos float64
}

// tightest gap and slackest mesh, as a fraction of the module, that a mesh between
// two fixed shafts may have: common practice, no source.
const fixedMeshSlack = 0.1

// place lays the chain out. The slot is straight and points at the screw, so the
// banjo studs stand in line with it, each at the sum of the pitch radii from its
// neighbour; the arm is then swung until the first mesh closes.
//
//	r[k] = r[k+1] + m (z_out[k] + z_in[k+1]) / 2
//	cos(swing) = (D^2 + r[1]^2 - c[0]^2) / (2 D r[1])
//
// D: stud to screw, c[0]: centre distance of the first mesh, m: module.
func (y *yard) place(c *chain, s *spot) obstacle {
	n := c.last
	if c.out[0] > y.studMost {
		return obstacle{reason: TooLargeForStud, have: float64(c.out[0]), need: float64(y.studMost)}
	}
	if c.in[n] > y.screwMost {
		return obstacle{reason: TooLargeForScrew, a: n, have: float64(c.in[n]), need: float64(y.screwMost)}
	}
	if int(n)-1 > y.studs {
		return obstacle{reason: TooFewStuds, have: float64(y.studs), need: float64(n - 1)}
	}
	if pairs, _ := c.count(); pairs > 0 && (pairs > y.bushes || y.planes < 2) {
		if y.planes < 2 {
			return obstacle{reason: TooFewPlanes, have: 1, need: 2}
		}
		return obstacle{reason: TooFewBushes, have: float64(y.bushes), need: float64(pairs)}
	}
	first := y.half * float64(c.out[0]+c.in[1])
	if n == 1 {
		if slack := y.centres - first; slack < -edge || slack > fixedMeshSlack*2*y.half+edge {
			return obstacle{reason: NoReach, a: 0, b: 1, have: first, need: y.centres}
		}
		s.cos = 1
		return y.clear(c, s)
	}
	s.r[n] = 0
	for k := n - 1; k >= 1; k-- {
		s.r[k] = s.r[k+1] + y.half*float64(c.out[k]+c.in[k+1])
		if s.r[k] > y.slot[1]+edge {
			return obstacle{reason: SlotTooShort, a: k, have: s.r[k], need: y.slot[1]}
		}
	}
	if s.r[n-1] < y.slot[0]-edge {
		return obstacle{reason: SlotTooFar, a: n - 1, have: s.r[n-1], need: y.slot[0]}
	}
	d, r := y.centres, s.r[1]
	if first < math.Abs(d-r)-edge || first > d+r+edge {
		return obstacle{reason: NoReach, a: 0, b: 1, have: first, need: math.Abs(d - r)}
	}
	s.cos = (d*d + r*r - first*first) / (2 * d * r)
	if s.cos < y.cos[0]-edge || s.cos > y.cos[1]+edge {
		return obstacle{reason: SwingStops, a: 1, have: math.Acos(s.cos) * 180 / math.Pi}
	}
	return y.clear(c, s)
}

// levels returns the plane of the wheel that each shaft drives with, from 0. A
// pair passes on to the next plane, or back to the first when there are only two.
func (y *yard) levels(c *chain) (plane [mostShafts]int8) {
	for k := int8(1); k < c.last; k++ {
		plane[k] = plane[k-1]
		if !c.idler[k] {
			plane[k]++
			if y.planes == 2 {
				plane[k] &= 1
			}
		}
	}
	return plane
}

// clear checks every wheel against every other wheel of its plane that it does not
// mesh with, and against every other shaft: shafts are taken to reach through all
// planes.
func (y *yard) clear(c *chain, s *spot) obstacle {
	n := c.last
	plane := y.levels(c)
	const gap = float64(Clearance)
	for i := int8(0); i < n; i++ {
		for j := i + 1; j <= n; j++ {
			d := y.distance(s, i, j, n)
			big := func(k int8) float64 { return y.half*float64(max(c.in[k], c.out[k])) + y.add }
			if need := big(i) + y.shaft(j, n) + gap; d < need-edge {
				return obstacle{WheelHitsShaft, i, j, d, need}
			}
			if need := big(j) + y.shaft(i, n) + gap; d < need-edge {
				return obstacle{WheelHitsShaft, j, i, d, need}
			}
			if need, hit := y.sides(c, &plane, i, j, d); hit {
				return obstacle{WheelHitsWheel, i, j, d, need}
			}
		}
	}
	return obstacle{}
}

// sides checks the wheels of two shafts plane by plane.
func (y *yard) sides(c *chain, plane *[mostShafts]int8, i, j int8, d float64) (float64, bool) {
	n := c.last
	pair := func(za, zb int16) (float64, bool) {
		need := y.half*float64(za+zb) + 2*y.add + float64(Clearance)
		return need, d < need-edge
	}
	meshed := j == i+1
	// The wheels of a shaft: driving in plane[k], driven in plane[k-1].
	if i > 0 {
		if plane[i-1] == plane[j-1] && !(meshed && c.idler[i]) {
			if need, hit := pair(c.in[i], c.in[j]); hit {
				return need, true
			}
		}
		if j < n && plane[i-1] == plane[j] && !(meshed && c.idler[i]) && !c.idler[j] {
			if need, hit := pair(c.in[i], c.out[j]); hit {
				return need, true
			}
		}
	}
	if i > 0 && c.idler[i] {
		return 0, false // its one wheel has been looked at
	}
	if !meshed && plane[i] == plane[j-1] {
		if need, hit := pair(c.out[i], c.in[j]); hit {
			return need, true
		}
	}
	if j < n && !c.idler[j] && plane[i] == plane[j] {
		if need, hit := pair(c.out[i], c.out[j]); hit {
			return need, true
		}
	}
	return 0, false
}

func (y *yard) distance(s *spot, i, j, n int8) float64 {
	switch {
	case i > 0:
		return s.r[i] - s.r[j]
	case j == n:
		return y.centres
	}
	return math.Sqrt(y.centres*y.centres + s.r[j]*s.r[j] - 2*y.centres*s.r[j]*s.cos)
}

func (y *yard) shaft(k, n int8) float64 {
	switch k {
	case 0:
		return y.stud
	case n:
		return y.screw
	}
	return y.bush
}
