package sound

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"

	"thrum/internal/dsp"
	"thrum/unit"
)

// How many modes a ring holds is decided by information: one more dying sine wave
// has four numbers, and is kept only while it lowers the sum of squares by more
// than 4 ln N times the noise around its own frequency (the Bayesian information
// criterion, with noise that may differ along the spectrum). What then remains
// counts as a mode when it dies away for certain, is not damped beyond a quarter of
// critical (that is the hammer, not the part), and lies in the band.
const modeRule = "a dying sine wave is added while it lowers the sum of squares by more than 4 ln N times the noise around its frequency; " +
	"it counts as a mode when its damping is surely above 0 and below 25 % of critical, and when it is found in at least half of the taps used"

const maxDamping = 0.25

// wave is one fitted dying sine wave with what is needed for its interval.
type wave struct {
	dsp.Wave
	noise     float64 // variance of a sample if the noise around the wave were everywhere
	df        float64
	freqSE    float64
	decaySE   float64
	covar     float64
	energy    float64 // sum of squares that it explains, about A^2 N / (4 alpha T)
	certainty float64 // drop of the sum of squares over noise, without it
}

// fitRing fits dying sine waves to x and returns those that are modes, strongest
// first.
func fitRing(x []float64, rate, low, high float64, most int, noise *background) []wave {
	fit := growModel(x, rate, low, high, most+2, noise)
	if fit == nil {
		return nil
	}
	waves := prune(x, rate, fit, noise)
	var out []wave
	for _, w := range waves {
		zeta := w.Damping()
		if w.Freq < low || w.Freq > high || zeta > maxDamping || w.Decay-t975(w.df)*w.decaySE <= 0 {
			continue
		}
		out = append(out, w)
	}
	slices.SortFunc(out, func(a, b wave) int {
		if a.energy > b.energy {
			return -1
		}
		return 1
	})
	return out[:min(len(out), most)]
}

// growModel adds waves one by one, each started where the residual stands out
// most, and refits all of them together each time.
func growModel(x []float64, rate, low, high float64, most int, noise *background) *dsp.DampedFit {
	var fit *dsp.DampedFit
	var poles []dsp.Pole
	residual := x
	for range most {
		start, ok := nextPole(residual, rate, low, high, noise)
		if !ok {
			break
		}
		next := dsp.FitDamped(x, rate, append(slices.Clone(poles), start))
		if next == nil {
			break
		}
		if fit != nil && next.SumSquares() > fit.SumSquares()*(1-1e-9) {
			break
		}
		fit, residual = next, next.Residual
		poles = poles[:0]
		for _, w := range fit.Waves {
			poles = append(poles, w.Pole)
		}
	}
	return fit
}

// nextPole proposes the next wave: the frequency at which the residual stands
// highest above the noise, and there the pole that explains most, among those that
// the matrix pencil finds nearby and a few dampings tried outright.
func nextPole(r []float64, rate, low, high float64, noise *background) (dsp.Pole, bool) {
	fft := fourier.NewFFT(len(r))
	c := fft.Coefficients(nil, r)
	step := rate / float64(len(r))
	level := make([]float64, len(c))
	for k, v := range c {
		level[k] = 2 * (real(v)*real(v) + imag(v)*imag(v)) / (rate * float64(len(r)))
	}
	floor := dsp.Floor(level, max(len(level)/16, 20))
	best, at := 0.0, 0
	for k := max(int(low/step), 1); k <= min(int(high/step), len(level)-2); k++ {
		n := math.Max(noise.at(float64(k)*step), floor[k]/0.69) // median of an exponential law to its mean
		if v := level[k] / math.Max(n, 1e-300); v > best {
			best, at = v, k
		}
	}
	if at == 0 || best < 4 {
		return dsp.Pole{}, false
	}
	f := float64(at) * step
	candidates := nearby(r, rate, f)
	for _, zeta := range []float64{0.002, 0.006, 0.02, 0.06} {
		candidates = append(candidates, dsp.Pole{Freq: f, Decay: zeta * 2 * math.Pi * f})
	}
	var pick dsp.Pole
	most := 0.0
	for _, p := range candidates {
		if e := explained(r, rate, p); e > most {
			most, pick = e, p
		}
	}
	// Far below what the criterion asks for, no later wave will do better. The
	// criterion itself is applied when all waves are known.
	around := math.Max(noise.at(f), floor[at]/0.69) * rate / 2
	return pick, most > 2*math.Log(float64(len(r)))*around
}

// nearby runs the matrix pencil on the part of r around f: low-passed, decimated to
// a rate of five to ten times f, and cut to a few hundred samples.
func nearby(r []float64, rate, f float64) []dsp.Pole {
	n := dsp.Halvings(rate, 2*f)
	settle := 28 // outputs that the decimating filter needs to forget the start
	if n == 0 {
		settle = 0
	}
	y := dsp.Decimate(r, n)
	y = y[min(settle/2, len(y)):max(min(settle/2, len(y)), len(y)-settle/2)]
	y = y[:min(len(y), 240)]
	if len(y) < 24 {
		return nil
	}
	var out []dsp.Pole
	for _, p := range dsp.MatrixPencil(y, rate/float64(int(1)<<n), 4) {
		if math.Abs(p.Freq-f) < 0.15*f && p.Damping() < maxDamping {
			out = append(out, p)
		}
	}
	return out
}

