package sound_test

import (
	"context"
	"fmt"
	"log"
	"os"

	"thrum/sound"
	"thrum/unit"
)

func open(name string) sound.Stream {
	f, err := os.Open(name) // small, and read to its end: left to the garbage collector here
	if err != nil {
		log.Fatal(err)
	}
	s, err := sound.Open(f, sound.OpenOptions{})
	if err != nil {
		log.Fatal(err)
	}
	return s
}

// What a bar rings at, tapped five times without the centre and five times with it.
func ExampleKnock() {
	var tests []*sound.KnockTest
	for _, name := range []string{"testdata/knock/bar.wav", "testdata/knock/centre.wav"} {
		r, err := sound.Load(open(name), sound.Pick{}, 0)
		if err != nil {
			log.Fatal(err)
		}
		k, err := sound.Knock(r, sound.KnockOptions{})
		if err != nil {
			log.Fatal(err)
		}
		tests = append(tests, k)
	}
	for _, m := range tests[0].Modes {
		fmt.Printf("%.0f Hz, damping %.1f %%\n", m.Freq.Value.Hz(), m.Damping.Value.Percent())
	}
	for _, s := range sound.CompareKnock(tests[0], tests[1]).Shifts {
		if s.A != nil && s.B != nil {
			fmt.Printf("%.0f Hz %s: %+.1f Hz\n", s.A.Freq.Value.Hz(), s.FreqVerdict, s.Freq.Value.Hz())
		}
	}
	// Output:
	// 387 Hz, damping 2.1 %
	// 1203 Hz, damping 0.9 %
	// 2410 Hz, damping 1.5 %
	// 1203 Hz moved: +6.5 Hz
	// 2410 Hz not distinguishable: -0.4 Hz
}

// Five passes on a lathe said to run at 240 rpm.
func ExampleListen() {
	h, err := sound.Listen(context.Background(), open("testdata/listen/fast.opus"), sound.ListenOptions{
		Given: 240,
		Lines: []sound.Line{
			{Name: "gear 40 on the spindle", Kind: sound.MeshLine, PerTurn: unit.Whole(40), Harmonics: 3},
			{Name: "stud 35 into 30", Kind: sound.MeshLine, PerTurn: unit.MustRatio(105, 4), Harmonics: 3},
			{Name: "mains", Kind: sound.MainsLine, Freq: 50, Harmonics: 4},
			{Name: "motor", Kind: sound.MotorLine, Freq: 25, Slip: 0.06, Harmonics: 2},
		},
	})
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%d passes, %.1f rpm, which %s\n", len(h.Passes), h.Speed.Heard.Value.RPM(), h.Speed.Verdict)
	for _, g := range h.Growth {
		fmt.Printf("%.0f Hz: each pass leaves %.2f times the last\n", g.Freq.Hz(), float64(g.PerPass.Value))
	}
	// Output:
	// 5 passes, 262.7 rpm, which contradicts
	// 412 Hz: each pass leaves 0.80 times the last
}
