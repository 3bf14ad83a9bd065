package plan

import (
	"encoding/json"
	"fmt"
	"math"

	"thrum/photo"
	"thrum/thread"
	"thrum/unit"
)

// FlankRequest is what has to be known to read the flanks in photographs of one
// sample.
type FlankRequest struct {
	Thread   thread.Thread
	Diameter unit.Length   // outside diameter as measured; 0: the callout's
	Speed    unit.Rotation // of the pass that left the marks; 0 when not known
	Doubt    unit.Rotation // of Speed, one standard deviation; 0: 1 % of it
}

// At is the request for a sample that was cut at another speed, which is as uncertain in
// proportion; 0 leaves it as it is.
func (r FlankRequest) At(speed unit.Rotation) FlankRequest {
	if speed == 0 {
		return r
	}
	if r.Speed > 0 {
		r.Doubt *= speed / r.Speed
	}
	r.Speed = speed
	return r
}

// Flanks is what the photographs of one sample say.
type Flanks struct {
	Request FlankRequest
	Thread  photo.Thread
	Photos  []FlankPhoto
	All     *photo.Combined
	Tone    *photo.Tone // at the pass's speed; nil without marks or speed
	Notes   []string    // what was assumed
}

// FlankPhoto is one photograph of a sample.
type FlankPhoto struct {
	Name    string
	Meta    photo.Meta
	Reading *photo.Reading
}

// Pictured turns a thread into what reading its flanks needs.
func (r FlankRequest) Pictured() (photo.Thread, error) {
	th := r.Thread
	refuse := func(reason, hint string) (photo.Thread, error) {
		return photo.Thread{}, &unit.InputError{Field: "thread", Value: th.Callout, Reason: reason, Hint: hint}
	}
	half := (th.Form.Leading + th.Form.Trailing) / 2
	switch {
	case th.Side == thread.Internal:
		return refuse("is internal, and flanks are read on outside threads", "cut a test piece outside with the same set-up")
	case th.Taper.Sign() != 0:
		return refuse("is tapered, and the reading follows a cylinder", "read a parallel test piece cut with the same set-up")
	case half < 2*unit.Degree:
		return refuse("has flanks that stand upright, so that no photo shows them", "judge the flanks by touch and under a loupe")
	}
	major := r.Diameter
	if major == 0 {
		major = th.Basic.Major
	}
	if basic := th.Basic.Major; math.Abs(float64(major-basic)) > 0.05*float64(basic) {
		return photo.Thread{}, &unit.InputError{
			Field: "outside diameter", Value: fmt.Sprintf("%.4g mm", major.MM()), Reason: fmt.Sprintf("is more than 5 %% off the %.4g mm of %s", basic.MM(), th.Designation),
			Hint: "measure over the crests with a micrometer, or check the callout",
		}
	}
	return photo.Thread{Pitch: th.Pitch.Length(), Major: major, Starts: th.Starts, Left: th.Hand == thread.Left, HalfAngle: half}, nil
}

// NewFlanks puts the readings of one sample's photographs together.
func NewFlanks(r FlankRequest, photos []FlankPhoto) (*Flanks, error) {
	t, err := r.Pictured()
	if err != nil {
		return nil, err
	}
	f := &Flanks{Request: r, Thread: t, Photos: photos}
	readings := make([]*photo.Reading, len(photos))
	for i, p := range photos {
		readings[i] = p.Reading
	}
	f.All = photo.Combine(readings)
	if len(photos) == 1 && photos[0].Reading != nil {
		one := photos[0].Reading
		f.All.Verdict, f.All.Reason = one.Verdict, one.Reason
	}
	if r.Diameter == 0 {
		f.Notes = append(f.Notes, fmt.Sprintf("outside diameter taken as %.5g mm from the callout; each per cent it is off puts the marks per turn off by one, so give a micrometer's reading", t.Major.MM()))
	}
	if r.Speed > 0 && f.All.MarksPerTurn > 0 {
		doubt := r.Doubt
		if doubt == 0 {
			doubt = r.Speed / 100
			f.Notes = append(f.Notes, fmt.Sprintf("spindle speed assumed right within 1 %%: measure it under cut, at the pass that left the marks; a drive set to %.4g rpm may turn slower", r.Speed.RPM()))
		}
		tone := photo.Frequency(photo.Count{Value: f.All.MarksPerTurn, Doubt: f.All.Uncertainty}, photo.Speed{Value: r.Speed, Doubt: doubt})
		f.Tone = &tone
	}
	return f, nil
}

