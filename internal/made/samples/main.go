// Samples writes made recordings and pictures of a few cuts into a folder, to try the
// measuring commands on:
//
//	go run ./internal/made/samples FOLDER
//	thrum listen FOLDER/long-alone.wav
//
// It also writes the recordings and photographs of the example trial (ffmpeg with
// libopus is needed, and the project's folder is the one to run it in):
//
//	go run ./internal/made/samples trial examples/trials
package main

import (
	"errors"
	"fmt"
	"image/png"
	"os"
	"path/filepath"

	"thrum/cut"
	"thrum/internal/made"
	"thrum/unit"
	"thrum/vibe"
)

func main() {
	do, args := write, os.Args[1:]
	if len(args) == 2 && args[0] == "trial" {
		do, args = writeTrial, args[1:]
	}
	if len(args) != 1 {
		fmt.Fprintln(os.Stderr, "samples: one folder to write to is wanted, or \"trial\" and the folder")
		os.Exit(2)
	}
	if err := do(args[0]); err != nil {
		fmt.Fprintln(os.Stderr, "samples:", err)
		os.Exit(1)
	}
}

// setups are the cuts by the name of their files.
func setups() map[string]made.Setup {
	long := made.Setup{
		Material: "1018", Tool: cut.Carbide, Diameter: 12, Out: 120, At: 108, Pitch: 1.75, Depth: 1.07, NoseFlat: 0.22, Passes: 6,
		Speeds: []unit.Rotation{400}, Turns: 6, Unsteady: 0.02, RunIn: 0.5, Rub: 30, Seed: 1,
	}
	centre, likely, faster := long, long, long
	centre.Centre = true
	likely.Rub = 130
	faster.Speeds = []unit.Rotation{400, 400, 400, 1000}
	geared := long
	geared.Starters = []vibe.Starter{{Name: "mesh of 40 teeth, third harmonic", Kind: vibe.Repeating, Waves: 120, Amplitude: 0.0005}}
	return map[string]made.Setup{"long-geared": geared, "long-alone": long, "long-centre": centre, "long-rubbing": likely, "long-last-faster": faster}
}

func write(dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	for name, s := range setups() {
		sim, err := s.Cut(true)
		if err != nil {
			return err
		}
		ear := made.Ear{Seed: s.Seed, Full: 400, Tones: []made.Tone{{Frequency: 100, Level: 0.004}}, Mesh: []made.Tone{{Waves: 40, Level: 0.003}}}
		w, err := os.Create(filepath.Join(dir, name+".wav"))
		if err != nil {
			return err
		}
		if err := errors.Join(made.Listen(sim, ear).WAV(w), w.Close()); err != nil {
			return err
		}
		if w, err = os.Create(filepath.Join(dir, name+".png")); err != nil {
			return err
		}
		if err := errors.Join(png.Encode(w, made.Picture(sim, s.Thread(), made.View{Seed: s.Seed})), w.Close()); err != nil {
			return err
		}
	}
	return nil
}
