package web

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"path"
	"slices"
	"strconv"
	"strings"

	"thrum/plan"
	"thrum/store"
	"thrum/trial"
	"thrum/unit"
)

// places are where a thread is measured, free end first, and angles about its axis.
var (
	places = []string{"free end", "middle", "shoulder"}
	angles = []float64{0, 90}
)

type samplePage struct {
	frame
	ID, Trial  string
	Run        trial.Run
	Block      string
	LeftOut    string
	Plan       *control
	Piece      *control
	PlanName   string
	Passes     int
	Conditions []plan.Condition
	Own        string
	Sizes      []sizeRow
	Unit       string
	Limits     string
	Shape      string
	By         control
	Scores     []control
	Grades     []trial.Grade
	Files      []fileLine
	Notes      []noteLine
	Faults     []fault
	Before     string
	After      string
}

type sizeRow struct {
	Place string
	Cells []control
}

type fileLine struct {
	Name, Link, Kind string
	Media            string
	Picture, Sound   bool
	Way              string // where it is listened to or read
}

// sampleShow shows one sample and all that is known about it, with the forms to
// write down more.
func (s *Server) sampleShow(w http.ResponseWriter, r *http.Request) {
	if g, a, ok := s.sampleOf(w, r); ok {
		s.sampleAgain(w, r, http.StatusOK, g, a, url.Values{}, nil)
	}
}

func (s *Server) sampleOf(w http.ResponseWriter, r *http.Request) (*gathered, *aboutSample, bool) {
	g, ok := s.gathered(w, r)
	if !ok {
		return nil, nil, false
	}
	a := g.About[r.PathValue("code")]
	if a == nil {
		s.fail(w, r, http.StatusNotFound, "There is no such sample", "The trial's page lists its samples.")
		return nil, nil, false
	}
	return g, a, true
}

func (s *Server) sampleAgain(w http.ResponseWriter, r *http.Request, status int, g *gathered, a *aboutSample, q url.Values, faults []fault) {
	set, i := g.Record.Settled, a.Sample.Run-1
	e := g.Record.Evidence[i]
	page := samplePage{
		frame: s.frame(r, a.Sample.Code, "trials"), ID: g.Trial.ID, Trial: g.Trial.Name, Run: set.Runs[i], LeftOut: e.LeftOut, Passes: e.Passes,
		Grades: e.Grades, Faults: faults, Own: q.Get("conditions"),
	}
	if b := set.Design.Kind.Block(); b != "" {
		page.Block = fmt.Sprintf("%s %d", b, a.Sample.Block)
	}
	if i > 0 {
		page.Before = set.Runs[i-1].Code
	}
	if i+1 < len(set.Runs) {
		page.After = set.Runs[i+1].Code
	}
	f := form{q: q, faults: map[string][]fault{}}
	for _, x := range faults {
		f.faults[x.Field] = append(f.faults[x.Field], x)
	}
	if err := s.cutAs(r, &page, a, f); err != nil {
		s.broken(w, r, err)
		return
	}
	if page.Own == "" {
		page.Own = lines(a.Own, set.Hold, e.Conditions)
	}
	page.sizes(a, e, f)
	page.By = f.text("by", "Graded by", "a name or initials")
	for n, of := range scores(set) {
		page.Scores = append(page.Scores, f.number(fmt.Sprintf("score-%d", n), upperFirst(of), ""))
	}
	for _, x := range a.Files {
		page.Files = append(page.Files, a.fileLine(g.Trial.ID, x))
	}
	for _, n := range a.Notes {
		page.Notes = append(page.Notes, noteLine{n.Text, n.CreatedAt})
	}
	s.show(w, r, status, "trial_sample", page)
}

// cutAs offers plans and pieces, and lists what the chosen plan holds.
func (s *Server) cutAs(r *http.Request, page *samplePage, a *aboutSample, f form) error {
	opts, err := s.planOptions(r)
	if err != nil {
		return err
	}
	if len(opts) > 0 {
		if !f.q.Has("plan") {
			f.q = url.Values{"plan": {a.PlanID}, "piece": {a.Piece}}
		}
		c := f.choose("plan", "Cut by the plan", "none that is kept", opts...)
		page.Plan = &c
	}
	if a.Plan == nil {
		return nil
	}
	page.PlanName, page.Conditions = a.Plan.Thread.Designation, a.Plan.Conditions()
	kept, err := s.config.Store.Plan(r.Context(), a.PlanID)
	if err != nil {
		return err
	}
	pieces, err := s.config.Store.Pieces(r.Context(), kept.PartID)
	if err != nil || len(pieces) == 0 {
		return err
	}
	var of []option
	for _, p := range pieces {
		of = append(of, option{Value: p.ID, Label: p.Name})
	}
	c := f.choose("piece", "Passes as cut are in the log of", "no piece", of...)
	page.Piece = &c
	return nil
}

