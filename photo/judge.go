package photo

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"
	"slices"

	"thrum/internal/dsp"
)

// whiten divides the power spectrum p, whose bins are per marks per turn apart, by its
// running median, made the mean by ln 2 as for noise, and zeroes it outside lo..hi. The
// median runs over a third of the count to either side, since stains and shading make
// few marks per turn much stronger than many. A spectrum with a high peak is scaled
// down as a whole, so that no single strip outweighs all others.
func whiten(p []float64, lo, hi int, per float64) []float64 {
	const most = 14
	out := make([]float64, len(p))
	floor := background(p, lo, hi, per)
	highest := 0.0
	for k := lo; k <= hi; k++ {
		out[k] = p[k] / (floor[k-lo]/math.Ln2 + 1e-18)
		highest = math.Max(highest, out[k])
	}
	if highest > most {
		for k := lo; k <= hi; k++ {
			out[k] *= most / highest
		}
	}
	return out
}

// background is the running median of whiten for the bins lo to hi, taken at steps of
// a quarter of its width and drawn straight between them.
func background(p []float64, lo, hi int, per float64) []float64 {
	out := make([]float64, max(hi-lo+1, 0))
	var buf []float64
	last, lastAt := 0.0, -1
	for k := lo; k <= hi; {
		n := float64(k) * per
		half := int(math.Min(math.Max(n/3, 14), 70) / per)
		buf = append(buf[:0], p[max(k-half, 1):min(k+half+1, len(p))]...)
		m := median(buf)
		if lastAt < 0 {
			out[0] = m
		}
		for j := lastAt + 1; lastAt >= 0 && j <= k; j++ {
			w := float64(j-lastAt) / float64(k-lastAt)
			out[j-lo] = last*(1-w) + m*w
		}
		last, lastAt = m, k
		if k == hi {
			break
		}
		k = min(k+max(half/4, 1), hi)
	}
	return out
}

func median(x []float64) float64 {
	if len(x) == 0 {
		return 0
	}
	slices.Sort(x)
	return x[len(x)/2]
}

// turns groups the strips by groove, lowest first.
func (w *reader) turns() [][]*strip {
	by := map[int][]*strip{}
	var order []int
	for _, s := range w.all {
		if by[s.groove] == nil {
			order = append(order, s.groove)
		}
		by[s.groove] = append(by[s.groove], s)
	}
	slices.Sort(order)
	out := make([][]*strip, len(order))
	for i, n := range order {
		out[i] = by[n]
	}
	return out
}

func mean(list []*strip, pick func(*strip) []float64) []float64 {
	if len(list) == 0 {
		return nil
	}
	out := make([]float64, len(pick(list[0])))
	for _, s := range list {
		for k, v := range pick(s) {
			out[k] += v
		}
	}
	for k := range out {
		out[k] /= float64(len(list))
	}
	return out
}

func level(s *strip) []float64 { return s.level }

// top returns the largest value of lo..hi and its place between bins.
func top(x []float64, lo, hi int) (at, height float64) {
	best := lo
	for k := lo; k <= hi && k < len(x); k++ {
		if x[k] > x[best] {
			best = k
		}
	}
	if best <= 0 || best+1 >= len(x) {
		return float64(best), x[best]
	}
	p, h := dsp.Vertex(x[best-1], x[best], x[best+1])
	return float64(best) + p, h
}

// Thresholds, set on one range of made-up photographs and reported on another; see
// docs/photo.md.
const (
	peakAccept  = 4.0
	peakDoubt   = 3.0
	votesAccept = 0.7
	votesDoubt  = 0.5
	voteReach   = 6 // marks per turn
	evenMost    = 1.05
	leastTurns  = 4
	stillFrom   = 60 // marks per turn above which shading by a lamp does not reach
)

// judge finds the peak that the turns agree on and decides what it is worth.
func (w *reader) judge() {
	r := w.r
	at, spread := w.agree()
	if r.Peak < peakDoubt || r.Votes < votesDoubt {
		// A whole number of marks lies at the same place in every turn and went out with
		// the lamp's shading. Look again with the shading in, above where shading reaches.
		peak, votes, sp := r.Peak, r.Votes, r.Spectrum
		lo := w.lo
		for _, s := range w.all {
			copy(s.moving, s.signal)
		}
		w.spectra()
		w.lo = max(lo, int(w.bin(stillFrom)))
		if w.hi > w.lo {
			at, spread = w.agree()
			r.Still = r.Peak >= peakAccept && r.Votes >= votesAccept
		}
		w.lo = lo
		if !r.Still {
			r.Peak, r.Votes, r.Spectrum = peak, votes, sp
		}
	}
	w.bands(at)
	w.fraction(at)
	w.decide(at, spread)
	w.appearance()
	if r.Verdict == Refused {
		for i := range r.Bands {
			r.Bands[i].Contrast = 0
		}
		r.Fraction, r.Comb = nil, nil
		return
	}
	w.index(at)
	w.comb()
}

