package piece

import (
	"encoding/json"
	"time"

	"thrum/unit"
)

// The kinds of entry in the log of a piece.
const (
	Began    = "begin"    // the piece was taken up with a plan
	Did      = "step"     // a step was confirmed
	Undid    = "undo"     // an entry was taken back
	Paused   = "pause"    // the work was left
	Resumed  = "resume"   // and taken up again
	Measured = "measure"  // a reading
	Checked  = "check"    // tip, work or count looked at
	Picked   = "pick-up"  // the thread was picked up again, both dials set to 0
	Noted    = "note"     // a remark
	Recorded = "record"   // sound was recorded from a step on
	Timed    = "timing"   // newer air passes were taken
	Replaned = "new-plan" // the bench planned the rest anew, or says why it did not
)

// What a check may find, and what Resumed may say of the compound.
const (
	Good   = "good"
	Bad    = "bad"
	Unsure = "unsure"
)

// Body is what an entry says. Which fields are used depends on the kind.
type Body struct {
	Step    string      `json:"step,omitempty"`
	Reading unit.Length `json:"reading_mm,omitempty"`
	Typed   string      `json:"typed,omitempty"`
	After   int         `json:"after,omitempty"` // passes cut when it was written
	What    string      `json:"what,omitempty"`  // "tip", "slip", "count", "compound"
	Found   string      `json:"found,omitempty"`
	Text    string      `json:"text,omitempty"`
	Cause   string      `json:"cause,omitempty"` // entry that a new plan answers
	Fresh   bool        `json:"fresh,omitempty"` // the new plan counts from dials zeroed in the groove
	Refused string      `json:"refused,omitempty"`
}

// Entry is one entry of the log, as it goes over the wire.
type Entry struct {
	ID     string    `json:"id"`
	Kind   string    `json:"kind"`
	Undoes string    `json:"undoes,omitempty"`
	Plan   string    `json:"plan"`
	Body   Body      `json:"body"`
	At     time.Time `json:"at"`
	Seq    int       `json:"seq,omitempty"` // place in the log; 0 before the bench has it
	Device string    `json:"device,omitempty"`
}

// BodyText writes the body of an entry as it is kept.
func (e Entry) BodyText() (string, error) {
	if e.Body == (Body{}) {
		return "", nil
	}
	b, err := json.Marshal(e.Body)
	return string(b), err
}

// Standing is where a piece stands.
type Standing struct {
	Done     map[string]bool // steps confirmed
	Cut      int             // passes cut, one after the other from the first
	Last     *Entry          // the last entry that can be taken back; nil: nothing
	LastStep string          // the step confirmed last; empty: none
	Paused   bool
	Crossed  bool   // entries of two devices crossed: a later pass is confirmed than the next one
	Again    string // why the thread must be picked up before the next pass; empty: it need not
	Waiting  *Entry // a reading or a pick-up that the bench has not answered with a plan
	Reading  *Entry // the last reading since the last pass
	Fresh    bool   // the thread was picked up since the last pass
	Refused  string // why the last reading or pick-up gave no new plan
	Plans    []Entry
}

// Fold reads a log from its beginning. An undo takes back its entry and, for a
// step, every earlier confirmation of the same step; what answered an entry goes
// with it. Kinds that are not known are passed over.
func Fold(log []Entry) Standing {
	s := Standing{Done: map[string]bool{}}
	stack := effective(log)
	answered := map[string]*Entry{}
	present := map[string]bool{}
	for _, e := range stack {
		present[e.ID] = true
	}
	for i, e := range stack {
		switch e.Kind {
		case Did:
			s.Done[e.Body.Step] = true
			s.LastStep = e.Body.Step
			s.Paused = false
			if n := passNumber(e.Body.Step); n > 0 {
				s.Reading, s.Fresh = nil, false
			}
		case Paused:
			s.Paused = true
		case Resumed:
			s.Paused = false
			if e.Body.Found == Unsure {
				s.Again = "it is not sure where the compound stood"
			}
		case Measured:
			s.Reading = &stack[i]
		case Picked:
			s.Fresh, s.Again = true, ""
		case Checked:
			switch {
			case e.Body.What == "tip" && e.Body.Found == Bad:
				s.Again = "the tip is chipped: regrind or turn the insert"
			case e.Body.What == "slip" && e.Body.Found == Bad:
				s.Again = "work or tool has slipped"
			}
		case Replaned:
			if !present[e.Body.Cause] {
				continue // what it answered was taken back
			}
			answered[e.Body.Cause] = &stack[i]
			if e.Body.Refused == "" {
				s.Plans = append(s.Plans, e)
			}
		}
		if undoable(e.Kind) {
			s.Last = &stack[i]
		}
	}
	for s.Done[PassID(s.Cut+1)] {
		s.Cut++
	}
	for step := range s.Done {
		if n := passNumber(step); n > s.Cut {
			s.Crossed = true
		}
	}
	s.wait(stack, answered)
	return s
}

// wait finds what the bench has still to answer: the newest reading or pick-up
// since the last pass.
func (s *Standing) wait(stack []Entry, answered map[string]*Entry) {
	for i := len(stack) - 1; i >= 0; i-- {
		e := stack[i]
		if e.Kind == Did && passNumber(e.Body.Step) > 0 {
			return
		}
		if e.Kind != Measured && e.Kind != Picked {
			continue
		}
		if a := answered[e.ID]; a == nil {
			s.Waiting = &stack[i]
		} else {
			s.Refused = a.Body.Refused
		}
		return
	}
}

// effective leaves away what was taken back, and the undos themselves.
func effective(log []Entry) []Entry {
	gone := make([]bool, len(log))
	at := map[string]int{}
	for i, e := range log {
		at[e.ID] = i
		if e.Kind != Undid {
			continue
		}
		gone[i] = true
		j, ok := at[e.Undoes]
		if !ok || j == i {
			continue
		}
		gone[j] = true
		if log[j].Kind == Did {
			for k := range i {
				if log[k].Kind == Did && log[k].Body.Step == log[j].Body.Step {
					gone[k] = true
				}
			}
		}
	}
	var out []Entry
	for i, e := range log {
		if !gone[i] {
			out = append(out, e)
		}
	}
	return out
}

func undoable(kind string) bool {
	switch kind {
	case Did, Measured, Checked, Picked, Resumed:
		return true
	}
	return false
}

// passNumber is the number of a pass by its name among the steps, 0 for a gate.
func passNumber(step string) int {
	if len(step) < 6 || len(step) > 9 || step[:5] != "pass-" {
		return 0
	}
	n := 0
	for _, c := range step[5:] {
		if c < '0' || c > '9' {
			return 0
		}
		n = 10*n + int(c-'0')
	}
	return n
}

// Next is the step to be confirmed next; nil when all are.
func (s Standing) Next(steps []Step) *Step {
	for i := range steps {
		if !s.Done[steps[i].ID] {
			return &steps[i]
		}
	}
	return nil
}
