package web

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"math"

	"thrum/cause"
	"thrum/draw"
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
	RPM, SecondRPM   unit.Rotation
	Plan             *plan.Request  // the set-up, when it is known whole
	Lathe, Callout   string         // text of the lathe and the thread, when only they are
	Mains            unit.Frequency // zero when not known
	Marks            float64        // counted once around; zero when not
	Pattern          cause.Pattern  // how they lie
}

// ListenFile is a recording in the store's content.
type ListenFile struct {
	Name, SHA256 string
	Rate         unit.Frequency // of a list of values without times
}

// ListenResult is what the page shows.
type ListenResult struct {
	Ask      ListenAsk
	Sections []render.Section // without drawings
	Pictures map[string]string
	Passes   []ListenPass     // of the first recording
	Tones    []unit.Frequency // that stand out in it
	Values   *listenValues    // behind its picture; nil of a result from before they were kept
}

// ListenPass is where a pass lies in its recording.
type ListenPass struct {
	Start, End unit.Time
	Tones      []ListenTone
}

// ListenTone is a tone of a pass, its level in decibels of full scale.
type ListenTone struct {
	Freq  unit.Frequency
	Level float64
}

// Listen does the work of a ListenJob. open gives a recording's stream.
func Listen(ctx context.Context, a ListenAsk, open func(ListenFile) (sound.Stream, io.Closer, error), progress func(float64, string)) (*ListenResult, error) {
	k, err := a.study()
	if err != nil {
		return nil, err
	}
	res := &ListenResult{Ask: a, Pictures: map[string]string{}}
	hear := func(field string, f ListenFile, rpm unit.Rotation, lines []sound.Line, air bool) (*sound.Heard, error) {
		st, done, err := open(f)
		if err != nil {
			return nil, unreadable(field, f.Name, err)
		}
		defer done.Close()
		o := sound.ListenOptions{Given: rpm, Lines: lines, NoCut: air}
		whole := st.Info().Duration()
		o.Progress = func(at unit.Time) {
			far := 1 - math.Exp(-at.S()/120) // of a recording that does not say how long it is
			if whole > 0 {
				far = min(float64(at/whole), 1)
			}
			progress(far, fmt.Sprintf("listening to %s: %.0f s", f.Name, at.S()))
		}
		h, err := sound.Listen(ctx, st, o)
		if err != nil {
			return nil, unreadable(field, f.Name, err)
		}
		return h, nil
	}
	first, err := hear("cut", a.Cut, a.RPM, k.Lines, false)
	if err != nil {
		return nil, err
	}
	k.Cuts = append(k.Cuts, cause.Cut{Name: a.Cut.Name, Heard: first})
	if a.Air.SHA256 != "" {
		if k.Air, err = hear("air", a.Air, a.RPM, k.Lines, true); err != nil {
			return nil, err
		}
	}
	if a.Second.SHA256 != "" {
		lines, err := a.lines(a.SecondRPM)
		if err != nil {
			return nil, err
		}
		h, err := hear("second", a.Second, a.SecondRPM, lines, false)
		if err != nil {
			return nil, err
		}
		k.Cuts = append(k.Cuts, cause.Cut{Name: a.Second.Name, Heard: h, Lines: lines})
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
		out := ListenPass{Start: p.Start, End: p.End}
		for _, t := range p.Tones {
			out.Tones = append(out.Tones, ListenTone{t.Freq.Value, t.Level})
		}
		res.Passes = append(res.Passes, out)
	}
	res.Values = valuesOf(first, k.Lines)
	for _, v := range f.Tones {
		if v.Cut == a.Cut.Name && len(res.Tones) < 6 {
			res.Tones = append(res.Tones, unit.Frequency(math.Round(v.Freq.Hz()*10)/10))
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
	if p, err := a.plan(a.RPM); err != nil {
		return k, err
	} else if p != nil {
		k = p.Case()
	}
	k.Lines = append(k.Lines, a.mains()...)
	if m, ok := cause.Seen(a.Marks, a.Pattern); ok {
		k.Marks = append(k.Marks, m)
	}
	return k, nil
}

// plan makes the set-up at a speed, as far as it is known; nil when nothing is.
func (a ListenAsk) plan(rpm unit.Rotation) (*plan.Plan, error) {
	work, r := plan.MakeWithVibration, a.Plan
	if r == nil {
		if a.Lathe == "" || a.Callout == "" {
			return nil, nil
		}
		gears := plan.GearsOf(a.Callout, a.Lathe)
		work, r = plan.Make, &gears
	}
	at, err := r.AtSpeed(rpm)
	if err != nil {
		return nil, err
	}
	return work(at)
}

// lines are what comes round at a speed, and what keeps to the clock.
func (a ListenAsk) lines(rpm unit.Rotation) ([]sound.Line, error) {
	p, err := a.plan(rpm)
	if err != nil || p == nil {
		return a.mains(), err
	}
	return append(p.Case().Lines, a.mains()...), nil
}

func (a ListenAsk) mains() []sound.Line {
	if a.Mains == 0 {
		return nil
	}
	return cause.MainsLines(a.Mains)
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