// agree puts the spectra of all turns together, places the highest peak, and counts
// the turns that have theirs there too.
func (w *reader) agree() (at, spread float64) {
	turns := w.turns()
	perTurn := make([][]float64, len(turns))
	for i, t := range turns {
		perTurn[i] = mean(t, level)
	}
	all := mean(w.all, level)
	at, height := top(all, w.lo, w.hi)
	votes := 0
	for _, s := range perTurn {
		k, _ := top(s, w.lo, w.hi)
		if math.Abs(w.marks(k-at)) <= voteReach {
			votes++
		}
	}
	w.r.Turns = len(turns)
	w.r.Peak = height
	w.r.Votes = float64(votes) / float64(len(turns))
	w.r.Spectrum = Spectrum{w.marks(float64(w.lo)), w.marks(1), all[w.lo : w.hi+1]}
	return at, w.bootstrap(perTurn, at)
}

// bootstrap draws turns with replacement and returns how much the peak moves.
func (w *reader) bootstrap(perTurn [][]float64, at float64) float64 {
	rng := rand.New(rand.NewPCG(1, 2))
	reach := int(w.bin(voteReach)) + 1
	lo, hi := max(int(at)-reach, w.lo), min(int(at)+reach, w.hi)
	sum := make([]float64, hi+2)
	var s1, s2 float64
	const draws = 60
	for range draws {
		clear(sum)
		for range perTurn {
			t := perTurn[rng.IntN(len(perTurn))]
			for k := lo; k <= min(hi+1, len(t)-1); k++ {
				sum[k] += t[k]
			}
		}
		k, _ := top(sum, lo, hi)
		s1, s2 = s1+k, s2+k*k
	}
	return w.marks(math.Sqrt(math.Max(s2/draws-s1*s1/(draws*draws), 0)))
}

// bands says what each part of the groove shows by itself.
func (w *reader) bands(at float64) {
	names := [strips]BandName{LeftFlank, Root, RightFlank}
	switch w.o.Feed {
	case ToLeft:
		names = [strips]BandName{LeadingFlank, Root, TrailingFlank}
	case ToRight:
		names = [strips]BandName{TrailingFlank, Root, LeadingFlank}
	}
	for b := range strips {
		var list []*strip
		out := Band{Name: names[b]}
		for _, s := range w.all {
			if s.band == b {
				list = append(list, s)
				out.Burnt += s.burnt
			}
		}
		if len(list) == 0 {
			w.r.Bands = append(w.r.Bands, out)
			continue
		}
		out.Burnt /= float64(len(list))
		k, h := top(mean(list, level), w.lo, w.hi)
		out.Peak = h
		votes := 0
		for _, s := range list {
			own, _ := top(s.level, w.lo, w.hi)
			if math.Abs(w.marks(own-at)) <= voteReach {
				votes++
			}
		}
		out.Votes = float64(votes) / float64(len(list))
		if h >= peakAccept && out.Votes >= 0.3 && math.Abs(w.marks(k-at)) <= voteReach {
			out.Found = true
			out.Marks = Count{w.marks(k), math.Hypot(0.02*w.marks(k), 3/math.Sqrt(h*float64(len(list))))}
		}
		out.Contrast = contrastOf(list, at)
		w.r.Bands = append(w.r.Bands, out)
	}
}

// contrastOf is the amplitude at a bin, root mean square over strips.
func contrastOf(list []*strip, at float64) float64 {
	k := int(at + 0.5)
	sum := 0.0
	for _, s := range list {
		if k < len(s.coef) {
			a := cmplx.Abs(s.coef[k])
			sum += a * a
		}
	}
	return math.Sqrt(sum / float64(len(list)))
}

