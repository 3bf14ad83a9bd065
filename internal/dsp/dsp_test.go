package dsp

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"testing"

	"pgregory.net/rapid"

	"thrum/internal/outside"
)

const script = "docs/validation/sound/spectra.py (scipy 1.10)"

func table(t *testing.T, name string) [][]string {
	t.Helper()
	rows := outside.Table(t, name)
	return rows[1:]
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func TestWindows(t *testing.T) {
	made := map[string]Window{"hann": Hann, "hamming": Hamming, "blackmanharris": BlackmanHarris, "flattop": FlatTop}
	for _, r := range table(t, "testdata/windows.csv") {
		n, k := int(number(t, r[1])), int(number(t, r[2]))
		outside.Check(t, outside.Claim{
			What: fmt.Sprintf("%s window of %d, weight %d", r[0], n, k), Source: script, Status: outside.Computed,
			Published: number(t, r[3]), Ours: made[r[0]](n)[k], Tolerance: 1e-6,
		})
	}
}

// TestTone: a sine in the middle of a bin shows its mean square there, and white
// noise shows its variance spread over all frequencies (Parseval).
func TestTone(t *testing.T) {
	const n, rate = 512, 1000.0
	x := make([]float64, n)
	for i := range x {
		x[i] = 0.8 * math.Sin(2*math.Pi*40*float64(i)/n)
	}
	p := NewPeriodogram(n, Hann)
	power := make([]float64, p.Bins())
	p.Power(power, x)
	if math.Abs(power[40]-0.32) > 1e-9 {
		t.Errorf("mean square %.6f, want 0.32", power[40])
	}
	// 1.5 bins: Harris 1978, Proc. IEEE 66:51, table I.
	outside.Check(t, outside.Claim{What: "equivalent noise bandwidth of the Hann window", Source: "Harris 1978, Proc. IEEE 66:51, table I", Status: outside.Memory, Published: 1.5, Ours: p.NoiseBandwidth(), Unit: "bins", Tolerance: 1e-9})
	rng := rand.New(rand.NewPCG(1, 1))
	noise := make([]float64, 200*n)
	for i := range noise {
		noise[i] = 0.3 * rng.NormFloat64()
	}
	d, k := Welch(noise, rate, n, n/2, Hann)
	total := 0.0
	for _, v := range d {
		total += v * rate / n
	}
	if k != 399 || math.Abs(total-0.09) > 0.002 {
		t.Errorf("%d stretches, variance %.5f, want 399 and 0.09", k, total)
	}
}

// TestBetweenBins: parabolic interpolation on decibels of a Hann window finds a
// tone anywhere between two bins.
func TestBetweenBins(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const n = 1024
		bin := rapid.Float64Range(20, 480).Draw(t, "bin")
		phase := rapid.Float64Range(0, 2*math.Pi).Draw(t, "phase")
		x := make([]float64, n)
		for i := range x {
			x[i] = math.Sin(2*math.Pi*bin*float64(i)/n + phase)
		}
		p := NewPeriodogram(n, Hann)
		power := make([]float64, p.Bins())
		p.Power(power, x)
		level := make([]float64, len(power))
		for k, v := range power {
			level[k] = DB(v)
		}
		peaks := Peaks(level, Floor(level, 50), 1, 511, 3, 20)
		if len(peaks) == 0 || math.Abs(peaks[0].Bin-bin) > 0.02 || math.Abs(peaks[0].Height-DB(0.5)) > 0.35 {
			t.Fatalf("tone at bin %.3f found as %+v", bin, peaks)
		}
	})
}

func TestFloor(t *testing.T) {
	x := make([]float64, 1000)
	for i := range x {
		x[i] = float64(i) / 100
	}
	x[500] = 80 // a narrow peak does not lift the floor
	f := Floor(x, 40)
	for i := 60; i < 940; i++ {
		if math.Abs(f[i]-float64(i)/100) > 0.03 {
			t.Fatalf("floor at %d is %.3f, want %.3f", i, f[i], float64(i)/100)
		}
	}
}

// TestDecimator checks the promise in its comment: flat to 0.4 of the new rate, no
// shift, and what lies above 0.6 of the new rate 75 dB down.
func TestDecimator(t *testing.T) {
	for halvings := 1; halvings <= 4; halvings++ {
		f := float64(int(1) << halvings)
		for _, rel := range []float64{0.01, 0.1, 0.25, 0.39, 0.61, 0.8, 1.1, 0.49 * f} {
			if rel > 0.49*f {
				continue
			}
			x := make([]float64, 4000*int(f))
			for i := range x {
				x[i] = math.Sin(2 * math.Pi * rel / f * float64(i))
			}
			y := Decimate(x, halvings)
			if len(y) != 4000 {
				t.Fatalf("%d samples, want 4000", len(y))
			}
			worst := 0.0
			for i := 500; i < 3500; i++ {
				want := 0.0
				if rel < 0.4 {
					want = math.Sin(2 * math.Pi * rel * float64(i))
				}
				worst = math.Max(worst, math.Abs(y[i]-want))
			}
			if worst > 2e-4 {
				t.Errorf("%d halvings, %.2f of the new rate: off by %.2g", halvings, rel, worst)
			}
		}
	}
}

