package photo_test

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
)

// A scene is a made-up photograph of a thread: a ray is cast through every pixel on
// to r(x, angle), which is lit, blurred, made noisy and written as a JPEG. It shares
// no code with the measuring; where the two agree, the geometry has been worked out
// twice. Lengths are millimetres, angles radians.
type scene struct {
	W, H                 int
	Pitch, Major         float64
	Starts               int
	Left                 bool
	Distance             float64 // of the axis
	Fill                 float64 // height of the thread over that of the picture
	Roll                 float64
	OffX, OffY           float64 // of the axis point from the optical axis
	K1                   float64 // radial distortion at the corner
	Begin                float64 // thread begins at this place, a relief groove before it; -Inf: fills the picture
	Marks                float64 // per turn
	Radial, Axial        float64 // amplitude of the tool's motion
	Second, SecondRadial float64
	Drift                float64 // change of marks per turn, per turn
	Lay                  float64 // slope of the scratches along the groove
	Torn                 float64 // slope of irregular tearing
	Dirt                 int     // specks
	Lights               []lamp
	Ambient              float64
	Gloss, Shine         float64
	Back, BackSlope      float64 // light of the background, and its change across the picture
	Blotch               float64 // unevenness of the background
	Stripes, StripeDepth float64 // rows of light and dark that lie in the picture: period in pixels, depth
	Burnt                float64 // share of the thread that is burnt out
	Blur, Noise          float64 // pixels; share of white
	Quality              int
	Seed                 uint64
}

type lamp struct{ X, Y, Z, Power float64 } // millimetres from the middle of the thread; Z towards the camera is negative

// photograph renders the scene and returns the bytes of a JPEG.
func (s scene) photograph(t testing.TB) []byte {
	t.Helper()
	img := s.expose(s.render())
	var buf bytes.Buffer
	if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: s.Quality}); err != nil {
		t.Fatal(err)
	}
	return buf.Bytes()
}

// trace holds what rays of one height above the axis pass through.
type trace struct {
	hit      bool
	depth    [traceSteps]float32 // along the ray's z
	radius   [traceSteps]float32
	around   [traceSteps]float32
	shift    [traceSteps]float64 // of the groove by then, in pitches
	sin, cos [traceSteps]float32
}

const traceSteps = 40

type renderer struct {
	s         scene
	f         float64
	root      float64
	lead      float64
	traces    []trace
	v0, dv    float64
	lay, torn []float32
	tint      []float32
}

const texWide, texHigh = 2048, 256

// render returns the light at each pixel; thread pixels first raised by nothing,
// the background as it is. Not exposed yet.
func (s scene) render() (light []float32, thread []bool) {
	q := &renderer{s: s}
	r := s.Major / 2
	q.f = s.Fill * float64(s.H) / 2 * math.Sqrt(s.Distance*s.Distance-r*r) / r
	q.root = r - 0.6134*s.Pitch
	q.lead = s.Pitch * float64(max(s.Starts, 1))
	if s.Left {
		q.lead = -q.lead
	}
	q.textures()
	q.prepare()
	light, thread = make([]float32, s.W*s.H), make([]bool, s.W*s.H)
	var wg sync.WaitGroup
	for part := range 4 {
		wg.Go(func() {
			for j := s.H * part / 4; j < s.H*(part+1)/4; j++ {
				for i := range s.W {
					light[j*s.W+i], thread[j*s.W+i] = q.pixel(i, j)
				}
			}
		})
	}
	wg.Wait()
	return light, thread
}

// ray gives the direction (u, v, 1) of a pixel in a frame whose first axis lies along the thread.
func (q *renderer) ray(i, j int) (u, v float64) {
	a, b := float64(i)-float64(q.s.W)/2, float64(j)-float64(q.s.H)/2
	if q.s.K1 != 0 {
		rr := (a*a + b*b) / (float64(q.s.W*q.s.W+q.s.H*q.s.H) / 4)
		a, b = a*(1+q.s.K1*rr), b*(1+q.s.K1*rr)
	}
	sin, cos := math.Sincos(q.s.Roll)
	return (a*cos + b*sin) / q.f, (-a*sin + b*cos) / q.f
}

func (q *renderer) prepare() {
	reach := 0.75 * math.Hypot(float64(q.s.W), float64(q.s.H)) / q.f
	q.dv = 0.125 / q.f
	q.v0 = -reach
	q.traces = make([]trace, int(2*reach/q.dv)+2)
	var wg sync.WaitGroup
	for part := range 4 {
		wg.Go(func() {
			for k := len(q.traces) * part / 4; k < len(q.traces)*(part+1)/4; k++ {
				q.traceRow(&q.traces[k], q.v0+float64(k)*q.dv)
			}
		})
	}
	wg.Wait()
}