// lines writes conditions one a line; those to be held stand there to be filled in
// when nothing says them yet.
func lines(own map[string]string, hold []string, known map[string]string) string {
	var out []string
	for _, k := range sortedKeys(own) {
		out = append(out, k+" = "+own[k])
	}
	for _, h := range hold {
		if known[h] == "" && own[strings.ToLower(h)] == "" {
			out = append(out, h+" = ")
		}
	}
	return strings.Join(out, "\n")
}

func sortedKeys(m map[string]string) []string {
	var ks []string
	for k := range m {
		ks = append(ks, k)
	}
	slices.Sort(ks)
	return ks
}

// system is that of the sample's plan; without one, millimetres.
func (a *aboutSample) system() unit.System {
	if a.Plan != nil {
		return a.Plan.Request.Units
	}
	return unit.Metric
}

func formatSize(l unit.Length, sys unit.System) string {
	if sys == unit.Inches {
		return l.Number(unit.Inches, 4)
	}
	return l.Number(unit.Metric, 3)
}

// sizes makes the table of readings: three places, two angles.
func (page *samplePage) sizes(a *aboutSample, e trial.Evidence, f form) {
	sys := a.system()
	page.Unit = sys.String()
	for p, place := range places {
		row := sizeRow{Place: place}
		for _, angle := range angles {
			name := sizeField(p+1, angle)
			if !f.q.Has(name) {
				for _, x := range e.Sizes {
					if x.Place == p+1 && x.Angle == unit.Angle(angle)*unit.Degree {
						f.q[name] = []string{formatSize(x.Value, sys)}
					}
				}
			}
			row.Cells = append(row.Cells, f.number(name, fmt.Sprintf("%s, %.0f°", upperFirst(place), angle), ""))
		}
		page.Sizes = append(page.Sizes, row)
	}
	if l := e.Limits; l != nil {
		page.Limits = fmt.Sprintf("%s to %s %s over wires of %s", formatSize(l.Min, sys), formatSize(l.Max, sys), sys, formatSize(a.Plan.Wires.Use, sys))
	}
	rec := trial.Record{Settled: trial.Settled{Runs: []trial.Run{page.Run}}, Evidence: []trial.Evidence{e}, Units: sys}
	if rep, err := rec.Report(); err == nil && len(rep.Shapes) == 1 {
		s := rep.Shapes[0]
		page.Shape = fmt.Sprintf("mean %s %s, taper %s %s from free end to shoulder, out of round %s %[4]s", formatSize(s.Mean, sys), sys, rec.Signed(s.Taper), rec.SmallUnit(), rec.SmallSize(s.Round))
		if s.Beyond > 0 {
			page.Shape += fmt.Sprintf("; ✗ beyond its limit by %s %s", rec.SmallSize(s.Beyond), rec.SmallUnit())
		} else if e.Limits != nil {
			page.Shape += "; within its limits"
		}
	}
}

func sizeField(place int, angle float64) string { return fmt.Sprintf("size-%d-%.0f", place, angle) }

// fileLine says how a photograph or recording is shown, and where it is read: with
// the thread and the spindle speed of the sample's plan, where there is one.
func (a *aboutSample) fileLine(trialID string, x store.File) fileLine {
	l := fileLine{Name: x.Name, Link: fmt.Sprintf("/trials/%s/files/%s", url.PathEscape(trialID), url.PathEscape(x.ID)), Kind: x.Kind, Media: x.Media}
	l.Picture, l.Sound = x.Kind == "photo" && shows(x.Media), x.Kind == "recording" && sounds(x.Media)
	q := url.Values{"kept": {x.ID}}
	speed := func(s unit.Rotation) { q.Set("rpm", strconv.FormatFloat(s.RPM(), 'f', -1, 64)) }
	l.Way = "/flanks?"
	if x.Kind == "recording" {
		l.Way = "/listen?"
	}
	switch {
	case a.Plan == nil:
	case x.Kind == "recording":
		speed(a.Plan.Speed.RPM)
	default:
		speed(a.Plan.MarkSpeed())
		q.Set("callout", a.Plan.Request.Callout)
	}
	l.Way += q.Encode()
	return l
}

