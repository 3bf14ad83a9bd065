package web

import (
	"bytes"
	"context"
	"fmt"
	"html/template"
	"image"
	"net/http"
	"strconv"
	"strings"

	"thrum/store"
)

type pollItemLine struct {
	store.PollItem
	N       int // from 1, for people
	Picture string
	X, Y    string // per cent
	Share   string // per cent
	Angle   string // degrees
}

type pollPage struct {
	frame
	Poll       store.Poll
	Address    string
	State      string
	Items      []pollItemLine
	Pairs      int
	Fault      string
	Cut        bool // crops were changed
	Link       string
	QR         template.HTML
	NoKey      bool
	Result     *pollResult
	PhotoTypes string
}

// pollShow shows a poll to whoever made it: its pictures while it is being prepared,
// its link while it is open, its result when it is closed.
func (s *Server) pollShow(w http.ResponseWriter, r *http.Request) {
	p, ok := s.pollAt(w, r)
	if ok {
		s.showPoll(w, r, http.StatusOK, p, "")
	}
}

func (s *Server) showPoll(w http.ResponseWriter, r *http.Request, status int, p store.Poll, fault string) {
	items, err := s.config.Store.PollItems(r.Context(), p.ID)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	page := pollPage{frame: s.frame(r, p.Name, "trials"), Poll: p, Address: "/polls/" + p.Public, State: stateOf(p), Pairs: len(items) * (len(items) - 1) / 2, Fault: fault, PhotoTypes: photoTypes}
	for _, it := range items {
		percent := func(v float64) string { return strconv.FormatFloat(100*v, 'f', -1, 64) }
		picture := fmt.Sprintf("%s/items/%d?at=%s", page.Address, it.Place, strings.Join([]string{percent(it.MiddleX), percent(it.MiddleY), percent(it.Side), percent(it.Turn)}, ","))
		page.Items = append(page.Items, pollItemLine{it, it.Place + 1, picture, percent(it.MiddleX), percent(it.MiddleY), percent(it.Side), strconv.FormatFloat(it.Turn, 'f', -1, 64)})
	}
	switch {
	case p.Open():
		_, err := s.config.Store.PollKey(r.Context(), p.ID)
		page.NoKey = store.CodeOf(err) == store.NotFound
		if s.config.PublicURL != "" {
			page.Link = s.config.PublicURL + "/polls/" + p.Public + "/vote"
			page.QR = qrOf(page.Link, "QR code: opens the poll on a phone")
		}
	case p.Closed():
		if page.Result, err = s.resultOf(r.Context(), p, items); err != nil {
			s.broken(w, r, err)
			return
		}
	}
	s.show(w, r, status, "poll", page)
}

// pollAdd adds photographs.
func (s *Server) pollAdd(w http.ResponseWriter, r *http.Request) {
	p, ok := s.pollAt(w, r)
	if !ok || !s.sentFiles(w, r) {
		return
	}
	defer r.MultipartForm.RemoveAll()
	s.afterPoll(w, r, p, s.pollPhotos(r, p), "#pictures")
}

// afterPoll goes on after a change, or says what was wrong with it.
func (s *Server) afterPoll(w http.ResponseWriter, r *http.Request, p store.Poll, err error, fragment string) {
	words, input := faultOf(err)
	switch {
	case input:
		s.showPoll(w, r, http.StatusUnprocessableEntity, p, words)
	case err != nil:
		s.broken(w, r, err)
	default:
		toPoll(w, r, p, fragment)
	}
}

