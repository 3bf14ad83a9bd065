package web

import (
	"context"
	"encoding/json"
	"html/template"
	"io"
	"maps"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"thrum/cause"
	"thrum/job"
	"thrum/sound"
	"thrum/store"
	"thrum/unit"
)

type listenPage struct {
	frame
	For, Thread string // the sheet that was cut by
	Kept        string // id of a kept recording, instead of a file
	KeptName    string
	Known       []control
	Second      control
	Faults      []fault
}

type listenedPage struct {
	frame
	ID       string
	Name     string
	First    *sheetSection // what made it
	Sections []sheetSection
	Plays    []playRow
	Picture  *picture // of the first recording, with its figures behind it
	Sound    bool
}

// listenShow asks for recordings of cutting.
func (s *Server) listenShow(w http.ResponseWriter, r *http.Request) {
	s.listenForm(w, r, http.StatusOK, r.URL.Query(), nil)
}

func (s *Server) listenForm(w http.ResponseWriter, r *http.Request, status int, q url.Values, faults []fault) {
	page := listenPage{frame: s.frame(r, "Listen", "listen"), For: q.Get("for"), Faults: faults}
	page.Here = "/listen"
	f, err := s.form(r.Context(), q, faults)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	if of, err := url.ParseQuery(page.For); err == nil && len(page.For) < 4*mostValue {
		page.Thread = of.Get("callout")
	} else {
		page.For = ""
	}
	if err := s.keptForm(r, &page, f, q); err != nil {
		s.broken(w, r, err)
		return
	}
	page.Known = []control{f.number("rpm", "Spindle speed as set, rpm", "200")}
	if page.Thread == "" {
		page.Known = append(page.Known, f.choose("lathe", "Lathe", "not known", plainOptions(f.lathes...)...), f.text("callout", "Thread", "for the gears that turn with it"))
	}
	page.Known = append(page.Known,
		f.choose("mains", "Mains", "50 or 60 Hz", option{Value: "50", Label: "50 Hz"}, option{Value: "60", Label: "60 Hz"}),
		f.number("marks", "Marks counted once around", "if you have counted them"),
		f.choose("pattern", "How the marks lie", "not looked at",
			option{Value: "together", Label: "even, on both flanks and the root"}, option{Value: "opposed", Label: "even, flanks opposed, none at the root"},
			option{Value: "ragged", Label: "ragged, no even spacing"}, option{Value: "clean", Label: "none, under a raking lamp"}),
		f.number("rate", "Values a second", "for a list of values without times"))
	page.Second = f.number("second-rpm", "Spindle speed of the second", "at least a sixth faster or slower")
	s.show(w, r, status, "listen", page)
}

// keptForm fills in what is known of a recording that is kept already: its name, and
// when it was made at a piece the thread and the speed.
func (s *Server) keptForm(r *http.Request, page *listenPage, f *form, q url.Values) error {
	id := q.Get("kept")
	if id == "" || s.config.Store == nil {
		return nil
	}
	file, content, err := s.config.Store.OpenFile(r.Context(), id)
	if code := store.CodeOf(err); code == store.NotFound || code == store.Invalid {
		return nil // cleared away: the form asks for another
	}
	if err != nil {
		return err
	}
	content.Close()
	page.Kept, page.KeptName = id, file.Name
	p, rpm, err := s.keptSetup(r.Context(), file)
	if err != nil || p == nil {
		return err
	}
	page.Thread = p.Thread.Designation
	if !f.q.Has("rpm") {
		f.q = maps.Clone(q)
		f.q.Set("rpm", strconv.FormatFloat(rpm.RPM(), 'g', 4, 64))
	}
	return nil
}

// listenAsk takes the recordings and has them listened to, in the background where
// there is a queue.
func (s *Server) listenAsk(w http.ResponseWriter, r *http.Request) {
	if !s.sentFiles(w, r) {
		return
	}
	q := url.Values(r.MultipartForm.Value)
	files := map[string]*upload{}
	defer func() {
		for _, u := range files {
			u.Close()
		}
	}()
	id, res, err := s.listenBegin(r, q, files)
	if err != nil {
		faults, rest := faultsOf(err)
		if rest != nil || len(faults) == 0 {
			s.broken(w, r, err)
			return
		}
		s.listenForm(w, r, http.StatusUnprocessableEntity, q, faults)
		return
	}
	if res != nil {
		s.listened(w, r, "", res)
		return
	}
	http.Redirect(w, r, "/jobs/"+url.PathEscape(id), http.StatusSeeOther)
}