// traceRow steps a ray from where it enters the outside cylinder to where it enters
// that of the root, or leaves the outside one again.
func (q *renderer) traceRow(tr *trace, v float64) {
	d, r := q.s.Distance, q.s.Major/2
	cut := func(rad float64) (t0, t1 float64, ok bool) {
		// |(y, z)| with y = t v - OffY, z = t - d
		a, b, c := 1+v*v, d+v*q.s.OffY, d*d+q.s.OffY*q.s.OffY-rad*rad
		disc := b*b - a*c
		if disc < 0 {
			return 0, 0, false
		}
		return (b - math.Sqrt(disc)) / a, (b + math.Sqrt(disc)) / a, true
	}
	from, to, ok := cut(r)
	if !ok {
		return
	}
	if in, _, ok := cut(q.root - 1e-6); ok {
		to = in
	}
	tr.hit = true
	for k := range traceSteps {
		t := from + (to-from)*float64(k)/(traceSteps-1)
		y, z := t*v-q.s.OffY, t-d
		rad := math.Hypot(y, z)
		tr.depth[k], tr.radius[k] = float32(t), float32(rad)
		tr.around[k] = float32(math.Atan2(y, -z))
		tr.shift[k] = q.lead * math.Atan2(y, -z) / (2 * math.Pi * q.s.Pitch)
		tr.sin[k], tr.cos[k] = float32(y/rad), float32(-z/rad)
	}
}

// across returns where in a groove the place lies: groove number, -0.5 to 0.5 across it.
func (q *renderer) across(x, around float64) (groove, u float64) {
	s := (x - q.lead*around/(2*math.Pi)) / q.s.Pitch
	groove = math.Floor(s + 0.5)
	return groove, s - groove
}

// Halves of the flats over the pitch: P/8 at the crest, what is left in the root.
const crestFlat = 0.0625

var rootFlat = 0.5 - crestFlat - 0.6134*math.Tan(math.Pi/6)

// height returns the radius and its change with u.
func (q *renderer) height(u float64) (r, slope float64) {
	a := math.Abs(u)
	switch {
	case a < rootFlat:
		return q.root, 0
	case a > 0.5-crestFlat:
		return q.s.Major / 2, 0
	}
	slope = 0.6134 * q.s.Pitch / (0.5 - crestFlat - rootFlat)
	return q.root + (a-rootFlat)*slope, math.Copysign(slope, u)
}

func (q *renderer) pixel(i, j int) (float32, bool) {
	u, v := q.ray(i, j)
	tr := &q.traces[min(max(int((v-q.v0)/q.dv+0.5), 0), len(q.traces)-1)]
	if !tr.hit {
		return q.background(i, j), false
	}
	var before float64
	for k := range traceSteps {
		x := float64(tr.depth[k])*u - q.s.OffX
		place := x/q.s.Pitch - tr.shift[k]
		groove := math.Floor(place + 0.5)
		r, _ := q.height(place - groove)
		if x < q.s.Begin {
			r = q.root
		}
		gap := float64(tr.radius[k]) - r
		if gap > 0 {
			before = gap
			continue
		}
		if k == 0 {
			return q.shade(tr, 0, 0, u), true
		}
		w := before / (before - gap)
		return q.shade(tr, k-1, w, u), true
	}
	if tr.radius[traceSteps-1] < float32(q.root)+1e-3 {
		return q.shade(tr, traceSteps-1, 0, u), true
	}
	return q.background(i, j), false
}

func (q *renderer) shade(tr *trace, k int, w, u float64) float32 {
	mix := func(a *[traceSteps]float32) float64 {
		if w == 0 {
			return float64(a[k])
		}
		return float64(a[k])*(1-w) + float64(a[k+1])*w
	}
	around, depth, r := mix(&tr.around), mix(&tr.depth), mix(&tr.radius)
	x := depth*u - q.s.OffX
	groove, across := q.across(x, around)
	_, slope := q.height(across)
	helix := around + 2*math.Pi*groove/(q.lead/q.s.Pitch)
	dx, dth := slope/q.s.Pitch, -slope*q.lead/(2*math.Pi*q.s.Pitch)
	if math.Abs(across) < 0.5-crestFlat && x >= q.s.Begin {
		for _, tone := range [2][2]float64{{q.s.Marks, q.s.Radial}, {q.s.Second, q.s.SecondRadial}} {
			if tone[1] != 0 || q.s.Axial != 0 {
				phase := tone[0]*helix + q.s.Drift*helix*helix/(4*math.Pi)
				move := -tone[1]
				if tone[0] == q.s.Marks {
					move += q.s.Axial * slope / q.s.Pitch
				}
				dth += move * (tone[0] + q.s.Drift*helix/(2*math.Pi)) * math.Sin(phase+groove*float64(max(q.s.Starts, 1)-1))
			}
		}
	}
	si := int((across+0.5)*texHigh) & (texHigh - 1)
	hi := (int((helix+900)*float64(texWide)/(2*math.Pi)) + int(groove+500)*733) & (texWide - 1)
	shift := int(groove+500) * 91
	dx += q.s.Lay * float64(q.lay[((si+shift)&(texHigh-1))*texWide+hi])
	rough := float64(q.torn[((si+shift)&(texHigh-1))*texWide+hi])
	dx, dth = dx+0.5*q.s.Torn*rough, dth+q.s.Torn*r*rough
	sin, cos := mix(&tr.sin), mix(&tr.cos)
	t := -dth / r
	nx, ny, nz := -dx, sin+t*cos, -cos+t*sin
	norm := 1 / math.Sqrt(nx*nx+ny*ny+nz*nz)
	px, py, pz := x, r*sin, -r*cos
	tint := float64(q.tint[((si+shift)&(texHigh-1))*texWide+hi])
	return float32(q.lit(nx*norm, ny*norm, nz*norm, px, py, pz) * tint)
}

