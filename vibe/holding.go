package vibe

import (
	"errors"
	"fmt"
	"math"

	"thrum/shaft"
	"thrum/unit"
)

// Holding is a way of holding the work (or the boring bar), with its springiness
// at some places along the thread sampled over frequency. It does not change
// after Prepare; preparing takes about a millisecond, and one Holding serves many
// assessments.
type Holding struct {
	places []place
	hz     []float64 // ascending in equal ratios
	x      []float64 // squares of hz
	ratio  float64   // from one frequency to the next
}

// compliance is the springiness between tool and work: radial, axial, and the
// cross terms that a tool side which gives aslant brings in.
type compliance struct{ xx, zz, xz, xy, zy complex128 }

type place struct {
	at       unit.Length
	give     shaft.Compliance // static and radial, tool side included
	response *shaft.Response
	work     bending
	aslant   bool
	sampled  []compliance // at Holding.hz
	side     []complex128 // radial compliance of the tool side alone, likewise
}

// bending is the work's own share of the radial compliance, so that its damping
// can be varied.
type bending struct {
	modes  []shaft.Mode
	terms  []term
	rest   float64 // static compliance of higher modes
	follow float64 // stiffness of a follow rest
}

type term struct{ weight, omega, damping float64 } // weight: one over the modal mass

const (
	mostPlaces = 25
	lowest     = 20    // Hz
	highest    = 12000 // Hz
	dense      = 1.02  // from one frequency to the next
	sparse     = 1.05  // the same for many cases: peaks are parabolas between the samples
	below      = 2.5   // how far below the lowest resonance sparse samples begin
	modesUsed  = 4     // as many as a shaft.Response sums
)

// Prepare samples the bar at places along the thread, at least one and at most 25.
func Prepare(b *shaft.Bar, at []unit.Length) (*Holding, error) { return prepare(b, at, dense) }

// PrepareSparse is Prepare with fewer samples, for an outlook over many cases.
func PrepareSparse(b *shaft.Bar, at []unit.Length) (*Holding, error) { return prepare(b, at, sparse) }

func prepare(b *shaft.Bar, at []unit.Length, ratio float64) (*Holding, error) {
	if b == nil {
		return nil, &unit.InputError{Field: "work", Reason: "is missing"}
	}
	if len(at) == 0 || len(at) > mostPlaces {
		return nil, &unit.InputError{Field: "places along the thread", Value: fmt.Sprint(len(at)), Reason: fmt.Sprintf("are not between 1 and %d", mostPlaces)}
	}
	modes, err := b.Modes(modesUsed)
	if err != nil {
		return nil, err
	}
	give, err := b.AtTool(at)
	if err != nil {
		return nil, err
	}
	h := &Holding{ratio: ratio}
	top, from := 2000.0, float64(lowest)
	if ratio == sparse {
		from = math.Inf(1)
		for _, m := range modes {
			from = min(from, m.Frequency.Hz()/below)
		}
		for _, m := range b.Tool().Modes {
			from = min(from, m.Frequency.Hz()/below)
		}
		from = min(max(from, lowest), 500)
	}
	for _, m := range modes {
		top = max(top, 2.5*m.Frequency.Hz())
	}
	for f := from; f < min(top, highest)*ratio; f *= ratio {
		h.hz, h.x = append(h.hz, f), append(h.x, f*f)
	}
	for i, p := range at {
		q, err := newPlace(b, p, modes)
		if err != nil {
			return nil, err
		}
		q.give = give[i]
		q.sampled = q.sample(h.hz)
		for i, f := range h.hz {
			q.side = append(q.side, q.sampled[i].xx-q.work.at(2*math.Pi*f, 1))
		}
		h.places = append(h.places, q)
	}
	return h, nil
}

func newPlace(b *shaft.Bar, at unit.Length, modes []shaft.Mode) (place, error) {
	p := place{at: at}
	var err error
	if p.response, err = b.Response(at); err != nil {
		return p, err
	}
	with, err1 := b.Compliances([]unit.Length{at})
	bare, err2 := b.Deflection(1, at, []unit.Length{at})
	if err := errors.Join(err1, err2); err != nil {
		return p, err
	}
	p.work = bending{modes: modes, rest: bare[0].MM()}
	if c := with[0].MMPerN(); c > 0 && bare[0].MM()-c > 1e-9*c {
		p.work.follow = 1/c - 1/bare[0].MM()
	}
	for _, m := range modes {
		t := term{1 / float64(m.Mass(at)), 2 * math.Pi * m.Frequency.Hz(), m.Damping}
		p.work.terms = append(p.work.terms, t)
		p.work.rest -= t.weight / (t.omega * t.omega)
	}
	p.work.rest = max(p.work.rest, 0)
	for _, f := range []unit.Frequency{0, 137, 811, 3001} { // a slanting mode shows at any frequency
		c := p.between(f)
		p.aslant = p.aslant || c.xz != 0 || c.xy != 0 || c.zy != 0
	}
	return p, nil
}