func (s *Server) listenBegin(r *http.Request, q url.Values, files map[string]*upload) (id string, res *ListenResult, err error) {
	ask, err := s.listenRead(r, q)
	if err != nil {
		return "", nil, err
	}
	for name, to := range map[string]*ListenFile{"cut": &ask.Cut, "air": &ask.Air, "second": &ask.Second} {
		u, err := s.upload(r, name)
		if err != nil {
			return "", nil, err
		}
		if u == nil {
			continue
		}
		files[name] = u
		to.Name, to.SHA256 = u.Name, name // told apart by the field until it is kept
	}
	if err := s.listenKept(r, q, &ask); err != nil {
		return "", nil, err
	}
	switch {
	case ask.Cut.SHA256 == "":
		return "", nil, &unit.InputError{Field: "cut", Reason: "is missing", Hint: "record a cut here, or choose a recording"}
	case (ask.Second.SHA256 == "") != (ask.SecondRPM == 0):
		return "", nil, &unit.InputError{Field: "second-rpm", Value: q.Get("second-rpm"), Reason: "and the second recording are needed together", Hint: "give both, or neither"}
	case ask.Second.SHA256 != "" && ask.RPM == 0:
		return "", nil, &unit.InputError{Field: "rpm", Reason: "is needed to compare two speeds", Hint: "give the speed of the first recording"}
	}
	if s.config.Queue == nil || s.config.Store == nil {
		open := func(f ListenFile) (sound.Stream, io.Closer, error) {
			u := files[f.SHA256]
			return openRecording(r.Context(), u, u.path, f.Rate, s.config.Convert)
		}
		res, err = Listen(r.Context(), ask, open, func(float64, string) {})
		return "", res, err
	}
	if err := s.listenPut(r.Context(), &ask, files); err != nil {
		return "", nil, err
	}
	args, err := json.Marshal(ask)
	if err != nil {
		return "", nil, err
	}
	id, err = s.config.Queue.Enqueue(r.Context(), job.Request{Kind: ListenJob, Arguments: args})
	return id, nil, err
}

// listenPut puts the recordings where the job finds them. Nothing names them, so
// they are cleared away after a day.
func (s *Server) listenPut(ctx context.Context, ask *ListenAsk, files map[string]*upload) error {
	for name, to := range map[string]*ListenFile{"cut": &ask.Cut, "air": &ask.Air, "second": &ask.Second} {
		u := files[name]
		if u == nil {
			continue
		}
		if err := u.again(); err != nil {
			return err
		}
		sum, _, err := s.config.Store.Blobs().Put(ctx, u)
		if err != nil {
			return err
		}
		to.SHA256 = sum
		// Opened once before it is queued, so that a file without sound is refused at once.
		if err := u.again(); err != nil {
			return err
		}
		_, done, err := openRecording(ctx, u, u.path, to.Rate, s.config.Convert)
		if err != nil {
			return unreadable(name, to.Name, err)
		}
		if err := done.Close(); err != nil {
			return err
		}
	}
	return nil
}

// listenKept takes a recording that is kept already.
func (s *Server) listenKept(r *http.Request, q url.Values, ask *ListenAsk) error {
	id := q.Get("kept")
	if id == "" || s.config.Store == nil || ask.Cut.SHA256 != "" {
		return nil
	}
	file, content, err := s.config.Store.OpenFile(r.Context(), id)
	if err != nil {
		return &unit.InputError{Field: "cut", Value: short(id, 40), Reason: "is not kept here", Hint: "choose the recording again"}
	}
	ask.Cut.Name, ask.Cut.SHA256 = file.Name, file.SHA256
	if err := content.Close(); err != nil || ask.Plan != nil {
		return err
	}
	p, _, err := s.keptSetup(r.Context(), file)
	if err == nil && p != nil {
		ask.Plan = &p.Request
	}
	return err
}

