package cause

import (
	"fmt"

	"thrum/sound"
	"thrum/unit"
)

// remedy says what to do about a cause when it is the true one.
func (k Kind) remedy() string {
	switch k {
	case Waves:
		return "change the spindle speed by 15 to 30 % for the last three cutting passes, each deeper than the marks (spring passes leave them); make the set-up stiffer: centre in, shorter stick-out; take the infeed along the flank, or a smaller tip"
	case Gears:
		return "clean, grease and re-mesh the gears (a strip of paper as gauge); drive the spindle by belt without back gear if it can be; feeds and speeds will not cure it"
	case Ringing:
		return "make what rings stiffer or dampen it: centre in, shorter stick-out, tighter gibs, lighter entry; find out what strikes it"
	case Motor:
		return "check motor mounts, belts and their joints, and pulleys; feeds and speeds will not cure it"
	case Tearing:
		return "steel: much slower with active oil, or much faster with carbide; a sharper edge with more rake; finish with passes deep enough to cut on both flanks"
	case Quiet:
		return "nothing to cure by what was heard; if there are marks on the thread, record the passes that make them"
	}
	return "look for what is not on the list: a loose tool, a chip in the way, the floor"
}

// MainsLines are the lines that mains of a frequency make heard, in any workshop:
// the hum, and induction motors of two and of four poles with their slip.
func MainsLines(f unit.Frequency) []sound.Line {
	return []sound.Line{
		{Name: fmt.Sprintf("mains hum, %.0f Hz", f.Hz()), Kind: sound.MainsLine, Freq: f, Harmonics: 8},
		{Name: "motor of two poles", Kind: sound.MotorLine, Freq: f, Slip: 0.06, Harmonics: 4},
		{Name: "motor of four poles", Kind: sound.MotorLine, Freq: f / 2, Slip: 0.06, Harmonics: 4},
	}
}

// TurningLine is a line of something that comes round with the spindle; mesh says
// that it is a pair of wheels, whose multiples are heard as well.
func TurningLine(name string, perTurn unit.Ratio, mesh bool) sound.Line {
	if mesh {
		return sound.Line{Name: name, Kind: sound.MeshLine, PerTurn: perTurn, Harmonics: 3}
	}
	return sound.Line{Name: name, Kind: sound.OtherLine, PerTurn: perTurn, Harmonics: 3}
}