type flankJSON struct {
	Schema      int             `json:"schema"`
	Verdict     photo.Verdict   `json:"verdict"`
	Marks       *float64        `json:"marks_per_turn,omitempty"`
	Uncertainty *float64        `json:"uncertainty,omitempty"`
	Reason      string          `json:"reason"`
	Advice      []string        `json:"advice,omitempty"`
	Speed       float64         `json:"spindle_rpm,omitempty"`
	Tone        *float64        `json:"frequency_hz,omitempty"`
	ToneDoubt   *float64        `json:"frequency_uncertainty_hz,omitempty"`
	Used        int             `json:"photos_used"`
	Designation string          `json:"thread"`
	Pitch       float64         `json:"pitch_mm"`
	Major       float64         `json:"major_mm"`
	Photos      []flankShotJSON `json:"photos"`
	Notes       []string        `json:"notes,omitempty"`
}

type flankShotJSON struct {
	File        string          `json:"file"`
	Format      photo.Format    `json:"format"`
	Width       int             `json:"width_px"`
	Height      int             `json:"height_px"`
	Verdict     photo.Verdict   `json:"verdict"`
	Marks       *float64        `json:"marks_per_turn,omitempty"`
	Uncertainty *float64        `json:"uncertainty,omitempty"`
	Reason      string          `json:"reason"`
	Advice      []string        `json:"advice,omitempty"`
	Turns       int             `json:"turns"`
	Votes       float64         `json:"votes"`
	Peak        float64         `json:"peak"`
	Comb        []float64       `json:"comb,omitempty"`
	Index       *float64        `json:"flank_index_percent,omitempty"`
	Look        photo.Look      `json:"look"`
	LookReasons []string        `json:"look_reasons,omitempty"`
	Readable    float64         `json:"most_marks_readable"`
	Burnt       float64         `json:"burnt_share"`
	Distance    float64         `json:"camera_distance_mm,omitempty"`
	Bands       []flankBandJSON `json:"bands,omitempty"`
}

type flankBandJSON struct {
	Name  photo.BandName `json:"name"`
	Found bool           `json:"found"`
	Marks *float64       `json:"marks_per_turn,omitempty"`
	Votes float64        `json:"votes"`
	Burnt float64        `json:"burnt_share"`
}

// finite is v, or nil where there is no figure to give.
func finite(v float64, given bool) *float64 {
	if !given || math.IsNaN(v) || math.IsInf(v, 0) {
		return nil
	}
	return &v
}

// MarshalJSON writes the answer first. marks_per_turn is left out when the reading
// was refused.
func (f *Flanks) MarshalJSON() ([]byte, error) {
	a := f.All
	told := a.Verdict != photo.Refused
	out := flankJSON{
		Schema: 1, Verdict: a.Verdict, Reason: a.Reason, Marks: finite(a.MarksPerTurn, told), Uncertainty: finite(a.Uncertainty, told),
		Advice: f.Advice(), Speed: f.Request.Speed.RPM(), Used: a.Used, Designation: f.Request.Thread.Designation,
		Pitch: f.Thread.Pitch.MM(), Major: f.Thread.Major.MM(), Notes: f.Notes, Photos: []flankShotJSON{},
	}
	if f.Tone != nil {
		out.Tone, out.ToneDoubt = finite(f.Tone.Value.Hz(), true), finite(f.Tone.Doubt.Hz(), true)
	}
	for _, p := range f.Photos {
		out.Photos = append(out.Photos, shotJSON(p))
	}
	return json.Marshal(out)
}

func shotJSON(p FlankPhoto) flankShotJSON {
	r := p.Reading
	told := r.Verdict != photo.Refused
	s := flankShotJSON{
		File: p.Name, Format: p.Meta.Format, Width: p.Meta.Width, Height: p.Meta.Height, Verdict: r.Verdict, Reason: r.Reason, Advice: r.Advice,
		Marks: finite(r.MarksPerTurn, told), Uncertainty: finite(r.Uncertainty, told), Turns: r.Turns, Votes: r.Votes, Peak: r.Peak, Comb: r.Comb,
		Look: r.Appearance.Look, LookReasons: r.Appearance.Reasons, Readable: r.Readable, Burnt: r.Burnt,
	}
	if r.Index != nil {
		s.Index = finite(r.Index.Value, true)
	}
	if r.Geometry != nil {
		s.Distance = r.Geometry.Distance.MM()
	}
	for _, b := range r.Bands {
		s.Bands = append(s.Bands, flankBandJSON{b.Name, b.Found, finite(b.Marks.Value, b.Found), b.Votes, b.Burnt})
	}
	return s
}

// Advice gathers how to take better photographs, each piece once.
func (f *Flanks) Advice() []string {
	var all []string
	seen := map[string]bool{}
	if f.All.Verdict == photo.Accepted {
		return nil
	}
	for _, p := range f.Photos {
		if p.Reading == nil {
			continue
		}
		for _, a := range p.Reading.Advice {
			if !seen[a] {
				seen[a] = true
				all = append(all, a)
			}
		}
	}
	return all
}