// listenRead reads what is known beforehand.
func (s *Server) listenRead(r *http.Request, q url.Values) (ListenAsk, error) {
	in := reader{q: q}
	a := ListenAsk{
		RPM: unit.Rotation(in.number("rpm")), SecondRPM: unit.Rotation(in.number("second-rpm")), Mains: unit.Frequency(in.number("mains")),
		Marks: in.number("marks"), Callout: strings.TrimSpace(q.Get("callout")),
	}
	for name, v := range map[string]unit.Rotation{"rpm": a.RPM, "second-rpm": a.SecondRPM} {
		if v < 0 || v > 1e5 {
			in.bad(name, q.Get(name), "is not a spindle speed", "give revolutions per minute")
		}
	}
	if a.Mains != 0 && !(a.Mains >= 10 && a.Mains <= 1000) {
		in.bad("mains", q.Get("mains"), "is not a mains frequency", "50 or 60")
	}
	if a.Marks < 0 || a.Marks > 1e5 {
		in.bad("marks", q.Get("marks"), "is not a number of marks", "count the waves once around the thread")
	}
	in.note("pattern", func() (err error) { a.Pattern, err = cause.ReadPattern(q.Get("pattern")); return })
	if rate := unit.Frequency(in.number("rate")); rate < 0 || rate > 1e7 {
		in.bad("rate", q.Get("rate"), "is not a rate", "give values per second: 400")
	} else {
		a.Cut.Rate, a.Air.Rate, a.Second.Rate = rate, rate, rate
	}
	if name := q.Get("lathe"); name != "" || a.Callout != "" {
		in.note("lathe", func() (err error) { a.Lathe, err = s.library.lathe(r.Context(), name); return })
		in.thread(a.Callout, false)
	}
	if of, err := url.ParseQuery(q.Get("for")); err == nil && of.Get("callout") != "" {
		request, err := s.library.request(r.Context(), tidy(of))
		if err != nil {
			return a, &unit.InputError{Field: "for", Value: of.Get("callout"), Reason: "is a sheet that cannot be planned any more", Hint: "open the sheet and mend it first"}
		}
		a.Plan = &request
	}
	return a, in.err()
}

// listenedShow shows what a job has heard.
func (s *Server) listenedShow(w http.ResponseWriter, r *http.Request) {
	res, ok := s.listenResult(w, r)
	if ok {
		s.listened(w, r, r.PathValue("id"), res)
	}
}

func (s *Server) listenResult(w http.ResponseWriter, r *http.Request) (*ListenResult, bool) {
	st, ok := s.jobStatus(w, r)
	if !ok {
		return nil, false
	}
	if st.Kind != ListenJob || st.State != job.Done {
		s.fail(w, r, http.StatusNotFound, "Nothing was heard under this address", "Send the recording again.")
		return nil, false
	}
	content, err := s.config.Store.Blobs().Open(r.Context(), st.SHA256)
	if err != nil {
		s.broken(w, r, err)
		return nil, false
	}
	defer content.Close()
	var res ListenResult
	if err := json.NewDecoder(content).Decode(&res); err != nil {
		s.broken(w, r, err)
		return nil, false
	}
	return &res, true
}

func (s *Server) listened(w http.ResponseWriter, r *http.Request, id string, res *ListenResult) {
	page := listenedPage{frame: s.frame(r, "Heard: "+res.Ask.Cut.Name, "listen"), ID: id, Name: res.Ask.Cut.Name, Sound: id != "" && res.Ask.Cut.Rate == 0}
	for i, sec := range res.Sections {
		out := sheetSection{Section: sec, N: i + 1}
		if p := res.Pictures[sec.ID]; p != "" {
			out.Pictures = []picture{{sec.ID, "Time across, frequency up; loud is dark. Passes are numbered; known lines and free tones are named.", template.HTML(p)}} // #nosec: drawn by this program, every text escaped
		}
		if id != "" && res.Values != nil && page.Picture == nil && len(out.Pictures) > 0 {
			page.Picture, out.Pictures = &out.Pictures[0], nil
		}
		page.Sections = append(page.Sections, out)
	}
	if len(page.Sections) > 0 {
		page.First, page.Sections = &page.Sections[0], page.Sections[1:]
	}
	if page.Sound {
		page.Plays = plays(id, res)
	}
	s.show(w, r, http.StatusOK, "listened", page)
}

// listenSound sends the recording that was listened to, as long as it is there.
func (s *Server) listenSound(w http.ResponseWriter, r *http.Request) {
	res, ok := s.listenResult(w, r)
	if !ok {
		return
	}
	content, err := s.config.Store.Blobs().Open(r.Context(), res.Ask.Cut.SHA256)
	if err != nil {
		s.fail(w, r, http.StatusNotFound, "The recording is no longer here", "It is cleared away after a day unless it is kept with a part.")
		return
	}
	defer content.Close()
	head := make([]byte, sound.HeadSize)
	n, _ := io.ReadFull(content, head)
	if _, err := content.Seek(0, io.SeekStart); err != nil {
		s.broken(w, r, err)
		return
	}
	w.Header().Set("Content-Type", soundMedia(sound.Sniff(head[:n])))
	w.Header().Set("Content-Disposition", "inline; filename="+strconv.Quote(cleanName(res.Ask.Cut.Name)))
	http.ServeContent(w, r, "", time.Time{}, content)
}

func soundMedia(c sound.Container) string {
	switch c {
	case sound.WAV:
		return "audio/wav"
	case sound.FLAC:
		return "audio/flac"
	case sound.MP3:
		return "audio/mpeg"
	case sound.OggOpus:
		return "audio/ogg"
	}
	return "application/octet-stream"
}
