package made

import (
	"image"
	"image/color"
	"math"
	"math/rand/v2"

	"thrum/unit"
	"thrum/vibe"
)

// Thread is the shape that a picture shows.
type Thread struct{ Diameter, Pitch, Depth, NoseFlat unit.Length }

// Thread returns the set-up's own.
func (s Setup) Thread() Thread { return Thread{s.Diameter, s.Pitch, s.Depth, s.NoseFlat} }

// View is camera and lamp.
type View struct {
	Width, Height int         // pixels; zero: 1200 x 900
	Across        unit.Length // how much of the axis the width shows; zero: eight pitches
	From          unit.Length // of the lens from the axis; zero: 150 mm
	First         float64     // turn in the middle of the picture; zero: the middle of the thread
	Roll          unit.Angle  // of the camera round its own axis
	Lamp          unit.Angle  // from the lens upwards round the work; zero: 55 degrees, which rakes the flanks' waves
	Gloss         float64     // share of the mirror-like part of the light; zero: 0.25
	Scratch       unit.Length // rms of the marks that the edge's own roughness leaves along the helix; zero: 0.3 um
	Blur          float64     // of the lens, rms in pixels; zero: 0.6
	Grain         float64     // noise as a part of full white; zero: 0.01
	Seed          uint64
}

func (v View) filled(s *vibe.Simulation, t Thread) View {
	set := func(x *float64, usual float64) {
		if *x == 0 {
			*x = usual
		}
	}
	if v.Width == 0 {
		v.Width, v.Height = 1200, 900
	}
	if v.Across == 0 {
		v.Across = 8 * t.Pitch
	}
	if v.From == 0 {
		v.From = 150
	}
	if v.Lamp == 0 {
		v.Lamp = 55 * unit.Degree
	}
	if v.Scratch == 0 {
		v.Scratch = 0.0003
	}
	set(&v.First, s.Turns/2)
	set(&v.Gloss, 0.25)
	set(&v.Blur, 0.6)
	set(&v.Grain, 0.01)
	return v
}

const (
	ambient = 0.12
	matt    = 0.75
	shine   = 30.0 // exponent of the mirror-like part
	dark    = 0.03 // of what is behind the work
)

// Picture renders the thread that a simulation left: each pixel's ray is followed to
// the surface r(x, angle), whose slope there sends the lamp's light to the lens
// (Lambert and Blinn-Phong). Then come blur, the grain of the light and the curve
// of sRGB. Parts of the thread do not shade each other.
func Picture(s *vibe.Simulation, t Thread, v View) *image.Gray {
	v = v.filled(s, t)
	g := newThreaded(s, t)
	g.entry = g.pitch * v.First
	g.end = g.entry + 2*g.pitch
	random := rand.New(rand.NewPCG(v.Seed, 0x70))
	g.scratch = make([]float64, 400)
	for i := range g.scratch {
		g.scratch[i] = v.Scratch.MM() * random.NormFloat64()
	}
	light := make([]float64, v.Width*v.Height)
	c := newCamera(v)
	for j := range v.Height {
		for i := range v.Width {
			light[j*v.Width+i] = c.look(g, float64(i)+0.5, float64(j)+0.5)
		}
	}
	light = blurred(light, v.Width, v.Height, v.Blur)
	out := image.NewGray(image.Rect(0, 0, v.Width, v.Height))
	for k, e := range light {
		e += v.Grain * random.NormFloat64() * math.Sqrt(max(e, 0)+0.05)
		out.SetGray(k%v.Width, k/v.Width, color.Gray{Y: uint8(math.Round(255 * srgb(min(max(e, 0), 1))))})
	}
	return out
}

func srgb(e float64) float64 {
	if e <= 0.0031308 {
		return 12.92 * e
	}
	return 1.055*math.Pow(e, 1/2.4) - 0.055
}

type camera struct {
	v        View
	scale    float64 // mm on the axis' plane per pixel
	sin, cos float64
	lamp     [3]float64
}

