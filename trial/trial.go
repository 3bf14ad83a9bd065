package trial

import (
	"math"
	"math/rand/v2"
	"slices"

	"thrum/unit"
)

// Direction says which way of the score is the better one.
type Direction string

// Finish grades are better high, counts of marks better low.
const (
	Unsaid Direction = ""
	Higher Direction = "higher"
	Lower  Direction = "lower"
)

// Factor is the one thing that is changed on purpose.
type Factor struct {
	Name     string `json:"name"`
	Baseline string `json:"baseline"`
	Changed  string `json:"changed"`
}

// Sample is one bar or one length of thread that was cut under one set of conditions.
type Sample struct {
	Name       string            `json:"sample"`
	Arm        string            `json:"arm"`
	Block      string            `json:"block,omitempty"` // pair, bar or day; empty when there are none
	Score      float64           `json:"score"`
	Undersize  unit.Length       `json:"undersize_mm,omitempty"` // by how much the thread is beyond its limit of size; 0 when within
	Conditions map[string]string `json:"conditions,omitempty"`   // what was recorded; absent or "" is unknown
}

// Vote is one blind side-by-side judgement of two samples.
type Vote struct {
	Judge       string
	Left, Right string // names of samples
	Outcome     Outcome
}

// Outcome says which side was preferred.
type Outcome int

// The three outcomes of a look at two things.
const (
	Tie Outcome = iota
	LeftBetter
	RightBetter
)

// Spread is a bar-to-bar standard deviation known from outside the trial: from
// bars cut earlier in one set-up. Units: those of the score.
type Spread struct {
	SD float64
	DF int
}

// Trial is what was planned and what came of it.
type Trial struct {
	Question string
	Factor   Factor
	ScoreIs  string // name of the score; "score" when empty
	Better   Direction
	Drawn    bool    // the run order was drawn by lot before cutting
	Repeated bool    // an earlier trial on another day or lathe found the same
	Margin   float64 // smallest difference that matters, named before cutting; 0 when none was
	Spread   Spread
	Samples  []Sample
	Votes    []Vote
	Same     []string // conditions that are the factor under another name, or follow from it alone

	// Random is used only where the ways are too many to count, and to group
	// judges never. Nil takes a fixed seed, so that a table gives one answer.
	Random *rand.Rand
}

// Bounds on what is analysed.
const (
	MaxSamples    = 10000
	MaxConditions = 60
	MaxVotes      = 1000000
)

// blocks returns the scores of both arms block by block, in order of first appearance.
func (t Trial) blocks() []Block {
	at := map[string]int{}
	var bs []Block
	for _, s := range t.Samples {
		i, ok := at[s.Block]
		if !ok {
			i = len(bs)
			at[s.Block] = i
			bs = append(bs, Block{Name: s.Block})
		}
		if s.Arm == t.Factor.Changed {
			bs[i].B = append(bs[i].B, s.Score)
		} else {
			bs[i].A = append(bs[i].A, s.Score)
		}
	}
	return bs
}

func (t Trial) check() error {
	fault := func(field, value, reason, hint string) error {
		return &unit.InputError{Field: field, Value: value, Reason: reason, Hint: hint}
	}
	if len(t.Samples) < 2 || len(t.Samples) > MaxSamples {
		return fault("samples", itoa(len(t.Samples)), "is not a number of samples that can be compared", "2 to 10000 samples")
	}
	if len(t.Votes) > MaxVotes {
		return fault("votes", itoa(len(t.Votes)), "are too many", "at most 1000000")
	}
	if t.Factor.Baseline == t.Factor.Changed {
		return fault("arms", t.Factor.Baseline, "is both baseline and changed", "name two different arms")
	}
	var seen []string
	for _, s := range t.Samples {
		if s.Arm != t.Factor.Baseline && s.Arm != t.Factor.Changed {
			return fault("sample "+s.Name+": arm", s.Arm, "is neither arm of the factor", "compare two arms at a time")
		}
		if math.IsNaN(s.Score) || math.Abs(s.Score) > 1e12 {
			return fault("sample "+s.Name+": score", ftoa(s.Score), "is not a usable number", "a number within 1e12 either way")
		}
		if s.Undersize < 0 || math.IsNaN(s.Undersize.MM()) || s.Undersize.MM() > 1000 {
			return fault("sample "+s.Name+": undersize", ftoa(s.Undersize.MM()), "is not a loss of size", "0 when within limits, else millimetres beyond the limit")
		}
		if len(s.Conditions) > MaxConditions {
			return fault("sample "+s.Name+": conditions", itoa(len(s.Conditions)), "are too many", "at most 60")
		}
		if !slices.Contains(seen, s.Arm) {
			seen = append(seen, s.Arm)
		}
	}
	if len(seen) < 2 {
		return fault("arms", seen[0], "is the only arm with samples", "a comparison needs both")
	}
	if math.IsNaN(t.Margin) || t.Margin < 0 {
		return fault("margin", ftoa(t.Margin), "is not a difference", "0 or more, in the units of the score")
	}
	return nil
}
