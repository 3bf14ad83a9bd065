package sound

import (
	"context"
	"io"
	"math"
	"math/rand/v2"
	"runtime"
	"testing"

	"thrum/unit"
)

// hourOfCutting hands out an hour of sound at hardly any cost: ten seconds of air
// and ten of cutting in turn, made once.
type hourOfCutting struct {
	rate, channels, at, end int
	air, cut                []float64
}

func newHour(rate, channels int, seconds float64) *hourOfCutting {
	rng := rand.New(rand.NewPCG(1, 2))
	h := &hourOfCutting{rate: rate, channels: channels, end: int(seconds * float64(rate))}
	h.air, h.cut = make([]float64, 10*rate*channels), make([]float64, 10*rate*channels)
	for i := range h.air {
		t := float64(i/channels) / float64(rate)
		h.air[i] = 0.01*math.Sin(2*math.Pi*100*t) + 0.002*rng.NormFloat64()
		h.cut[i] = h.air[i] + 0.03*rng.NormFloat64() + 0.05*math.Sin(2*math.Pi*412*t) + 0.02*math.Sin(2*math.Pi*135.6*t) + 0.02*math.Sin(2*math.Pi*271.2*t)
	}
	return h
}

func (h *hourOfCutting) Info() Info {
	return Info{Container: WAV, Rate: unit.Frequency(h.rate), Channels: h.channels, Frames: int64(h.end), FullScale: 1}
}

func (h *hourOfCutting) Read(dst []float64) (int, error) {
	n := min(len(dst)/h.channels, h.end-h.at)
	if n == 0 {
		return 0, io.EOF
	}
	src := h.air
	if h.at/(10*h.rate)%2 == 1 {
		src = h.cut
	}
	off := h.at % (10 * h.rate)
	n = min(n, 10*h.rate-off)
	copy(dst, src[off*h.channels:(off+n)*h.channels])
	h.at += n
	return n, nil
}

func benchmarkListen(b *testing.B, rate, channels int) {
	const minutes = 60
	var most uint64
	h := newHour(rate, channels, minutes*60)
	for b.Loop() {
		h.at = 0
		got, err := Listen(context.Background(), h, ListenOptions{Given: 203, Lines: []Line{{Name: "gear", Kind: MeshLine, PerTurn: unit.Whole(40), Harmonics: 3}}})
		if err != nil || len(got.Passes) != minutes*3 {
			b.Fatalf("%d passes, %v", len(got.Passes), err)
		}
		var m runtime.MemStats
		runtime.ReadMemStats(&m)
		most = max(most, m.HeapAlloc)
	}
	b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)*60/minutes, "s/hour")
	b.ReportMetric(float64(most)/1e6, "MB")
}

func BenchmarkListenMono(b *testing.B)   { benchmarkListen(b, 44100, 1) }
func BenchmarkListenStereo(b *testing.B) { benchmarkListen(b, 48000, 2) }

// TestBoundedMemory: what Listen keeps of a recording is two bytes a sample at the
// thinned-out rate, 24 kB a second at 48 kHz, so 90 MB an hour. This checks it on the
// way through five minutes of stereo, where 300 MB an hour would be 25 MB.
func TestBoundedMemory(t *testing.T) {
	h := newHour(48000, 2, 300)
	var before, now runtime.MemStats
	runtime.GC()
	runtime.ReadMemStats(&before)
	most := 0.0
	got, err := Listen(context.Background(), h, ListenOptions{Progress: func(at unit.Time) {
		if int(at)%60 > 1 {
			return
		}
		runtime.GC()
		runtime.ReadMemStats(&now)
		most = max(most, float64(now.HeapAlloc)-float64(before.HeapAlloc))
	}})
	if err != nil || len(got.Passes) != 15 {
		t.Fatalf("%d passes, %v", len(got.Passes), err)
	}
	runtime.GC()
	runtime.ReadMemStats(&now)
	kept := float64(now.HeapAlloc) - float64(before.HeapAlloc)
	if most > 25e6 || kept > 5e6 {
		t.Errorf("at most %.1f MB in use, %.1f MB held by the result", most/1e6, kept/1e6)
	}
	t.Logf("at most %.1f MB in use, %.1f MB held by the result", most/1e6, kept/1e6)
	runtime.KeepAlive(h)
	runtime.KeepAlive(got)
}