func newCamera(v View) camera {
	c := camera{v: v, scale: v.Across.MM() / float64(v.Width)}
	c.sin, c.cos = math.Sincos(v.Roll.Rad())
	c.lamp = unitary([3]float64{0.15, math.Sin(v.Lamp.Rad()), math.Cos(v.Lamp.Rad())})
	return c
}

func unitary(a [3]float64) [3]float64 {
	n := math.Sqrt(a[0]*a[0] + a[1]*a[1] + a[2]*a[2])
	return [3]float64{a[0] / n, a[1] / n, a[2] / n}
}

// look follows one ray.
func (c camera) look(g *threaded, i, j float64) float64 {
	px, py := (i-float64(c.v.Width)/2)*c.scale, (float64(c.v.Height)/2-j)*c.scale
	dir := unitary([3]float64{c.cos*px - c.sin*py, c.sin*px + c.cos*py, -c.v.From.MM()})
	from := [3]float64{0, 0, c.v.From.MM()}
	// to the cylinder round the work
	a := dir[1]*dir[1] + dir[2]*dir[2]
	b := from[2] * dir[2]
	disc := b*b - a*(from[2]*from[2]-g.radius*g.radius)
	if disc < 0 {
		return dark
	}
	t := (-b - math.Sqrt(disc)) / a
	for range 200 {
		p := [3]float64{from[0] + t*dir[0], from[1] + t*dir[1], from[2] + t*dir[2]}
		rr := math.Hypot(p[1], p[2])
		f := rr - g.r(p[0], math.Atan2(p[2], p[1]))
		if p[0] > g.end || rr > g.radius+1e-6 && p[2] < 0 {
			return dark
		}
		if f < 2e-4 {
			return c.shade(g, p, dir)
		}
		t += 0.45 * f // a 60 degree flank falls by twice its distance
	}
	return dark
}

// near is half of the distance over which slopes are taken, mm.
const near = 0.004

// shade is the light that the surface at p sends back along the ray.
func (c camera) shade(g *threaded, p, dir [3]float64) float64 {
	angle, rr := math.Atan2(p[2], p[1]), math.Hypot(p[1], p[2])
	fx := (g.r(p[0]+near, angle) - g.r(p[0]-near, angle)) / (2 * near)
	fa := (g.r(p[0], angle+near/rr) - g.r(p[0], angle-near/rr)) / (2 * near)
	cos, sin := p[1]/rr, p[2]/rr // outwards; along the angle is (-sin, cos)
	n := unitary([3]float64{-fx, cos + fa*sin, sin - fa*cos})
	to := unitary([3]float64{c.lamp[0] - dir[0], c.lamp[1] - dir[1], c.lamp[2] - dir[2]})
	lambert := n[0]*c.lamp[0] + n[1]*c.lamp[1] + n[2]*c.lamp[2]
	mirror := n[0]*to[0] + n[1]*to[1] + n[2]*to[2]
	e := ambient
	if lambert > 0 {
		e += matt * (1 - c.v.Gloss) * lambert
		e += c.v.Gloss * math.Pow(max(mirror, 0), shine)
	}
	return e
}

// blurred is a Gaussian in both directions.
func blurred(x []float64, w, h int, rms float64) []float64 {
	if rms <= 0 {
		return x
	}
	half := int(math.Ceil(3 * rms))
	k := make([]float64, 2*half+1)
	sum := 0.0
	for i := range k {
		d := float64(i-half) / rms
		k[i] = math.Exp(-d * d / 2)
		sum += k[i]
	}
	pass := func(src []float64, n, m, step, row int) []float64 {
		dst := make([]float64, len(src))
		for r := range m {
			for i := range n {
				v := 0.0
				for q, weight := range k {
					v += weight * src[r*row+min(max(i+q-half, 0), n-1)*step]
				}
				dst[r*row+i*step] = v / sum
			}
		}
		return dst
	}
	return pass(pass(x, w, h, 1, w), h, w, w, 1)
}