// fraction takes the phase step from each groove to the next of the same start:
//
//	arg sum Z[n+starts] conj Z[n] = 2 pi N  (mod 2 pi)
func (w *reader) fraction(at float64) {
	k := int(at + 0.5)
	next := map[[2]int]*strip{}
	for _, s := range w.all {
		next[[2]int{s.groove, s.band}] = s
	}
	starts := int(math.Round(math.Abs(w.f.lead) / w.f.pitch))
	var sum complex128
	var size float64
	var steps []complex128
	for _, s := range w.all {
		t := next[[2]int{s.groove + starts, s.band}]
		if t == nil || k >= len(s.coef) {
			continue
		}
		z := t.coef[k] * cmplx.Conj(s.coef[k])
		if w.f.lead < 0 {
			z = cmplx.Conj(z)
		}
		sum, size = sum+z, size+cmplx.Abs(z)
		steps = append(steps, z)
	}
	if len(steps) < 6 || size == 0 {
		return
	}
	coherence := cmplx.Abs(sum) / size
	if coherence < 0.35 {
		return
	}
	phase := cmplx.Phase(sum) / (2 * math.Pi)
	phase -= math.Floor(phase)
	// Scatter of the steps about their mean, three bands of one turn counting as one.
	scatter := math.Sqrt(-2*math.Log(math.Min(coherence, 0.9999))) / (2 * math.Pi)
	w.r.Fraction = &Fraction{phase, math.Max(scatter/math.Sqrt(float64(len(steps))/3), 0.01), len(steps)}
}

// comb lists the counts within two uncertainties whose fraction fits.
func (w *reader) comb() {
	f := w.r.Fraction
	if f == nil {
		return
	}
	lo, hi := w.r.MarksPerTurn-2*w.r.Uncertainty, w.r.MarksPerTurn+2*w.r.Uncertainty
	for n := math.Floor(lo) - 1; n <= hi+1; n++ {
		if v := n + f.Value; v >= lo && v <= hi {
			w.r.Comb = append(w.r.Comb, v)
		}
	}
}

// index is the strength of the marks on the flanks, less the strength that the same
// strips show on average at other counts nearby.
func (w *reader) index(at float64) {
	if w.r.Verdict != Accepted {
		return
	}
	var flanks []*strip
	for _, s := range w.all {
		if s.band != 1 {
			flanks = append(flanks, s)
		}
	}
	if len(flanks) == 0 {
		return
	}
	signal := contrastOf(flanks, at)
	gap, reach := int(w.bin(16)), int(w.bin(45))
	sum, n := 0.0, 0.0
	for k := max(int(at)-reach, w.lo); k <= min(int(at)+reach, w.hi); k++ {
		if d := k - int(at); d > gap || d < -gap {
			c := contrastOf(flanks, float64(k))
			sum, n = sum+c*c, n+1
		}
	}
	floor := 0.0
	if n > 0 {
		floor = math.Sqrt(sum / n)
	}
	w.r.Index = &Index{100 * math.Sqrt(math.Max(signal*signal-floor*floor, 0)), 100 * floor, w.o.Session}
}

// evenness is how much more even the pattern is across the picture than round the
// thread: the power of the peak at equal steps in the picture over that at equal steps
// of angle. On the thread, N marks a turn crowd together towards the silhouettes and
// smear from N to 1.5 N in the picture; what a lamp, a screen or the camera lays over
// the picture smears round the thread instead.
func (w *reader) evenness(at float64) float64 {
	k := int(at + 0.5)
	lo, hi := max(int(at*0.9), w.lo), min(int(at*1.6), w.hi)
	sum := make([]float64, hi+1)
	round := 0.0
	for _, s := range w.all {
		size := real(s.coef[k])*real(s.coef[k]) + imag(s.coef[k])*imag(s.coef[k])
		if size == 0 {
			continue
		}
		weight := s.level[k] / size
		round += s.level[k]
		for j := lo; j <= hi; j++ {
			sum[j] += weight * s.even[j]
		}
	}
	_, h := top(sum, lo, hi)
	return h / math.Max(round, 1e-12)
}

func (w *reader) decide(at, spread float64) {
	r := w.r
	n := w.marks(at)
	even := w.evenness(at)
	switch {
	case r.Peak >= peakDoubt && even > evenMost:
		r.Reason = "an even pattern lies over the picture, not round the thread: a lamp, a screen or the camera made it"
		r.Advice = []string{adviceLamp, adviceSharp}
		return
	case r.Peak < peakDoubt || r.Votes < votesDoubt:
		r.Reason = "no regular marks found; that does not say that there is no chatter"
		r.Advice = []string{adviceLight, adviceSharp, adviceOutline}
		return
	}
	h := w.halves(at)
	apart := math.Abs(h.both - n)
	if apart > math.Max(0.06*n, 6) {
		r.Reason = "the pattern is not evenly spaced round the thread: it lies in the picture, or the lamp stands beside the camera"
		r.Advice = []string{adviceLight, adviceLamp}
		return
	}
	if apart > math.Max(0.008*n, 1.2) {
		n = h.both
	} else {
		apart = 0
	}
	r.MarksPerTurn = n
	r.Systematic = w.systematic() * n
	r.Uncertainty = math.Hypot(math.Hypot(r.Systematic, spread), math.Hypot((h.lower-h.upper)/8, apart/3))
	r.Verdict = Doubtful
	yes := fmt.Sprintf("%.0f%% of %d turns show the same marks by themselves", 100*r.Votes, r.Turns)
	switch {
	case r.Still:
		r.Reason = "the marks lie at the same places in every turn: a whole number of them, or the reflection of a row of lamps"
		r.Advice = []string{adviceTurn, adviceLamp}
	case r.Peak < peakAccept || r.Votes < votesAccept:
		r.Reason = "the marks stand out only a little: " + yes
		r.Advice = []string{adviceLight, adviceSharp}
	case r.rootAlone():
		r.Reason = "the marks are seen in the root alone; a tool that swings marks the flanks too"
		r.Advice = []string{adviceLight, adviceSharp}
	case apart > math.Max(0.03*n, 4):
		r.Reason = "the marks change from bright to dark on the way round, so their count is uncertain: the lamp stands near the camera"
		r.Advice = []string{adviceLight}
	case math.Abs(h.lower-h.upper) > math.Max(0.07*n, 6):
		r.Reason = "the marks are spaced differently above and below the centre line: the outline does not fit"
		r.Uncertainty = math.Hypot(r.Uncertainty, 0.02*n)
		r.Advice = []string{adviceOutline, adviceBack}
	default:
		r.Verdict = Accepted
		r.Reason = yes
	}
}

