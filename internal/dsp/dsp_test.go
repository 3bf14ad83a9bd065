package dsp

import (
	"math"
	"math/rand/v2"
	"testing"
)

func TestPencilAndFit(t *testing.T) {
	rate := 22050.0
	rng := rand.New(rand.NewPCG(1, 2))
	truth := []Wave{{Pole{400, 75}, 1, .3}, {Pole{415, 60}, .5, -.3}, {Pole{2100, 200}, .4, .4}}
	x := make([]float64, 6000)
	for i := range x {
		x[i] = 0.001 * rng.NormFloat64()
	}
	for _, w := range truth {
		w.Add(x, rate, 1)
	}
	y := Decimate(x, 3)
	t.Log(MatrixPencil(y[:300], rate/8, 3))
	fit := FitDamped(x, rate, []Pole{{398, 60}, {417, 60}, {2110, 150}})
	t.Log(fit.Waves, math.Sqrt(fit.SumSquares()/6000), fit.FreqUnit, fit.DecayUnit)
}
func BenchmarkPencil(b *testing.B) {
	x := make([]float64, 300)
	for i := range x {
		x[i] = math.Sin(float64(i)) * math.Exp(-float64(i)/50)
	}
	for b.Loop() {
		MatrixPencil(x, 1000, 4)
	}
}
func BenchmarkFit(b *testing.B) {
	rate := 22050.0
	rng := rand.New(rand.NewPCG(1, 2))
	truth := []Wave{{Pole{400, 75}, 1, .3}, {Pole{415, 60}, .5, -.3}, {Pole{2100, 200}, .4, .4}}
	x := make([]float64, 6000)
	for i := range x {
		x[i] = 0.001 * rng.NormFloat64()
	}
	for _, w := range truth {
		w.Add(x, rate, 1)
	}
	for b.Loop() {
		FitDamped(x, rate, []Pole{{398, 60}, {417, 60}, {2110, 150}})
	}
}
