package trial

import (
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"

	"thrum/unit"
)

// Settled is what is settled and drawn before the first cut. It does not change
// afterwards: a question that is sharpened once the answer is known proves nothing.
type Settled struct {
	Schema   int       `json:"schema"`
	Question string    `json:"question"`
	Factor   Factor    `json:"factor"`
	ScoreIs  string    `json:"score"`
	Better   Direction `json:"better,omitempty"`
	Margin   float64   `json:"smallest_that_matters,omitempty"`
	Others   []string  `json:"other_scores,omitempty"` // looked at besides; the main one is ScoreIs
	Hold     []string  `json:"hold,omitempty"`
	Same     []string  `json:"same,omitempty"` // conditions that are the factor itself, or follow from it alone
	Watch    string    `json:"watch,omitempty"`
	Design   Design    `json:"design"`
	Seed     uint64    `json:"seed,string"`
	Runs     []Run     `json:"runs"`
	Repeats  string    `json:"repeats,omitempty"` // an earlier trial that this one repeats
	Spread   Spread    `json:"spread,omitzero"`   // bar-to-bar spread known from earlier bars
}

const settledSchema = 1

// Settle draws run order and codes and returns what is to be kept before cutting.
func Settle(s Settled, seed uint64) (*Settled, error) {
	s.Schema, s.Seed = settledSchema, seed
	if s.Question = strings.TrimSpace(s.Question); s.Question == "" || len(s.Question) > 200 {
		return nil, &unit.InputError{Field: "question", Value: s.Question, Reason: "is not a question of 1 to 200 letters", Hint: "ask one thing: does a centre reduce the marks?"}
	}
	if s.ScoreIs = strings.TrimSpace(s.ScoreIs); s.ScoreIs == "" || len(s.ScoreIs) > mostWord {
		return nil, &unit.InputError{Field: "score", Value: s.ScoreIs, Reason: "is missing or too long", Hint: "say what is graded or counted: marks per turn, finish 1 to 5"}
	}
	if math.IsNaN(s.Margin) || s.Margin < 0 || s.Margin > 1e12 {
		return nil, &unit.InputError{Field: "margin", Value: ftoa(s.Margin), Reason: "is not a difference", Hint: "0 or more, in the units of the score"}
	}
	switch s.Better {
	case Unsaid, Higher, Lower:
	default:
		return nil, &unit.InputError{Field: "better", Value: string(s.Better), Reason: "is neither way", Hint: "higher or lower"}
	}
	for {
		var err error
		if s.Runs, err = s.Design.Draw(s.Factor, s.Seed); err != nil {
			return nil, err
		}
		if !s.lopsided() {
			return &s, nil
		}
		s.Seed++
	}
}

// lopsided reports a draw in which the same arm comes first in every pair, so that
// whatever drifts between two cuts would go with the arm. It is thrown back: 2 draws
// in 2^n, which makes the p of n pairs too small by that share, 3 % of it for 6.
func (s Settled) lopsided() bool {
	if s.Design.Kind != KindPairs || s.Design.Blocks < 3 {
		return false
	}
	for i := 0; i < len(s.Runs); i += 2 {
		if s.Runs[i].Arm != s.Runs[0].Arm {
			return false
		}
	}
	return true
}

// maxRecord is the largest written form that is read, in bytes.
const maxRecord = 8 << 20

// ReadSettled reads what Settle returned, as JSON, and draws again to see that the
// runs are those that the seed gives.
func ReadSettled(r io.Reader) (*Settled, error) {
	var s Settled
	d := json.NewDecoder(io.LimitReader(r, maxRecord))
	if err := d.Decode(&s); err != nil {
		return nil, &unit.InputError{Field: "trial", Reason: "cannot be read: " + err.Error(), Hint: "give a trial as this program wrote it"}
	}
	if s.Schema != settledSchema {
		return nil, &unit.InputError{Field: "trial", Value: itoa(s.Schema), Reason: "is an unknown version of the format", Hint: "use the program that wrote it"}
	}
	again, err := Settle(s, s.Seed)
	if err != nil {
		return nil, err
	}
	if !slices.Equal(again.Runs, s.Runs) {
		return nil, &unit.InputError{Field: "trial", Value: s.Question, Reason: "holds another run order than its seed gives", Hint: "the draw was changed after it was made"}
	}
	return &s, nil
}

// Grade is one score that somebody or something gave a sample.
type Grade struct {
	By    string  `json:"by"`
	Of    string  `json:"of"` // which score
	Value float64 `json:"value"`
}

// Size is one reading of a sample's size, such as over wires.
type Size struct {
	Place int         `json:"place"` // 1 at the free end, 2 in the middle, 3 at the shoulder
	Angle unit.Angle  `json:"angle_rad"`
	Value unit.Length `json:"value_mm"`
}

// SizeLimits are the limits of those readings.
type SizeLimits struct {
	Min unit.Length `json:"min_mm"`
	Max unit.Length `json:"max_mm"`
}

// Evidence is what is known about one sample.
type Evidence struct {
	Code       string            `json:"code"`
	Cut        bool              `json:"cut"`                // something was written down about it
	LeftOut    string            `json:"left_out,omitempty"` // why it is not counted; empty when it is
	Grades     []Grade           `json:"grades,omitempty"`
	Sizes      []Size            `json:"sizes,omitempty"`
	Limits     *SizeLimits       `json:"limits,omitempty"`
	Conditions map[string]string `json:"conditions,omitempty"`
	Notes      []string          `json:"notes,omitempty"`
	Passes     int               `json:"passes,omitempty"` // as cut
	Photos     int               `json:"photographs,omitempty"`
	Recordings int               `json:"recordings,omitempty"`
}