// rootAlone reports whether neither flank shows the marks by itself while the root does.
// The root is the narrowest strip and the one that glares; what lies over the picture,
// such as the stripes of a flickering lamp, is taken for marks there most easily. Motion
// along the axis does not mark the root at all, and motion across it marks the flanks with
// half its height.
func (r *Reading) rootAlone() bool {
	root, flank := false, false
	for _, b := range r.Bands {
		if b.Name == Root {
			root = b.Found
		} else {
			flank = flank || b.Found
		}
	}
	return root && !flank
}

// halves are the marks per turn as the parts of the strips above and below the centre
// line show them, each by itself and the two put together without regard to phase.
type halves struct{ upper, lower, both float64 }

// halves transforms the two halves of every strip near a peak. A lamp near the camera
// lights one half from above and the other from below; the marks then change from
// bright to dark in the middle, and the transform of the whole has a twin peak beside
// the true one, while those of the halves do not. A centre line that is off makes one
// half's count too high and the other's too low.
func (w *reader) halves(at float64) halves {
	const reach, step = 14.0, 0.5 // marks per turn
	n := w.marks(at)
	count := int(2*reach/step) + 1
	var up, low, both [2*28 + 1]float64
	for _, s := range w.all {
		k := min(int(at+0.5), len(s.level)-1)
		size := real(s.coef[k])*real(s.coef[k]) + imag(s.coef[k])*imag(s.coef[k])
		if size == 0 {
			continue
		}
		weight := s.level[k] / size
		for i := range count {
			m := n - reach + step*float64(i)
			a := w.part(s, s.first, w.n/2, m) * weight
			b := w.part(s, w.n/2, s.last, m) * weight
			up[i], low[i], both[i] = up[i]+a, low[i]+b, both[i]+a+b
		}
	}
	place := func(x []float64) float64 {
		k, _ := top(x, 1, count-2)
		return n - reach + step*k
	}
	return halves{place(up[:]), place(low[:]), place(both[:])}
}

// part is the power at m marks per turn in part of a strip under a Hann window.
func (w *reader) part(s *strip, from, to int, m float64) float64 {
	if to-from < 8 {
		return 0
	}
	e, by := complex(1, 0), cmplx.Rect(1, -m*w.step)
	h, hBy := cmplx.Rect(1, 2*math.Pi/float64(to-from)), cmplx.Rect(1, 2*math.Pi/float64(to-from))
	var sum complex128
	weight := 0.0
	for i := from + 1; i < to; i++ {
		e *= by
		if s.seen[i] {
			g := 1 - real(h)
			sum += complex(g*s.moving[i], 0) * e
			weight += g
		}
		h *= hBy
	}
	if weight == 0 {
		return 0
	}
	a := cmplx.Abs(sum) * 2 / weight
	return a * a
}

// systematic is the relative uncertainty that the geometry brings: one per cent at
// least, as trials on made-up photographs showed (docs/photo.md); the pitch in pixels
// and a wrong crest add to it.
func (w *reader) systematic() float64 {
	u := math.Hypot(0.01, w.g.PitchDoubt/w.g.PitchPixels)
	// The radius changes across a flank; both flanks together leave little of it.
	u = math.Hypot(u, 0.2*w.g.CrestDoubt*w.f.depth/w.f.radius)
	if !w.g.Confirmed && !(w.g.Upper.Seen && w.g.Lower.Seen) {
		u = math.Hypot(u, 0.01)
	}
	return u
}