// TestDecimatorInPieces: how a stream is cut into blocks does not change the result.
func TestDecimatorInPieces(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(3, rapid.Uint64().Draw(t, "seed")))
		x := make([]float64, 3000)
		for i := range x {
			x[i] = rng.NormFloat64()
		}
		whole := NewDecimator(2).Write(nil, x)
		d := NewDecimator(2)
		var got []float64
		for at := 0; at < len(x); {
			n := min(rapid.IntRange(1, 700).Draw(t, "piece"), len(x)-at)
			got = d.Write(got, x[at:at+n])
			at += n
		}
		if len(got) != len(whole) {
			t.Fatalf("%d samples in pieces, %d at once", len(got), len(whole))
		}
		for i := range got {
			if got[i] != whole[i] {
				t.Fatalf("sample %d: %g in pieces, %g at once", i, got[i], whole[i])
			}
		}
	})
}

func TestPredictor(t *testing.T) {
	var x []float64
	var published float64
	for _, r := range table(t, "testdata/ring.csv") {
		if r[0] == "ring" {
			x = append(x, number(t, r[2]))
		} else {
			published = number(t, r[2])
		}
	}
	s := 0.0
	for _, e := range PredictionError(x, Predictor(x, 4), 4, len(x)) {
		s += e * e
	}
	outside.Check(t, outside.Claim{
		What: "rms error of a predictor of order 4, ring with noise 0.001", Source: script + ", numpy.linalg.lstsq", Status: outside.Computed,
		Published: published, Ours: math.Sqrt(s / float64(len(x)-4)), Tolerance: 1e-6 * published,
	})
}

// TestPencilExact: without noise the pencil returns the poles that were put in.
func TestPencilExact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		const rate = 2000.0
		want := []Pole{
			{Freq: rapid.Float64Range(60, 300).Draw(t, "f1"), Decay: rapid.Float64Range(5, 80).Draw(t, "a1")},
			{Freq: rapid.Float64Range(400, 800).Draw(t, "f2"), Decay: rapid.Float64Range(5, 80).Draw(t, "a2")},
		}
		x := make([]float64, 200)
		Wave{Pole: want[0], C: 1, S: 0.5}.Add(x, rate, 1)
		Wave{Pole: want[1], C: -0.3, S: 0.4}.Add(x, rate, 1)
		got := MatrixPencil(x, rate, 3)
		for _, w := range want {
			best := math.Inf(1)
			for _, p := range got {
				best = math.Min(best, math.Hypot(p.Freq-w.Freq, p.Decay-w.Decay))
			}
			if best > 1e-4 {
				t.Fatalf("pole %+v not among %+v", w, got)
			}
		}
	})
}

// TestBound: for a sine that does not die away the standard error of its frequency
// is the Cramer-Rao bound in closed form.
func TestBound(t *testing.T) {
	const n, rate, a = 4000, 8000.0, 0.7
	x := make([]float64, n)
	Wave{Pole: Pole{Freq: 431, Decay: 0}, C: a}.Add(x, rate, 1)
	rng := rand.New(rand.NewPCG(2, 2))
	for i := range x {
		x[i] += 1e-6 * rng.NormFloat64()
	}
	fit := FitDamped(x, rate, []Pole{{Freq: 431.1, Decay: 0.1}})
	if fit == nil {
		t.Fatal("no fit")
	}
	published := rate / (2 * math.Pi) * math.Sqrt(24/(a*a*n*(float64(n)*n-1)))
	outside.Check(t, outside.Claim{
		What: "bound on the frequency of a sine, per unit of noise", Source: "Kay 1993, Estimation Theory, example 3.14: var w >= 12 / (eta N (N^2-1)), eta = A^2/2 sigma^2", Status: outside.Memory,
		Published: published, Ours: fit.FreqUnit[0], Unit: "Hz", Tolerance: 0.005 * published,
	})
}

