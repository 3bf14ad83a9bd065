package web

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"

	"thrum/cause"
	"thrum/draw"
	"thrum/lathe"
	"thrum/plan"
	"thrum/render"
	"thrum/sound"
	"thrum/unit"
)

// ListenJob is the kind of job that listens to recordings; its arguments are a
// ListenAsk as JSON, its result a ListenResult.
const ListenJob = "listen"

// ListenAsk is what is to be listened to and what is known beforehand.
type ListenAsk struct {
	Cut, Air, Second ListenFile
	RPM, SecondRPM   float64
	Plan             *plan.Request // the set-up, when it is known whole
	Lathe, Callout   string        // text of the lathe and the thread, when only they are
	Mains            float64       // Hz; zero when not known
	Marks            float64       // counted once around; zero when not
}

// ListenFile is a recording in the store's content.
type ListenFile struct {
	Name, SHA256 string
	Rate         float64 // values per second of a list without times
}

// ListenResult is what the page shows.
type ListenResult struct {
	Ask      ListenAsk
	Sections []render.Section // without drawings
	Pictures map[string]string
	Passes   []ListenPass // of the first recording
	Tones    []float64    // that stand out in it, in Hz
}

// ListenPass is where a pass lies in its recording, in seconds.
type ListenPass struct{ Start, End float64 }

// Listen does the work of a ListenJob. open gives a recording's stream.
func Listen(ctx context.Context, a ListenAsk, open func(ListenFile) (sound.Stream, io.Closer, error), progress func(float64, string)) (*ListenResult, error) {
	k, err := a.study()
	if err != nil {
		return nil, err
	}
	res := &ListenResult{Ask: a, Pictures: map[string]string{}}
	hear := func(field string, f ListenFile, rpm float64, air bool) (*sound.Heard, error) {
		st, done, err := open(f)
		if err != nil {
			return nil, unreadable(field, f.Name, err)
		}
		defer done.Close()
		o := sound.ListenOptions{Given: unit.Rotation(rpm), Lines: k.Lines, NoCut: air}
		o.Progress = func(at unit.Time) {
			progress(1-math.Exp(-at.S()/120), fmt.Sprintf("listening to %s: %.0f s", f.Name, at.S()))
		}
		h, err := sound.Listen(ctx, st, o)
		if err != nil {
			return nil, unreadable(field, f.Name, err)
		}
		return h, nil
	}
	first, err := hear("cut", a.Cut, a.RPM, false)
	if err != nil {
		return nil, err
	}
	k.Cuts = append(k.Cuts, cause.Cut{Name: a.Cut.Name, Heard: first})
	if a.Air.SHA256 != "" {
		if k.Air, err = hear("air", a.Air, a.RPM, true); err != nil {
			return nil, err
		}
	}
	if a.Second.SHA256 != "" {
		h, err := hear("second", a.Second, a.SecondRPM, false)
		if err != nil {
			return nil, err
		}
		k.Cuts = append(k.Cuts, cause.Cut{Name: a.Second.Name, Heard: h})
	}
	f, err := cause.Judge(k)
	if err != nil {
		return nil, err
	}
	res.add(render.CauseSection(f))
	for i, c := range k.Cuts {
		res.add(render.HeardSection(fmt.Sprint("heard", i+1), c.Name, c.Heard))
	}
	for _, p := range first.Passes {
		res.Passes = append(res.Passes, ListenPass{p.Start.S(), p.End.S()})
	}
	for _, v := range f.Tones {
		if v.Cut == a.Cut.Name && len(res.Tones) < 6 {
			res.Tones = append(res.Tones, math.Round(v.Freq.Hz()*10)/10)
		}
	}
	return res, nil
}

// listenPaper is a spectrogram's drawing on the screen.
var listenPaper = draw.Size{W: 170, H: 96}

// add keeps a section with its drawing drawn, so that the page need not.
func (r *ListenResult) add(s render.Section) {
	for _, d := range s.Drawings {
		r.Pictures[s.ID] = string(svg(d.List(listenPaper), s.ID))
	}
	s.Drawings = nil
	r.Sections = append(r.Sections, s)
}

// study gathers what is known beforehand of the set-up.
func (a ListenAsk) study() (cause.Case, error) {
	var k cause.Case
	r := a.Plan
	work := plan.MakeWithVibration
	if r == nil && a.Lathe != "" && a.Callout != "" {
		// Only the gears matter here; length and material stand for anything.
		r, work = &plan.Request{Callout: a.Callout, Lathe: a.Lathe, Material: "1018", Length: 10, OpenEnd: true}, plan.Make
	}
	if r != nil {
		at := *r
		at.RPM = nearestSpeed(at.Lathe, a.RPM)
		p, err := work(at)
		if err != nil {
			return k, err
		}
		k = p.Case()
	}
	if a.Mains > 0 {
		k.Lines = append(k.Lines, cause.MainsLines(unit.Frequency(a.Mains))...)
	}
	if a.Marks > 0 {
		k.Marks = append(k.Marks, cause.Marks{PerTurn: a.Marks, SE: 0.01 * a.Marks})
	}
	return k, nil
}

// nearestSpeed is the speed of the lathe's chart that is meant: the levers decide
// which gears turn. Zero, for any, when none lies within a tenth.
func nearestSpeed(text string, rpm float64) unit.Rotation {
	la, err := lathe.Parse("lathe", []byte(text))
	if err != nil || rpm <= 0 {
		return 0
	}
	best := unit.Rotation(0)
	for _, s := range la.Speeds {
		if off := math.Abs(s.RPM.RPM()/rpm - 1); off < 0.1 && (best == 0 || off < math.Abs(best.RPM()/rpm-1)) {
			best = s.RPM
		}
	}
	return best
}

// DoListen is a ListenJob from its arguments to its result.
func DoListen(ctx context.Context, arguments json.RawMessage, open func(ListenFile) (sound.Stream, io.Closer, error), progress func(float64, string)) ([]byte, error) {
	var a ListenAsk
	if err := json.Unmarshal(arguments, &a); err != nil {
		return nil, &unit.InputError{Field: "request", Value: short(string(arguments), 80), Reason: "is not a request to listen: " + err.Error()}
	}
	res, err := Listen(ctx, a, open, progress)
	if err != nil {
		return nil, err
	}
	return json.Marshal(res)
}
