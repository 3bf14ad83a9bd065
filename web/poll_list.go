package web

import (
	"context"
	"errors"
	"fmt"
	"image"
	"io"
	"net/http"
	"net/url"
	"strings"

	"thrum/photo"
	"thrum/store"
	"thrum/trial"
	"thrum/unit"
)

// pollsRoutes lists the addresses of polls. Visitors of the public listener reach
// those of the booth only.
func (s *Server) pollsRoutes(m *http.ServeMux) {
	m.HandleFunc("GET /polls", s.pollsShow)
	m.HandleFunc("POST /polls", s.pollMake)
	m.HandleFunc("GET /polls/{id}", s.pollShow)
	m.HandleFunc("POST /polls/{id}/pictures", s.pollAdd)
	m.HandleFunc("POST /polls/{id}/items", s.pollItems)
	m.HandleFunc("GET /polls/{id}/items/{item}", s.pollItemShow)
	m.HandleFunc("POST /polls/{id}/open", s.pollOpen)
	m.HandleFunc("POST /polls/{id}/close", s.pollClose)
	m.HandleFunc("GET /polls/{id}/result.json", s.pollJSON)
	m.HandleFunc("GET /polls/{id}/pages.zip", s.pollPages)
	if s.booth != nil {
		s.booth.routes(m)
	}
}

// mostPhotos is how many photographs one form may bring.
const mostPhotos = store.MostPollItems

type pollLine struct {
	Address, Name, Asks string
	State               string
	Votes               int
}

type pollsPage struct {
	frame
	Polls                   []pollLine
	Fault                   string
	Name, Asks              string
	Baseline, Changed       string
	Trial, TrialName        string
	Codes                   int // samples of the trial
	Photos                  int // photographs that its samples have
	DefaultAsks, PhotoTypes string
}

const (
	defaultAsks = "Which thread looks cleaner?"
	photoTypes  = "image/jpeg,image/png,image/webp,image/heic,image/tiff"
)

func stateOf(p store.Poll) string {
	switch {
	case p.Closed():
		return "closed"
	case p.Open():
		return "open"
	}
	return "being prepared"
}

// pollsShow lists the polls and offers to make one, from a trial if the address
// names it.
func (s *Server) pollsShow(w http.ResponseWriter, r *http.Request) {
	if !s.keeps(w, r) {
		return
	}
	page := pollsPage{Trial: r.URL.Query().Get("trial")}
	s.showPolls(w, r, http.StatusOK, page)
}

func (s *Server) showPolls(w http.ResponseWriter, r *http.Request, status int, page pollsPage) {
	page.frame, page.PhotoTypes = s.frame(r, "Polls", "trials"), photoTypes
	if page.Asks == "" {
		page.Asks = defaultAsks
	}
	polls, err := s.config.Store.Polls(r.Context())
	if err != nil {
		s.broken(w, r, err)
		return
	}
	for _, p := range polls {
		page.Polls = append(page.Polls, pollLine{"/polls/" + p.Public, p.Name, p.Asks, stateOf(p), p.Votes})
	}
	if page.Trial != "" {
		t, samples, photos, err := s.trialPhotos(r.Context(), page.Trial)
		if err != nil {
			s.fail(w, r, http.StatusNotFound, "There is no such trial", "Choose one from the list of trials.")
			return
		}
		page.TrialName, page.Codes, page.Photos = t.Name, len(samples), len(photos)
		if page.Name == "" {
			page.Name = t.Name
		}
		settled, err := trial.ReadSettled(strings.NewReader(t.Design))
		if err == nil && page.Baseline == "" {
			page.Baseline, page.Changed = settled.Factor.Baseline, settled.Factor.Changed
		}
	}
	s.show(w, r, status, "polls", page)
}

// pollsOf lists the polls about a trial.
func (s *Server) pollsOf(ctx context.Context, trialID string) (lines []pollLine, err error) {
	polls, err := s.config.Store.PollsOfTrial(ctx, trialID)
	for _, p := range polls {
		lines = append(lines, pollLine{"/polls/" + p.Public, p.Name, p.Asks, stateOf(p), p.Votes})
	}
	return lines, err
}

// samplePhoto is a photograph kept with a sample of a trial.
type samplePhoto struct {
	sample store.Sample
	file   store.File
}

func (s *Server) trialPhotos(ctx context.Context, id string) (t store.Trial, samples []store.Sample, photos []samplePhoto, err error) {
	st := s.config.Store
	if t, err = st.Trial(ctx, id); err != nil {
		return t, nil, nil, err
	}
	if samples, err = st.Samples(ctx, id); err != nil {
		return t, nil, nil, err
	}
	for _, x := range samples {
		files, err := st.Files(ctx, store.About{SampleID: x.ID})
		if err != nil {
			return t, nil, nil, err
		}
		for _, f := range files {
			if f.Kind == "photo" {
				photos = append(photos, samplePhoto{x, f})
			}
		}
	}
	return t, samples, photos, nil
}