func (q *renderer) lit(nx, ny, nz, px, py, pz float64) float64 {
	light := q.s.Ambient
	vx, vy, vz := unitOf(-q.s.OffX-px, -q.s.OffY-py, -q.s.Distance-pz)
	for _, l := range q.s.Lights {
		lx, ly, lz := unitOf(l.X-px, l.Y-py, l.Z-pz)
		diffuse := nx*lx + ny*ly + nz*lz
		if diffuse <= 0 {
			continue
		}
		hx, hy, hz := unitOf(lx+vx, ly+vy, lz+vz)
		light += l.Power * (diffuse + q.s.Gloss*math.Exp(-q.s.Shine*(1-(nx*hx+ny*hy+nz*hz))))
	}
	return light
}

func unitOf(x, y, z float64) (float64, float64, float64) {
	n := 1 / math.Sqrt(x*x+y*y+z*z)
	return x * n, y * n, z * n
}

func (q *renderer) background(i, j int) float32 {
	a, b := float64(i)/float64(q.s.W)-0.5, float64(j)/float64(q.s.H)-0.5
	v := q.s.Back * (1 + q.s.BackSlope*(a+b))
	if q.s.Blotch > 0 {
		v *= 1 + q.s.Blotch*(math.Sin(17*a+3*math.Sin(9*b))+math.Sin(23*b-5*a))/2
	}
	return float32(math.Max(v, 0))
}

// textures makes the unevenness of the surface: scratches drawn out along the
// groove, tearing in short irregular patches, and stains and specks of dirt.
func (q *renderer) textures() {
	rng := rand.New(rand.NewPCG(q.s.Seed, 7))
	field := func(long, wide int) []float32 {
		f := make([]float32, texWide*texHigh)
		for i := 0; i < len(f); i += 4 {
			v := rng.Uint64()
			for k := range 4 {
				f[i+k] = float32(v>>(16*k)&0xffff) - 32767.5
			}
		}
		smoothRows(f, long)
		smoothColumns(f, wide)
		sum := 0.0
		for _, v := range f[:8*texWide] {
			sum += float64(v) * float64(v)
		}
		k := float32(1 / math.Sqrt(sum/(8*texWide)+1e-12))
		for i := range f {
			f[i] *= k
		}
		return f
	}
	q.lay = field(60+rng.IntN(200), 2)
	q.torn = field(3+rng.IntN(10), 6+rng.IntN(15))
	q.tint = field(20, 15)
	for i, v := range q.tint {
		q.tint[i] = 1 + 0.03*v
	}
	for range q.s.Dirt {
		ci, cj, size := rng.IntN(texWide), rng.IntN(texHigh), 4+rng.IntN(14)
		dark := float32(0.2 + 0.5*rng.Float64())
		for a := -size; a <= size; a++ {
			for b := -2 * size; b <= 2*size; b++ {
				if a*a*4+b*b <= 4*size*size {
					q.tint[((cj+b)&(texHigh-1))*texWide+(ci+a)&(texWide-1)] *= dark
				}
			}
		}
	}
}

// smoothRows takes running means of n values along each row of a texture, twice; rows
// close on themselves.
func smoothRows(f []float32, n int) {
	buf := make([]float32, texWide)
	for range 2 {
		for y := range texHigh {
			row := f[y*texWide:][:texWide]
			var sum float32
			for _, v := range row[:n] {
				sum += v
			}
			for k := range row {
				buf[k] = sum / float32(n)
				sum += row[(k+n)%texWide] - row[k]
			}
			copy(row, buf)
		}
	}
}

