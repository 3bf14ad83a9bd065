package web

import (
	"bytes"
	"crypto/rand"
	"encoding/base64"
	"fmt"
	"image/jpeg"
	"io"
	"net/http"
	"net/url"
	"sync"
	"time"

	"thrum/photo"
	"thrum/plan"
	"thrum/render"
	"thrum/unit"
)

// Photographs lie in a tray in memory while they are looked at. Nothing is written
// to the disk unless the reader keeps it with a part.
const (
	trayTime   = 40 * time.Minute // after the last look
	trayBytes  = 256 << 20        // of all photographs together
	shownSide  = 1600             // pixels of the longer side, as shown
	mostShots  = 6                // photographs of one sample
	mostSample = 80 << 20         // bytes of one request
)

// flankShot is one photograph in the tray.
type flankShot struct {
	name    string
	file    []byte // as it was sent
	shown   []byte // reduced, upright, without anything but the picture
	meta    photo.Meta
	after   bool
	reading *photo.Reading
}

// flankSet is what was sent with one form, and what was read in it.
type flankSet struct {
	ask   url.Values // the form, to be shown again
	of    plan.FlankRequest
	feed  photo.Side
	oneGo bool

	afterSpeed unit.Rotation // of the second sample; 0: that of the first

	shots  []*flankShot
	seen   time.Time
	weight int
}

// flankTray is safe for use by many requests. A set is never changed in place, except
// for the readings, which are replaced under the lock.
type flankTray struct {
	mu   sync.Mutex
	sets map[string]*flankSet
}

// put lays a set down and returns its name, which cannot be guessed.
func (t *flankTray) put(f *flankSet, now time.Time) string {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.sets == nil {
		t.sets = map[string]*flankSet{}
	}
	for _, s := range f.shots {
		f.weight += len(s.file) + len(s.shown)
	}
	total := f.weight
	for id, s := range t.sets {
		if now.Sub(s.seen) > trayTime {
			delete(t.sets, id)
			continue
		}
		total += s.weight
	}
	for total > trayBytes && len(t.sets) > 0 {
		oldest := ""
		for id, s := range t.sets {
			if oldest == "" || s.seen.Before(t.sets[oldest].seen) {
				oldest = id
			}
		}
		total -= t.sets[oldest].weight
		delete(t.sets, oldest)
	}
	var b [16]byte
	_, _ = rand.Read(b[:])
	id := base64.RawURLEncoding.EncodeToString(b[:])
	f.seen = now
	t.sets[id] = f
	return id
}

// get returns a set, and keeps it a while longer.
func (t *flankTray) get(id string, now time.Time) *flankSet {
	t.mu.Lock()
	defer t.mu.Unlock()
	f := t.sets[id]
	if f == nil || now.Sub(f.seen) > trayTime {
		delete(t.sets, id)
		return nil
	}
	f.seen = now
	return f
}

// read gives the reading of a shot, and reread puts a new one in its place.
func (t *flankTray) read(s *flankShot) *photo.Reading {
	t.mu.Lock()
	defer t.mu.Unlock()
	return s.reading
}

func (t *flankTray) reread(s *flankShot, r *photo.Reading) {
	t.mu.Lock()
	defer t.mu.Unlock()
	s.reading = r
}

// flankShots decodes and reads what was chosen in a field of the form.
func flankShots(r *http.Request, field string, th photo.Thread, o photo.Options) ([]*flankShot, error) {
	heads := r.MultipartForm.File[field]
	if len(heads) > mostShots {
		return nil, &unit.InputError{Field: field, Value: fmt.Sprint(len(heads)), Reason: "photos are too many", Hint: fmt.Sprintf("choose at most %d", mostShots)}
	}
	var out []*flankShot
	for _, h := range heads {
		if h.Size == 0 && h.Filename == "" {
			continue
		}
		in, err := h.Open()
		if err != nil {
			return nil, err
		}
		s, err := flankShotOf(cleanName(h.Filename), field, in, th, o)
		in.Close()
		if err != nil {
			return nil, err
		}
		out = append(out, s)
	}
	return out, nil
}

// flankShotOf reads one photograph that came with a field of the form, or for one.
func flankShotOf(name, field string, in io.Reader, th photo.Thread, o photo.Options) (*flankShot, error) {
	s := &flankShot{name: name, after: field == "after"}
	var b bytes.Buffer
	if _, err := b.ReadFrom(in); err != nil {
		return nil, err
	}
	s.file = b.Bytes()
	if err := s.measure(th, o); err != nil {
		return nil, notPhoto(field, s.name, err)
	}
	return s, nil
}

// measure decodes the photograph, reads it and makes the picture that is shown.
func (s *flankShot) measure(th photo.Thread, o photo.Options) error {
	img, meta, err := photo.Decode(bytes.NewReader(s.file), photo.Limits{})
	if err != nil {
		return err
	}
	s.meta = meta
	p, err := photo.NewPicture(img)
	if err != nil {
		return err
	}
	if s.reading, err = photo.Measure(p, th, o); err != nil {
		return err
	}
	small, _ := render.Reduced(img, shownSide)
	var b bytes.Buffer
	err = jpeg.Encode(&b, small, &jpeg.Options{Quality: 82})
	s.shown = b.Bytes()
	return err
}

// confirmed reads the photograph anew with an outline that a person has set.
func (s *flankShot) confirmed(th photo.Thread, m photo.Marks, old *photo.Reading, o photo.Options) (*photo.Reading, error) {
	img, _, err := photo.Decode(bytes.NewReader(s.file), photo.Limits{})
	if err != nil {
		return nil, err
	}
	p, err := photo.NewPicture(img)
	if err != nil {
		return nil, err
	}
	g, err := photo.FromMarks(p, th, m, old.Geometry)
	if err != nil {
		return nil, err
	}
	return photo.Read(p, th, g, o)
}
