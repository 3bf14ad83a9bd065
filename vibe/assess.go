package vibe

import (
	"thrum/cut"
	"thrum/shaft"
	"thrum/unit"
)

// Pass is one pass of the schedule.
type Pass struct {
	Chip  cut.Chip      // from Cutter.Cut, with its elements
	Speed unit.Rotation // of the spindle
}

// Step is a spindle speed that the lathe has.
type Step struct {
	Speed  unit.Rotation
	Refuse string // why it must not be used, such as too little room to stop; empty when it may
}

// Input is everything an assessment needs.
type Input struct {
	Holding    *Holding // the work as it is held, or the boring bar, and the tool side
	Other      *Holding // the other way of holding it, with the same places; nil when there is none
	HasCentre  bool     // Holding has the centre and Other has not; otherwise the other way round
	Passes     []Pass
	Force      *cut.Force
	Edge       cut.EdgeType // chips thinner than its MinLo are not cut
	Diameter   unit.Length  // of the work where it is cut, for the surface speed
	Starters   []Starter    // what may set off the first wave
	Steps      []Step       // speeds to choose from for the last passes; may be empty
	LastPasses int          // how many passes may be cut at another speed; zero means 3
	Process    Process      // zero means DefaultProcess
	Damping    [2]float64   // least and largest fraction of critical of the work; zeros mean 0.01 and 0.06, or a fifth either way when measured
	Overlap    float64      // part of the edge that cuts again what the last turn cut: 0 for a partial-profile tool
	Lead       unit.Length  // not needed; kept for the words
}

// Assessment is the answer.
type Assessment struct {
	Place    unit.Length   // the worst place along the work
	Places   []PlaceResult // carry-over of the worst pass at each place
	Passes   []PassResult  // at the worst place
	Worst    int           // index of the pass with the largest carry-over
	Growth   Growth        // over the whole schedule
	Mode     Mode          // what swings
	InPass   InPass
	Starters []Outcome
	Steps    []StepResult // the last passes at each of the speeds
	Choice   int          // index of the best of Steps; -1 when there is none, or none is needed
	Centre   *Centre      // nil without Other
	Process  ProcessResult
	Doubts   []Doubt     // what the answer hangs on, the heaviest first
	Lobes    []LobePoint // only with Overlap
	Verdict  Verdict
}

// PlaceResult is the carry-over at one place.
type PlaceResult struct {
	At        unit.Length
	Give      shaft.Compliance // static, radial, tool side included
	CarryOver float64
	Frequency unit.Frequency
}

// PassResult is one pass at the worst place.
type PassResult struct {
	Gain      Gain
	CarryOver Range          // largest over all waves
	Frequency unit.Frequency // where it stands
	Waves     float64        // the same in waves a turn
	Margin    float64        // by how much the cut may stiffen before waves grow, rubbing left out; below 1 they do
	Grows     []Band         // where |T| > 1
	Memory    int            // 1: it cuts what the last pass left; 2: what the last but one left
	Spring    bool           // takes no chip: it leaves the waves as they are
}

// Growth is the product of carry-overs over the schedule.
type Growth struct {
	Factor    Range
	Waves     float64        // the wave that grows most, per turn
	Frequency unit.Frequency // at the speed of the worst pass
}

// Verdict sorts the answer into three.
type Verdict int

// Quiet: waves die out even at the unlucky end of the range. Doubtful: they may
// grow or not. Grows: they are likely to grow enough to be seen.
const (
	Quiet Verdict = iota
	Doubtful
	Grows
)

// String prints "quiet", "doubtful" or "grows".
func (v Verdict) String() string { return [...]string{"quiet", "doubtful", "grows"}[v] }

// Assess answers: what vibrates, how much of it each pass leaves, whether it
// grows over the schedule, what would start it, which speed would clean it up,
// and whether the centre matters.
func Assess(in Input) (*Assessment, error) { return nil, errNotYet }