// smoothColumns does the same down the columns.
func smoothColumns(f []float32, n int) {
	n = min(n, texHigh/2)
	row := func(y int) []float32 { return f[(y%texHigh)*texWide:][:texWide] }
	for range 2 {
		old := append([]float32(nil), f...)
		was := func(y int) []float32 { return old[(y%texHigh)*texWide:][:texWide] }
		sum := make([]float32, texWide)
		for k := range n {
			for x, v := range was(k) {
				sum[x] += v
			}
		}
		for y := range texHigh {
			in, out := was(y+n), was(y)
			for x := range sum {
				row(y)[x] = sum[x] / float32(n)
				sum[x] += in[x] - out[x]
			}
		}
	}
}

// expose blurs, sets the exposure so that the asked share of the thread is burnt
// out, adds noise and stores with the sRGB curve.
func (s scene) expose(light []float32, thread []bool) *image.Gray {
	if s.Stripes > 0 {
		for i := range light {
			light[i] *= float32(1 + s.StripeDepth*math.Sin(2*math.Pi*float64(i/s.W)/s.Stripes))
		}
	}
	gaussian(light, s.W, s.H, s.Blur)
	var some []float32
	for i := 0; i < len(light); i += 37 {
		if thread[i] {
			some = append(some, light[i])
		}
	}
	white := float32(1)
	if len(some) > 0 {
		slices.Sort(some)
		if s.Burnt > 0 {
			white = some[min(int(float64(len(some))*(1-s.Burnt)), len(some)-1)]
		} else {
			white = 1.1 * some[len(some)-1]
		}
	}
	rng := rand.New(rand.NewPCG(s.Seed, 11))
	noise := make([]float32, 1<<14)
	for i := range noise {
		noise[i] = float32(rng.NormFloat64() * s.Noise)
	}
	curve := make([]uint8, 4096)
	for i := range curve {
		curve[i] = uint8(math.Round(255 * srgb((float64(i)+0.5)/4096)))
	}
	img := image.NewGray(image.Rect(0, 0, s.W, s.H))
	for i, v := range light {
		if thread[i] {
			v /= white
		}
		v += noise[rng.IntN(len(noise))] * float32(math.Sqrt(0.1+math.Min(float64(v), 1)))
		img.Pix[i] = curve[min(max(int(v*4096), 0), 4095)]
	}
	return img
}

func srgb(v float64) float64 {
	if v <= 0.0031308 {
		return 12.92 * v
	}
	return 1.055*math.Pow(v, 1/2.4) - 0.055
}

func gaussian(f []float32, w, h int, sigma float64) {
	if sigma <= 0 {
		return
	}
	n := int(3*sigma) + 1
	kernel := make([]float32, 2*n+1)
	var sum float32
	for i := range kernel {
		d := float64(i-n) / sigma
		kernel[i] = float32(math.Exp(-d * d / 2))
		sum += kernel[i]
	}
	for i := range kernel {
		kernel[i] /= sum
	}
	tmp := make([]float32, len(f))
	for y := range h {
		for x := range w {
			var v float32
			for k, g := range kernel {
				v += g * f[y*w+min(max(x+k-n, 0), w-1)]
			}
			tmp[y*w+x] = v
		}
	}
	for y := range h {
		out := f[y*w:][:w]
		clear(out)
		for k, g := range kernel {
			row := tmp[min(max(y+k-n, 0), h-1)*w:][:w]
			for x, v := range row {
				out[x] += g * v
			}
		}
	}
}

// usual is a fair photograph of M20x2.5, lit from above along the circumference.
func usual(seed uint64) scene {
	return scene{
		W: 1200, H: 900, Pitch: 2.5, Major: 19.9, Distance: 150, Fill: 0.8, Roll: 0.04,
		Begin: math.Inf(-1), Lay: 0.05, Dirt: 10,
		Lights:  []lamp{{X: 20, Y: -150, Z: -60, Power: 1}, {X: -60, Y: 100, Z: -100, Power: 0.3}},
		Ambient: 0.08, Gloss: 0.6, Shine: 30, Back: 0.8, BackSlope: 0.2, Burnt: 0.01,
		Blur: 0.7, Noise: 0.01, Quality: 90, Seed: seed,
	}
}

// truth is what Find should see in the scene.
type truth struct{ pitch, crest, centre float64 }

func (s scene) truth() truth {
	r := s.Major / 2
	f := s.Fill * float64(s.H) / 2 * math.Sqrt(s.Distance*s.Distance-r*r) / r
	var e truth
	e.pitch = f * s.Pitch / (s.Distance - r)
	// The point of the axis line nearest to the middle of the picture.
	across := f * s.OffY / s.Distance
	e.centre = float64(s.H)/2 + across*math.Cos(s.Roll)
	e.crest = (s.OffX + s.Pitch/2) * f / (s.Distance - r) / e.pitch
	e.crest -= math.Floor(e.crest)
	return e
}
