package main

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"image"
	"image/jpeg"
	"os"
	"os/exec"
	"path/filepath"

	"thrum/cut"
	"thrum/internal/made"
	"thrum/plan"
	"thrum/shaft"
	"thrum/unit"
)

// trialTurns is the length of thread that is followed; each pass sounds for 1.8 s.
const trialTurns = 6

// tooDeep is what the bar that was zeroed again lost on its radius: half of the 72 um
// that its row in shop.csv is under the others over wires.
const tooDeep = 0.036

// trialBars are the eight bars of the example trial in the order of their table's
// rows, as the plan of the trial holds them. Nothing is fitted to the grades in the
// table: bars differ by the centre, by the seed, and by the one that lost its size.
func trialBars() ([]made.Setup, error) {
	lathe, err1 := os.ReadFile(filepath.Join("examples", "lathes", "inch-bench.toml"))
	text, err2 := os.ReadFile(filepath.Join("examples", "trials", "shop.csv"))
	if err := errors.Join(err1, err2); err != nil {
		return nil, fmt.Errorf("%w (run it in the project's folder)", err)
	}
	p, err := plan.Make(plan.Request{Callout: "1/2-13 UNC-2A", Units: unit.Inches, Lathe: string(lathe), Material: "1018", Length: unit.Inch, Stickout: 2 * unit.Inch})
	if err != nil {
		return nil, err
	}
	r := csv.NewReader(bytes.NewReader(text))
	r.Comment = '#'
	rows, err := r.ReadAll()
	if err != nil {
		return nil, err
	}
	var bars []made.Setup
	for i, row := range rows[1:] {
		s := made.Setup{
			Material: "1018", Tool: cut.HSS, Diameter: p.Work.Blank.Max, Out: p.Work.Stickout, At: p.Work.Stickout - 2*p.Thread.Lead,
			Chuck: shaft.Joint{Radial: 40 * unit.NewtonPerMicrometre, Tilt: 8e4 * unit.NewtonMetrePerRadian}, Centre: row[0] == "centre",
			Pitch: p.Thread.Lead, Depth: p.Passes[len(p.Passes)-1].Depth, NoseFlat: p.Tool.Flat, Infeed: cut.Infeed{Method: cut.Modified, Angle: p.Swing.Angle},
			Turns: trialTurns, Unsteady: 0.02, RunIn: 0.5, Rub: 130, Seed: uint64(i + 1),
		}
		measured := false
		for _, pass := range p.Passes {
			depth := pass.Depth
			if measured && i+1 == len(rows)-1 {
				depth += tooDeep
			}
			measured = measured || pass.Measure
			s.Depths, s.Speeds = append(s.Depths, depth), append(s.Speeds, pass.RPM)
		}
		bars = append(bars, s)
	}
	return bars, nil
}

// writeTrial writes a recording and a photograph of each bar of the example trial.
// All eight are heard as loud as the first, so that their levels can be compared.
func writeTrial(dir string) error {
	bars, err := trialBars()
	if err != nil {
		return err
	}
	var full unit.Velocity
	for i, s := range bars {
		sim, err := s.Cut(true)
		if err != nil {
			return err
		}
		last := sim.Passes[len(sim.Passes)-1]
		fmt.Printf("bar %d: centre %t; flanks wavy by", i+1, s.Centre)
		for _, w := range last.Waviness {
			fmt.Printf(" %.3f", 1000*w.MM())
		}
		fmt.Println(" um rms")
		name := filepath.Join(dir, fmt.Sprintf("bar-%d", i+1))
		heard := made.Listen(sim, made.Ear{Seed: s.Seed, Full: full, Tones: []made.Tone{{Frequency: 120, Level: 0.004}}})
		full = heard.Full
		if err := opus(heard, name+".opus"); err != nil {
			return err
		}
		if err := photograph(made.Picture(sim, s.Thread(), made.View{Width: 960, Height: 720, Across: 5 * s.Pitch, Seed: s.Seed}), name+".jpg"); err != nil {
			return err
		}
	}
	return nil
}

// opus has ffmpeg turn a recording into a small file, the same bytes each time.
func opus(r *made.Recording, file string) error {
	var wav bytes.Buffer
	if err := r.WAV(&wav); err != nil {
		return err
	}
	c := exec.Command("ffmpeg", "-v", "error", "-y", "-i", "-", "-c:a", "libopus", "-b:a", "16k", "-fflags", "+bitexact", "-flags:a", "+bitexact", file)
	c.Stdin, c.Stderr = &wav, os.Stderr
	return c.Run()
}

func photograph(m image.Image, file string) error {
	var b bytes.Buffer
	if err := jpeg.Encode(&b, m, &jpeg.Options{Quality: 70}); err != nil {
		return err
	}
	return os.WriteFile(file, b.Bytes(), 0o644)
}
