package cause

import (
	"bytes"
	"context"
	"encoding/binary"
	"math"
	"math/rand/v2"
	"testing"

	"thrum/sound"
)

// shop makes a recording of an invented workshop, 16 000 samples a second: loudness of the
// hiss and of a tone of 417 Hz in each second.
func shop(t *testing.T, hiss, tone []float64) *sound.Heard {
	t.Helper()
	const rate = 16000
	rng := rand.New(rand.NewPCG(3, 5))
	var data bytes.Buffer
	n := uint32(rate * len(hiss) * 2)
	for _, v := range []any{[]byte("RIFF"), n + 36, []byte("WAVEfmt "), []uint32{16, 1 | 1<<16, rate, 2 * rate, 2 | 16<<16}, []byte("data"), n} {
		if err := binary.Write(&data, binary.LittleEndian, v); err != nil {
			t.Fatal(err)
		}
	}
	samples := make([]int16, rate*len(hiss))
	for i := range samples {
		s := i / rate
		v := hiss[s]*rng.NormFloat64() + tone[s]*math.Sin(2*math.Pi*417*float64(i)/rate)
		samples[i] = int16(32767 * max(-1, min(v, 1)))
	}
	if err := binary.Write(&data, binary.LittleEndian, samples); err != nil {
		t.Fatal(err)
	}
	s, err := sound.Open(bytes.NewReader(data.Bytes()), sound.OpenOptions{})
	if err != nil {
		t.Fatal(err)
	}
	h, err := sound.Listen(context.Background(), s, sound.ListenOptions{Given: 200})
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func seconds(of ...float64) []float64 { return of }

// A machine sings whether it cuts or not; waves and rung modes need the chip, so they fall
// silent when the tool is drawn back (J. Tlusty, Manufacturing Processes and Equipment, from
// memory: forced vibration is there without cutting, self-excited vibration is not). So the
// louder a tone is without cutting, the more it speaks for gears, motor or mains.
func TestWithoutCutting(t *testing.T) {
	cutHiss, idle := 0.03, 0.002
	hiss := seconds(idle, idle, cutHiss, cutHiss, cutHiss, idle, idle, cutHiss, cutHiss, cutHiss, idle, idle, cutHiss, cutHiss, cutHiss, idle, idle)
	tone := make([]float64, len(hiss))
	for i, h := range hiss {
		if h == cutHiss {
			tone[i] = 0.1
		}
	}
	cut := shop(t, hiss, tone)
	if len(cut.Passes) != 3 {
		t.Fatalf("%d passes", len(cut.Passes))
	}
	air := func(loud float64) *sound.Heard {
		return shop(t, seconds(idle, idle, idle, idle, idle, idle), seconds(loud, loud, loud, loud, loud, loud))
	}
	machine := math.Inf(1)
	for _, c := range []struct {
		name string
		air  *sound.Heard
		want InAir
	}{
		{"as loud", air(0.1), AirSame},
		{"a fifth as loud", air(0.02), AirLess},
		{"silent", air(0), AirNone},
	} {
		f := judgeCase(t, Case{Cuts: []Cut{{Name: "cut", Heard: cut}}, Air: c.air})
		if len(f.Tones) == 0 || math.Abs(f.Tones[0].Freq.Hz()-417) > 1 || f.Tones[0].InAir != c.want {
			t.Errorf("%s without cutting: %+v", c.name, f.Tones)
			continue
		}
		p := chance(f, Gears) + chance(f, Motor)
		if p >= machine {
			t.Errorf("%s without cutting: gears and motor %.2f, louder gave %.2f", c.name, p, machine)
		}
		machine = p
		if c.want == AirNone && chance(f, Waves)+chance(f, Ringing) < 0.5 {
			t.Errorf("a tone that is gone without cutting: waves %.2f, ringing %.2f", chance(f, Waves), chance(f, Ringing))
		}
		if c.want == AirSame && p < 0.5 {
			t.Errorf("a tone as loud without cutting: gears and motor %.2f", p)
		}
	}
	// Without such a recording the gaps between the passes stand in for it, where the tone
	// is not heard: the spindle may stand still there, so it says less.
	f := judgeCase(t, Case{Cuts: []Cut{{Name: "cut", Heard: cut}}})
	if len(f.Tones) == 0 || f.Tones[0].InAir != AirNone {
		t.Fatalf("gaps: %+v", f.Tones)
	}
	if p := chance(f, Gears) + chance(f, Motor); p <= machine {
		t.Errorf("gaps alone: gears and motor %.3f, a recording made for it left %.3f", p, machine)
	}
}
