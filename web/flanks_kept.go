package web

import (
	"fmt"
	"net/http"
	"net/url"
	"slices"

	"thrum/photo"
	"thrum/store"
	"thrum/unit"
)

// keptPhoto is a photograph that is kept already and can be read without being sent.
type keptPhoto struct{ ID, Name string }

// flanksKept lists the kept photographs that the form asks for; those that are not
// there, or no photographs, are left out.
func (s *Server) flanksKept(r *http.Request, q url.Values) (out []keptPhoto) {
	if s.config.Store == nil {
		return nil
	}
	for _, id := range q["kept"][:min(len(q["kept"]), mostShots)] {
		f, content, err := s.config.Store.OpenFile(r.Context(), id)
		if err != nil {
			continue
		}
		content.Close()
		k := keptPhoto{f.ID, f.Name}
		if f.Kind == flankFile && !slices.Contains(out, k) {
			out = append(out, k)
		}
	}
	return out
}

// keptShots reads the photographs of the form that are kept already.
func (s *Server) keptShots(r *http.Request, q url.Values, th photo.Thread, o photo.Options) ([]*flankShot, error) {
	ids := slices.Compact(slices.Sorted(slices.Values(q["kept"])))
	if len(ids) > mostShots {
		return nil, &unit.InputError{Field: "before", Value: fmt.Sprint(len(ids)), Reason: "photos are too many", Hint: fmt.Sprintf("choose at most %d", mostShots)}
	}
	var out []*flankShot
	for _, id := range ids {
		if s.config.Store == nil {
			return nil, notKept(id)
		}
		f, content, err := s.config.Store.OpenFile(r.Context(), id)
		if code := store.CodeOf(err); code == store.NotFound || code == store.Invalid {
			return nil, notKept(id)
		}
		if err != nil {
			return nil, err
		}
		if f.Kind != flankFile {
			content.Close()
			return nil, &unit.InputError{Field: "before", Value: short(f.Name, 60), Reason: "is kept as a " + f.Kind + ", not as a photo", Hint: "choose a photo of the thread"}
		}
		shot, err := flankShotOf(f.Name, "before", content, th, o)
		content.Close()
		if err != nil {
			return nil, err
		}
		out = append(out, shot)
	}
	return out, nil
}

func notKept(id string) error {
	return &unit.InputError{Field: "before", Value: short(id, 40), Reason: "is not kept here", Hint: "choose the photo again"}
}