// TestBoundDamped: for a wave that has died away within the record and does so over
// many periods, the information about omega and alpha is the same and in closed form:
//
//	I = A^2/(2 sigma^2 dt) [ int t^2 e - (int t e)^2 / int e ],  e = exp(-2 alpha t)
//	  = A^2 / (16 alpha^3 sigma^2 dt)
func TestBoundDamped(t *testing.T) {
	const n, rate, amplitude, alpha = 8000, 8000.0, 0.7, 12.0
	x := make([]float64, n)
	Wave{Pole: Pole{Freq: 431, Decay: alpha}, C: amplitude}.Add(x, rate, 1)
	fit := FitDamped(x, rate, []Pole{{Freq: 431.1, Decay: 13}})
	if fit == nil {
		t.Fatal("no fit")
	}
	want := math.Sqrt(16 * alpha * alpha * alpha / rate / (amplitude * amplitude))
	for what, got := range map[string]float64{"omega": 2 * math.Pi * fit.FreqUnit[0], "alpha": fit.DecayUnit[0]} {
		if math.Abs(got/want-1) > 0.01 {
			t.Errorf("standard error of %s %.5g, closed form %.5g", what, got, want)
		}
	}
}

// TestFitCoverage: over many noisy rings, 95 % of the intervals +-1.96 standard
// errors hold the truth. The limits are those of the binomial law at 1 in 10 000.
func TestFitCoverage(t *testing.T) {
	const rings, rate, sigma = 400, 4000.0, 0.05
	truth := []Wave{{Pole{310, 40}, 1, 0.2}, {Pole{345, 25}, 0.2, 0.5}}
	rng := rand.New(rand.NewPCG(9, 9))
	inside, sought := 0, 0
	for range rings {
		x := make([]float64, 600)
		for i := range x {
			x[i] = sigma * rng.NormFloat64()
		}
		for _, w := range truth {
			w.Add(x, rate, 1)
		}
		fit := FitDamped(x, rate, []Pole{{308, 30}, {348, 30}})
		if fit == nil {
			t.Fatal("no fit")
		}
		for i, w := range truth {
			for _, in := range []bool{
				math.Abs(fit.Waves[i].Freq-w.Freq) < 1.96*sigma*fit.FreqUnit[i],
				math.Abs(fit.Waves[i].Decay-w.Decay) < 1.96*sigma*fit.DecayUnit[i],
			} {
				sought++
				if in {
					inside++
				}
			}
		}
	}
	if got := float64(inside) / float64(sought); math.Abs(got-0.95) > 3.9*math.Sqrt(0.95*0.05/float64(sought)) {
		t.Errorf("%.1f %% of %d intervals hold the truth", 100*got, sought)
	}
}

func BenchmarkMatrixPencil(b *testing.B) {
	x := make([]float64, 240)
	Wave{Pole: Pole{300, 40}, C: 1}.Add(x, 2000, 1)
	for b.Loop() {
		MatrixPencil(x, 2000, 4)
	}
}

func BenchmarkDecimateHour(b *testing.B) { // one second of the hour; multiply by 3600
	x := make([]float64, 44100)
	d := NewDecimator(2)
	var out []float64
	for b.Loop() {
		out = d.Write(out[:0], x)
	}
}

func TestPeakFilter(t *testing.T) {
	for _, r := range table(t, "testdata/peak_filter.csv") {
		rate, f, width, k := number(t, r[0]), number(t, r[1]), number(t, r[2]), int(number(t, r[3]))
		x := make([]float64, 400)
		for i := range x {
			x[i] = math.Sin(2*math.Pi*f*float64(i)/rate) + 0.5*math.Cos(2*math.Pi*0.31*float64(i)) + float64(i*37%11-5)/10
		}
		PeakFilter(x, rate, f, width)
		outside.Check(t, outside.Claim{
			What: fmt.Sprintf("peak filter at %g Hz, %g wide, both ways, sample %d", f, width, k), Source: "docs/validation/sound/peak_filter.py (scipy 1.10)",
			Status: outside.Computed, Published: number(t, r[4]), Ours: x[k], Tolerance: 1e-9,
		})
	}
	for _, f := range []float64{0, -1, 4000, math.NaN(), math.Inf(1)} {
		x := []float64{1, 2, 3}
		if PeakFilter(x, 8000, f, 20); x[1] != 2 {
			t.Errorf("at %g Hz it changes the samples", f)
		}
	}
}

// The running median is kept in order as it moves; each value at a grid point must be that
// of the stretch sorted afresh, ties and steps included.
func TestFloorIsTheMedian(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		x := rapid.SliceOfN(rapid.Map(rapid.IntRange(-5, 5), func(v int) float64 { return float64(v) / 2 }), 1, 200).Draw(r, "x")
		half := rapid.IntRange(1, 40).Draw(r, "half")
		got := Floor(x, half)
		for k := 0; k < len(x); k += max(half/4, 1) {
			around := slices.Clone(x[max(k-half, 0):min(k+half+1, len(x))])
			slices.Sort(around)
			if got[k] != around[len(around)/2] {
				r.Fatalf("at %d of %v with %d: %g, want %g", k, x, half, got[k], around[len(around)/2])
			}
		}
	})
}