// pollItems keeps names, arms and crops of all items as the form has them.
func (s *Server) pollItems(w http.ResponseWriter, r *http.Request) {
	p, ok := s.pollAt(w, r)
	if !ok || !s.sent(w, r) {
		return
	}
	items, err := s.config.Store.PollItems(r.Context(), p.ID)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	for _, it := range items {
		get := func(name string) string { return strings.TrimSpace(r.PostForm.Get(name + "-" + it.ID)) }
		if !r.PostForm.Has("sample-" + it.ID) {
			continue
		}
		if get("remove") != "" {
			err = s.config.Store.RemovePollItem(r.Context(), p.ID, it.ID)
		} else {
			it.Sample, it.Arm = get("sample"), get("arm")
			for _, f := range []struct {
				name string
				to   *float64
				by   float64
			}{{"x", &it.MiddleX, 100}, {"y", &it.MiddleY, 100}, {"side", &it.Side, 100}, {"turn", &it.Turn, 1}} {
				v, e := strconv.ParseFloat(strings.Replace(get(f.name), ",", ".", 1), 64)
				if e != nil {
					s.showPoll(w, r, http.StatusUnprocessableEntity, p, fmt.Sprintf("Picture %d: %q is not a number.", it.Place+1, short(get(f.name), 40)))
					return
				}
				*f.to = v / f.by
			}
			err = s.config.Store.EditPollItem(r.Context(), it)
		}
		if err != nil {
			break
		}
	}
	s.afterPoll(w, r, p, err, "#pictures")
}

// pollItemShow sends the crop of an item: as it would be while the poll is being
// prepared, as it is afterwards.
func (s *Server) pollItemShow(w http.ResponseWriter, r *http.Request) {
	p, ok := s.pollAt(w, r)
	if !ok {
		return
	}
	items, err := s.config.Store.PollItems(r.Context(), p.ID)
	n, bad := strconv.Atoi(r.PathValue("item"))
	if err != nil || bad != nil || n < 0 || n >= len(items) {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Content-Type", "image/jpeg")
	w.Header().Set("Cache-Control", "private, max-age=3600")
	if sum := items[n].SHA256; sum != "" {
		f, err := s.config.Store.Blobs().Open(r.Context(), sum)
		if err != nil {
			http.NotFound(w, r)
			return
		}
		defer f.Close()
		http.ServeContent(w, r, "", p.OpenedAt, f)
		return
	}
	photos, err := s.config.Store.PollPhotos(r.Context(), p.ID)
	if err != nil {
		s.broken(w, r, err)
		return
	}
	img, err := photoOf(r.Context(), s.config.Store, photos, items[n])
	if err != nil {
		s.broken(w, r, err)
		return
	}
	data, err := encoded(cropOf(img, items[n]))
	if err != nil {
		s.broken(w, r, err)
		return
	}
	_, _ = w.Write(data)
}

// pollOpen makes the crops, brings them to one light, and opens the poll.
func (s *Server) pollOpen(w http.ResponseWriter, r *http.Request) {
	p, ok := s.pollAt(w, r)
	if !ok || !s.sent(w, r) {
		return
	}
	err := OpenPoll(r.Context(), s.config.Store, p, r.PostForm.Get("light") != "as-is")
	s.afterPoll(w, r, p, err, "")
}

// OpenPoll makes the crops of a poll that is being prepared, brings them to one light
// if asked to, and opens it.
func OpenPoll(ctx context.Context, st *store.Store, p store.Poll, oneLight bool) error {
	items, err := st.PollItems(ctx, p.ID)
	if err != nil {
		return err
	}
	photos, err := st.PollPhotos(ctx, p.ID)
	if err != nil {
		return err
	}
	var crops []*image.RGBA
	for _, it := range items {
		img, err := photoOf(ctx, st, photos, it)
		if err != nil {
			return err
		}
		crops = append(crops, cropOf(img, it))
	}
	if oneLight && len(crops) > 0 {
		sameLight(crops)
	}
	var sums []string
	for _, c := range crops {
		data, err := encoded(c)
		if err != nil {
			return err
		}
		sum, _, err := st.Blobs().Put(ctx, bytes.NewReader(data))
		if err != nil {
			return err
		}
		sums = append(sums, sum)
	}
	_, err = st.OpenPoll(ctx, p.ID, sums)
	return err
}

// pollClose ends the voting.
func (s *Server) pollClose(w http.ResponseWriter, r *http.Request) {
	p, ok := s.pollAt(w, r)
	if !ok || !s.sent(w, r) {
		return
	}
	_, err := s.config.Store.ClosePoll(r.Context(), p.ID)
	s.afterPoll(w, r, p, err, "")
}