// at is the work's own compliance with its damping multiplied.
func (b *bending) at(w, damping float64) complex128 {
	phi := complex(b.rest, 0)
	for _, t := range b.terms {
		phi += complex(t.weight, 0) * inverse(complex(t.omega*t.omega-w*w, 2*damping*t.damping*t.omega*w))
	}
	if b.follow > 0 {
		phi /= 1 + complex(b.follow, 0)*phi
	}
	return phi
}

var (
	radial     = shaft.Direction{Radial: 1}
	tangential = shaft.Direction{Tangential: 1}
	axial      = shaft.Direction{Axial: 1}
)

func (p *place) between(f unit.Frequency) compliance {
	r := p.response
	return compliance{
		complex128(r.Between(f, radial, radial)), complex128(r.Between(f, axial, axial)), complex128(r.Between(f, radial, axial)),
		complex128(r.Between(f, tangential, radial)), complex128(r.Between(f, tangential, axial)),
	}
}

// exact returns the compliance at any frequency for a trial of damping and give.
func (p *place) exact(f unit.Frequency, s scale) compliance {
	var c compliance
	if p.aslant {
		c = p.between(f)
	} else {
		c.xx = complex128(p.response.Between(f, radial, radial))
		c.zz = complex128(p.response.Between(f, axial, axial))
	}
	return p.vary(c, f.Hz(), s)
}

// vary changes the damping of the work and the give of everything.
func (p *place) vary(c compliance, hz float64, s scale) compliance {
	if s.damping != 1 {
		w := 2 * math.Pi * hz
		c.xx += p.work.at(w, s.damping) - p.work.at(w, 1)
	}
	if s.tool != 1 {
		k, w := complex(s.tool, 0), p.work.at(2*math.Pi*hz, s.damping)
		c = compliance{w + k*(c.xx-w), k * c.zz, k * c.xz, k * c.xy, k * c.zy}
	}
	if s.give != 1 {
		k := complex(s.give, 0)
		c = compliance{k * c.xx, k * c.zz, k * c.xz, k * c.xy, k * c.zy}
	}
	return c
}

func (p *place) sample(hz []float64) []compliance {
	out := make([]compliance, len(hz))
	for i, f := range hz {
		out[i] = p.exact(unit.Frequency(f), likely)
	}
	return out
}

// varied returns the samples for a trial.
func (p *place) varied(hz []float64, s scale) []compliance {
	if s.damping == 1 && s.give == 1 && s.tool == 1 {
		return p.sampled
	}
	return p.variedInto(hz, s, make([]compliance, 0, len(hz)))
}

func (p *place) variedInto(hz []float64, s scale, dst []compliance) []compliance {
	give, tool := complex(s.give, 0), complex(s.give*s.tool, 0)
	for i, f := range hz {
		c := p.sampled[i]
		dst = append(dst, compliance{give*p.work.at(2*math.Pi*f, s.damping) + tool*p.side[i], tool * c.zz, tool * c.xz, tool * c.xy, tool * c.zy})
	}
	return dst
}

// Mode names what swings.
type Mode struct {
	Name      string // "first bending of the work", "tool side"
	Direction string // "radial" or "axial"
	Frequency unit.Frequency
	Damping   float64 // fraction of critical; zero where it is not known
	Measured  bool    // from a knock test
}

const (
	toolSide      = "tool side"
	toolSideAxial = "tool side along the thread"
)

// mode returns what gives most at a frequency, along the direction that does.
func (p *place) mode(f unit.Frequency, g Gain) Mode {
	c := p.exact(f, likely)
	if size(complex(float64(g.Axial), 0)*c.zz) > size(complex(float64(g.Radial), 0)*c.xx) {
		return Mode{Name: toolSideAxial, Direction: "axial", Frequency: f}
	}
	w := 2 * math.Pi * f.Hz()
	best, most := -1, size(c.xx-p.work.at(w, 1))
	for i, t := range p.work.terms {
		if part := size(complex(t.weight, 0) / complex(t.omega*t.omega-w*w, 2*t.damping*t.omega*w)); part > most {
			best, most = i, part
		}
	}
	if best < 0 {
		return Mode{Name: toolSide, Direction: "radial", Frequency: f}
	}
	m := p.work.modes[best]
	return Mode{
		Name: [...]string{"first", "second", "third", "fourth"}[best] + " bending of the work", Direction: "radial",
		Frequency: m.Frequency, Damping: m.Damping, Measured: m.Measured,
	}
}