// sounds tells whether a browser plays recordings of that kind.
func sounds(media string) bool {
	return strings.HasPrefix(media, "audio/") || media == "application/ogg"
}

// shows tells whether a browser shows pictures of that kind.
func shows(media string) bool {
	return slices.Contains([]string{"image/jpeg", "image/png", "image/webp", "image/gif"}, media)
}

// sampleKeep keeps what one of the forms of a sample says.
func (s *Server) sampleKeep(w http.ResponseWriter, r *http.Request) {
	if strings.HasPrefix(r.Header.Get("Content-Type"), "multipart/form-data") {
		if !s.sentFiles(w, r) {
			return
		}
		r.PostForm = url.Values(r.MultipartForm.Value)
		defer r.MultipartForm.RemoveAll()
	} else if !s.sent(w, r) {
		return
	}
	g, a, ok := s.sampleOf(w, r)
	if !ok {
		return
	}
	do := map[string]func(*http.Request, *gathered, *aboutSample) ([]fault, error){
		"cut-as": s.keepCutAs, "conditions": s.keepConditions, "sizes": s.keepSizes, "scores": s.keepScores, "file": s.keepSampleFile, "note": s.keepSampleNote, "left-out": s.keepLeftOut,
	}[r.PostForm.Get("do")]
	if do == nil {
		s.fail(w, r, http.StatusBadRequest, "The form did not arrive whole", "Go back and send it again.")
		return
	}
	faults, err := do(r, g, a)
	if code := store.CodeOf(err); code == store.Invalid || code == store.NotFound {
		more, _ := faultsOf(err)
		faults, err = append(faults, more...), nil
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	if len(faults) > 0 {
		s.sampleAgain(w, r, http.StatusUnprocessableEntity, g, a, r.PostForm, faults)
		return
	}
	http.Redirect(w, r, "/trials/"+url.PathEscape(g.Trial.ID)+"/samples/"+url.PathEscape(a.Sample.Code)+"#"+r.PostForm.Get("do"), http.StatusSeeOther)
}

func (s *Server) keepCutAs(r *http.Request, _ *gathered, a *aboutSample) ([]fault, error) {
	planID, piece := r.PostForm.Get("plan"), r.PostForm.Get("piece")
	if planID != a.PlanID {
		piece = "" // a piece of the plan's part is offered once the plan is chosen
	}
	return nil, s.enter(r, store.SampleEntry{SampleID: a.Sample.ID, Kind: entryCutAs, PlanID: planID, PieceID: piece})
}

func (s *Server) keepConditions(r *http.Request, _ *gathered, a *aboutSample) ([]fault, error) {
	now, bad := conditionsOf(r.PostForm.Get("conditions"))
	if bad != nil {
		return []fault{*bad}, nil
	}
	changed := map[string]string{}
	for k, v := range now {
		if a.Own[k] != v {
			changed[k] = v
		}
	}
	for k := range a.Own {
		if now[k] == "" {
			changed[k] = "" // taken out
		}
	}
	if len(changed) == 0 {
		return nil, nil
	}
	facts, err := json.Marshal(changed)
	if err != nil {
		return nil, err
	}
	return nil, s.enter(r, store.SampleEntry{SampleID: a.Sample.ID, Kind: entryConditions, Facts: string(facts)})
}

func (s *Server) keepSizes(r *http.Request, g *gathered, a *aboutSample) ([]fault, error) {
	in := reader{q: r.PostForm}
	type reading struct {
		d wiresDetail
		v unit.Length
	}
	var add []reading
	for p := range places {
		for _, angle := range angles {
			name := sizeField(p+1, angle)
			if v := in.length(name, r.PostForm.Get(name), a.system()); v > 0 {
				add = append(add, reading{wiresDetail{p + 1, angle}, v})
			}
		}
	}
	if faults, err := faultsOf(in.err()); len(faults) > 0 || err != nil {
		return faults, err
	}
	e := g.Record.Evidence[a.Sample.Run-1]
	for _, x := range add {
		if slices.ContainsFunc(e.Sizes, func(old trial.Size) bool {
			return old.Place == x.d.Place && old.Angle == unit.Angle(x.d.Angle)*unit.Degree && (old.Value-x.v).Abs() < 1e-9
		}) {
			continue
		}
		detail, err := json.Marshal(x.d)
		if err != nil {
			return nil, err
		}
		if _, err := s.config.Store.AddMeasurement(r.Context(), store.Measurement{
			About: store.About{SampleID: a.Sample.ID}, Quantity: quantityWires, Value: x.v.MM(), Unit: "mm", Detail: string(detail),
		}); err != nil {
			return nil, err
		}
	}
	return nil, nil
}

func (s *Server) keepScores(r *http.Request, g *gathered, a *aboutSample) ([]fault, error) {
	by, bad := grader(r.PostForm)
	if bad != nil {
		return []fault{*bad}, nil
	}
	var faults []fault
	values := map[string]float64{}
	for n, of := range scores(g.Record.Settled) {
		name := fmt.Sprintf("score-%d", n)
		text := strings.TrimSpace(r.PostForm.Get(name))
		if text == "" {
			continue
		}
		v, ok := score(text)
		if !ok {
			faults = append(faults, fault{name, short(text, 40), "is not a number", "digits, such as 3 or 3.5"})
		}
		values[of] = v
	}
	if len(faults) > 0 {
		return faults, nil
	}
	for of, v := range values {
		if err := s.keepScore(r, a.Sample.ID, of, by, v); err != nil {
			return nil, err
		}
	}
	return nil, nil
}

func (s *Server) keepSampleFile(r *http.Request, _ *gathered, a *aboutSample) ([]fault, error) {
	u, err := s.upload(r, "file")
	if err != nil {
		return nil, err
	}
	if u == nil {
		return []fault{{"file", "", "is missing", "choose a photograph or a recording"}}, nil
	}
	defer u.Close()
	kind := "recording"
	head := make([]byte, 512)
	n, _ := io.ReadFull(u, head) // a short file is looked at as far as it goes
	media := http.DetectContentType(head[:n])
	if strings.HasPrefix(media, "image/") {
		kind = "photo"
	} else if strings.HasPrefix(media, "text/html") || strings.HasPrefix(media, "text/xml") {
		return []fault{{"file", u.Name, "is neither a photograph nor a recording", "JPEG, PNG; WAV, FLAC, MP3, Opus"}}, nil
	}
	if err := u.again(); err != nil {
		return nil, err
	}
	_, err = s.config.Store.AddFile(r.Context(), store.File{About: store.About{SampleID: a.Sample.ID}, Kind: kind, Name: strings.TrimSpace(u.Name), Media: media}, u)
	return nil, err
}

func (s *Server) keepSampleNote(r *http.Request, _ *gathered, a *aboutSample) ([]fault, error) {
	text := strings.TrimSpace(r.PostForm.Get("text"))
	if text == "" || len(text) > mostNote {
		return []fault{{"text", "", "is empty or too long", fmt.Sprintf("write something, at most %d letters", mostNote)}}, nil
	}
	_, err := s.config.Store.AddNote(r.Context(), store.Note{About: store.About{SampleID: a.Sample.ID}, Text: text})
	return nil, err
}

func (s *Server) keepLeftOut(r *http.Request, _ *gathered, a *aboutSample) ([]fault, error) {
	why := strings.TrimSpace(r.PostForm.Get("why"))
	if len(why) > 200 {
		return []fault{{"why", "", "is too long", "at most 200 letters"}}, nil
	}
	facts, err := json.Marshal(map[string]string{"why": why})
	if err != nil {
		return nil, err
	}
	return nil, s.enter(r, store.SampleEntry{SampleID: a.Sample.ID, Kind: entryLeftOut, Facts: string(facts)})
}

// sampleFile sends a photograph or a recording of a sample of the trial.
func (s *Server) sampleFile(w http.ResponseWriter, r *http.Request) {
	g, ok := s.gathered(w, r)
	if !ok {
		return
	}
	for _, a := range g.About {
		for _, x := range a.Files {
			if x.ID != r.PathValue("file") {
				continue
			}
			f, content, err := s.config.Store.OpenFile(r.Context(), x.ID)
			if err != nil {
				s.broken(w, r, err)
				return
			}
			defer content.Close()
			way := "attachment"
			if shows(f.Media) || sounds(f.Media) {
				way = "inline"
			}
			w.Header().Set("Content-Type", f.Media)
			w.Header().Set("Content-Disposition", fmt.Sprintf("%s; filename=%q", way, a.Sample.Code+path.Ext(f.Name))) // its own name may tell the arm
			http.ServeContent(w, r, "", f.CreatedAt, content)
			return
		}
	}
	s.fail(w, r, http.StatusNotFound, "There is no such file", "The sample's page lists its photographs and recordings.")
}