// explained returns the sum of squares of r that a wave with this pole takes away.
func explained(r []float64, rate float64, p dsp.Pole) float64 {
	sin, cos := math.Sincos(2 * math.Pi * p.Freq / rate)
	shrink := math.Exp(-p.Decay / rate)
	re, im := 1.0, 0.0
	var cc, ss, cs, cx, sx float64
	for _, v := range r {
		cc, ss, cs = cc+re*re, ss+im*im, cs+re*im
		cx, sx = cx+re*v, sx+im*v
		re, im = shrink*(re*cos-im*sin), shrink*(re*sin+im*cos)
	}
	det := cc*ss - cs*cs
	if det <= 1e-12*cc*ss {
		return 0
	}
	return (cx*cx*ss - 2*cx*sx*cs + sx*sx*cc) / det
}

// prune takes away, one at a time, the wave that the data support least, until
// every one left passes the criterion.
func prune(x []float64, rate float64, fit *dsp.DampedFit, noise *background) []wave {
	need := 4 * math.Log(float64(len(x)))
	for {
		waves := describe(x, rate, fit, noise)
		worst := 0
		for i := range waves {
			if waves[i].certainty < waves[worst].certainty {
				worst = i
			}
		}
		if len(waves) == 0 || waves[worst].certainty >= need {
			return waves
		}
		var poles []dsp.Pole
		for i, w := range fit.Waves {
			if i != worst {
				poles = append(poles, w.Pole)
			}
		}
		if len(poles) == 0 {
			return nil
		}
		next := dsp.FitDamped(x, rate, poles)
		if next == nil {
			return nil
		}
		fit = next
	}
}

// describe puts the noise and the standard errors to each wave of a fit.
func describe(x []float64, rate float64, fit *dsp.DampedFit, noise *background) []wave {
	n := len(x)
	fft := fourier.NewFFT(n)
	c := fft.Coefficients(nil, fit.Residual)
	out := make([]wave, len(fit.Waves))
	for i, w := range fit.Waves {
		variance, df := localNoise(c, n, rate, w)
		variance = math.Max(variance, noise.at(w.Freq)*rate/2)
		sd := math.Sqrt(variance)
		alone := append([]float64(nil), fit.Residual...)
		w.Add(alone, rate, 1)
		out[i] = wave{
			Wave: w, noise: variance, df: df, freqSE: sd * fit.FreqUnit[i], decaySE: sd * fit.DecayUnit[i], covar: variance * fit.Cross[i],
			energy: w.Amplitude() * w.Amplitude() / math.Max(w.Decay, rate/float64(n)),
			// What this wave explains beyond all others, with their poles held.
			certainty: explainedBeyond(alone, rate, fit, i) / math.Max(variance, 1e-300),
		}
	}
	return out
}

// explainedBeyond returns how much the sum of squares would grow without wave i,
// the amplitudes of the others free and their poles held.
func explainedBeyond(alone []float64, rate float64, fit *dsp.DampedFit, i int) float64 {
	var others []dsp.Pole
	for j, w := range fit.Waves {
		if j != i {
			others = append(others, w.Pole)
		}
	}
	if len(others) == 0 {
		return dsp.SumSquares(alone) - fit.SumSquares()
	}
	without, ok := dsp.LinearResidual(alone, rate, others)
	if !ok {
		return 0
	}
	return without - fit.SumSquares()
}

// localNoise returns the variance per sample that white noise of the density seen
// around a wave would have, and the degrees of freedom behind it. The stretch of
// spectrum is three half-power widths to each side, and at least eight bins.
func localNoise(residual []complex128, n int, rate float64, w dsp.Wave) (variance, df float64) {
	step := rate / float64(n)
	reach := math.Max(3*w.Decay/math.Pi, 8*step)
	lo := max(int((w.Freq-reach)/step), 1)
	hi := min(int((w.Freq+reach)/step)+1, len(residual)-2)
	sum, count := 0.0, 0.0
	for k := lo; k <= hi; k++ {
		v := residual[k]
		sum += (real(v)*real(v) + imag(v)*imag(v)) / float64(n)
		count++
	}
	left := math.Max(count-2, 1) // the wave's four numbers have swallowed two bins
	return sum / left, 2 * left
}

// mode turns a wave into a mode with its intervals.
func (w wave) mode(reference float64) Mode {
	// zeta = alpha/sqrt(alpha^2+omega^2): d zeta/zeta = (1-zeta^2)(d alpha/alpha - d omega/omega)
	zeta := w.Damping()
	ra, rf := w.decaySE/w.Decay, w.freqSE/w.Freq
	rel := (1 - zeta*zeta) * math.Sqrt(math.Max(0, ra*ra+rf*rf-2*w.covar/(w.Decay*w.Freq)))
	return Mode{
		Freq:    estimate(unit.Frequency(w.Freq), unit.Frequency(w.freqSE), w.df),
		Damping: logEstimate(Damping(zeta), rel, w.df),
		Level:   2 * dsp.DB(w.Amplitude()/reference),
		Taps:    1,
	}
}