// pollMake makes a poll from photographs that come with the form, or from those that
// are kept with a trial's samples.
func (s *Server) pollMake(w http.ResponseWriter, r *http.Request) {
	if !s.keeps(w, r) || !s.sentFiles(w, r) {
		return
	}
	defer r.MultipartForm.RemoveAll()
	get := func(name string) string { return strings.TrimSpace(r.FormValue(name)) }
	page := pollsPage{Name: get("name"), Asks: get("asks"), Baseline: get("baseline"), Changed: get("changed"), Trial: get("trial")}
	p, err := s.config.Store.AddPoll(r.Context(), store.Poll{Name: page.Name, Asks: page.Asks, Baseline: page.Baseline, Changed: page.Changed, TrialID: page.Trial})
	if err == nil && page.Trial != "" {
		err = s.pollFromTrial(r.Context(), p)
	}
	if err == nil {
		err = s.pollPhotos(r, p)
	}
	if words, ok := faultOf(err); ok {
		page.Fault = words
		s.showPolls(w, r, http.StatusUnprocessableEntity, page)
		return
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	http.Redirect(w, r, "/polls/"+p.Public, http.StatusSeeOther)
}

// faultOf is an error of the user's input as a sentence.
func faultOf(err error) (string, bool) {
	in, ok := errors.AsType[*unit.InputError](err)
	if !ok {
		return "", false
	}
	words := fmt.Sprintf("%s %s: %s", in.Field, unit.Quote(in.Value), in.Reason)
	if in.Hint != "" {
		words += "; " + in.Hint
	}
	return words + ".", true
}

func (s *Server) pollFromTrial(ctx context.Context, p store.Poll) error {
	_, _, photos, err := s.trialPhotos(ctx, p.TrialID)
	if err != nil {
		return err
	}
	for _, x := range photos[:min(len(photos), mostPhotos)] {
		_, content, err := s.config.Store.OpenFile(ctx, x.file.ID)
		if err != nil {
			return err
		}
		arm := ""
		if x.sample.Arm == p.Baseline || x.sample.Arm == p.Changed {
			arm = x.sample.Arm
		}
		err = errors.Join(s.pollPhoto(ctx, p, x.file.Name, x.sample.Code, arm, content), content.Close())
		if err != nil {
			return err
		}
	}
	return nil
}

// pollPhotos adds the photographs of a form.
func (s *Server) pollPhotos(r *http.Request, p store.Poll) error {
	files := r.MultipartForm.File["photos"]
	if len(files) > mostPhotos {
		return &unit.InputError{Field: "photographs", Value: fmt.Sprint(len(files)), Reason: "are more than one poll holds", Hint: fmt.Sprintf("at most %d", mostPhotos)}
	}
	for _, h := range files {
		u, err := putDown(h)
		if err != nil {
			return err
		}
		name := strings.TrimSpace(u.Name)
		sample := strings.TrimSpace(strings.TrimSuffix(name, extOf(name)))
		err = errors.Join(s.pollPhoto(r.Context(), p, name, orName(sample, "sample"), "", u.file), u.Close())
		if err != nil {
			return err
		}
	}
	return nil
}

func extOf(name string) string {
	if i := strings.LastIndexByte(name, '.'); i > 0 {
		return name[i:]
	}
	return ""
}

func orName(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}

// pollPhoto keeps a photograph and makes an item of its middle.
func (s *Server) pollPhoto(ctx context.Context, p store.Poll, name, sample, arm string, content io.ReadSeeker) error {
	if _, _, err := photo.Decode(content, photo.Limits{}); err != nil {
		return err
	}
	if _, err := content.Seek(0, io.SeekStart); err != nil {
		return err
	}
	kept, err := s.config.Store.AddPollPhoto(ctx, store.PollPhoto{PollID: p.ID, Name: orName(name, "photo")}, content)
	if err != nil {
		return err
	}
	_, err = s.config.Store.AddPollItem(ctx, store.PollItem{PollID: p.ID, PhotoID: kept.ID, Sample: sample, Arm: arm, MiddleX: .5, MiddleY: .5, Side: 1})
	return err
}

// photoOf reads the photograph of an item.
func photoOf(ctx context.Context, st *store.Store, photos []store.PollPhoto, it store.PollItem) (image.Image, error) {
	for _, p := range photos {
		if p.ID != it.PhotoID {
			continue
		}
		f, err := st.Blobs().Open(ctx, p.SHA256)
		if err != nil {
			return nil, err
		}
		defer f.Close()
		img, _, err := photo.Decode(f, photo.Limits{})
		return img, err
	}
	return nil, errors.New("an item without a photograph")
}

// votes returns what people voted in the closed polls about a trial, by the names of
// its samples. Looks at one picture twice, and at a pair again, are left out: they
// are controls.
func (l library) votes(ctx context.Context, trialID string) (votes []trial.Vote, err error) {
	polls, err := l.store.PollsOfTrial(ctx, trialID)
	if err != nil {
		return nil, err
	}
	for _, p := range polls {
		if !p.Closed() {
			continue
		}
		items, err := l.store.PollItems(ctx, p.ID)
		if err != nil {
			return nil, err
		}
		err = l.store.EachVote(ctx, p.ID, func(v store.Vote) error {
			if v.Again || v.Left == v.Right || v.Left >= len(items) || v.Right >= len(items) || len(votes) >= trial.MaxVotes {
				return nil
			}
			votes = append(votes, trial.Vote{Judge: p.Public + v.Judge, Left: items[v.Left].Sample, Right: items[v.Right].Sample, Outcome: trial.Outcome(v.Outcome)})
			return nil
		})
		if err != nil {
			return nil, err
		}
	}
	return votes, nil
}

// pollAt finds the poll of an address.
func (s *Server) pollAt(w http.ResponseWriter, r *http.Request) (store.Poll, bool) {
	if !s.keeps(w, r) {
		return store.Poll{}, false
	}
	p, err := s.config.Store.PollByPublic(r.Context(), r.PathValue("id"))
	switch {
	case store.CodeOf(err) == store.NotFound:
		s.fail(w, r, http.StatusNotFound, "There is no such poll", "The page of polls lists them all.")
		return p, false
	case err != nil:
		s.broken(w, r, err)
		return p, false
	}
	return p, true
}

// toPoll goes to the page of a poll.
func toPoll(w http.ResponseWriter, r *http.Request, p store.Poll, fragment string) {
	http.Redirect(w, r, "/polls/"+url.PathEscape(p.Public)+fragment, http.StatusSeeOther)
}