// Record is a trial with all that was found out.
type Record struct {
	Settled  Settled    `json:"settled"`
	Evidence []Evidence `json:"evidence"` // one a run, in the order drawn
	Votes    []Vote     `json:"votes,omitempty"`

	Units unit.System `json:"-"` // in which sizes are told; the files keep millimetres
}

// SmallSize tells a difference of sizes without its unit, in whole micrometres or in
// inches to four places; SmallUnit is that unit.
func (r Record) SmallSize(l unit.Length) string {
	if r.Units == unit.Inches {
		return l.Number(unit.Inches, 4)
	}
	return unit.Length(1000*l.MM()).Number(unit.Metric, 0)
}

// SmallUnit is the unit of SmallSize.
func (r Record) SmallUnit() string {
	if r.Units == unit.Inches {
		return "in"
	}
	return "µm"
}

// Signed is SmallSize with its sign.
func (r Record) Signed(l unit.Length) string {
	if s := r.SmallSize(l); l < 0 || s[0] == '-' {
		return s
	}
	return "+" + r.SmallSize(l)
}

// Score is the mean of the grades of one score; ok is false without any.
func (e Evidence) Score(of string) (float64, bool) {
	sum, n := 0.0, 0
	for _, g := range e.Grades {
		if g.Of == of {
			sum += g.Value
			n++
		}
	}
	return sum / float64(max(1, n)), n > 0
}

// beyond is by how much the worst reading is beyond a limit, 0 when all are within
// or there is none.
func (e Evidence) beyond() unit.Length {
	var worst unit.Length
	if e.Limits == nil {
		return 0
	}
	for _, s := range e.Sizes {
		worst = max(worst, e.Limits.Min-s.Value, s.Value-e.Limits.Max)
	}
	if worst < 1e-9 {
		return 0
	}
	return worst
}

// Shape is what the readings of one sample say about its form.
type Shape struct {
	Code   string      `json:"code"`
	Arm    string      `json:"arm"`
	N      int         `json:"readings"`
	Mean   unit.Length `json:"mean_mm"`
	Taper  unit.Length `json:"taper_mm"`        // mean at the shoulder less mean at the free end
	Round  unit.Length `json:"out_of_round_mm"` // largest difference between angles at one place
	Beyond unit.Length `json:"beyond_limit_mm"`
}

// shape works out mean, taper and roundness of a sample's readings.
func (e Evidence) shape(arm string) (Shape, bool) {
	s := Shape{Code: e.Code, Arm: arm, N: len(e.Sizes), Beyond: e.beyond()}
	if s.N == 0 {
		return s, false
	}
	lo, hi, sum := map[int]unit.Length{}, map[int]unit.Length{}, map[int]unit.Length{}
	n := map[int]int{}
	for _, x := range e.Sizes {
		if n[x.Place] == 0 {
			lo[x.Place], hi[x.Place] = x.Value, x.Value
		}
		lo[x.Place], hi[x.Place] = min(lo[x.Place], x.Value), max(hi[x.Place], x.Value)
		sum[x.Place] += x.Value
		n[x.Place]++
		s.Mean += x.Value / unit.Length(s.N)
	}
	for place := range n {
		s.Round = max(s.Round, hi[place]-lo[place])
	}
	if n[1] > 0 && n[3] > 0 {
		s.Taper = sum[3]/unit.Length(n[3]) - sum[1]/unit.Length(n[1])
	}
	return s, true
}

// Trial turns the record into what Analyze takes, for one of its scores, and lists
// the samples that have no such score or are left out.
func (r Record) Trial(of string) (Trial, []string) {
	s := r.Settled
	t := Trial{
		Question: s.Question, Factor: s.Factor, ScoreIs: of, Better: s.Better, Drawn: s.Design.Drawn(), Repeated: s.Repeats != "",
		Margin: s.Margin, Spread: s.Spread, Same: s.Same,
	}
	if of != s.ScoreIs {
		t.Margin, t.Spread, t.Better = 0, Spread{}, Unsaid
	}
	var missing []string
	for i, run := range s.Runs {
		e := r.at(i, run)
		score, ok := e.Score(of)
		switch {
		case e.LeftOut != "":
			missing = append(missing, run.Code+" is left out: "+e.LeftOut)
			continue
		case !ok:
			missing = append(missing, run.Code+" has no "+of)
			continue
		}
		x := Sample{Name: run.Code, Arm: run.Arm, Score: score, Undersize: e.beyond(), Conditions: map[string]string{"run order": itoa(run.Order)}}
		if s.Design.Kind.Block() != "" {
			x.Block = fmt.Sprintf("%s %d", s.Design.Kind.Block(), run.Block)
		}
		maps.Copy(x.Conditions, e.Conditions)
		t.Samples = append(t.Samples, x)
	}
	for _, v := range r.Votes {
		if t.has(v.Left) && t.has(v.Right) {
			t.Votes = append(t.Votes, v)
		}
	}
	return t, missing
}

func (t Trial) has(name string) bool {
	return slices.ContainsFunc(t.Samples, func(s Sample) bool { return s.Name == name })
}

// at is the evidence of a run, empty when there is none.
func (r Record) at(i int, run Run) Evidence {
	if i < len(r.Evidence) && r.Evidence[i].Code == run.Code {
		return r.Evidence[i]
	}
	return Evidence{Code: run.Code}
}
