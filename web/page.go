package web

import (
	"bytes"
	"embed"
	"fmt"
	"html/template"
	"io/fs"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"
)

//go:embed page/*.html
var pageFiles embed.FS

// frame is what every page has.
type frame struct {
	Title    string
	Here     string // the page's own address, to come back to
	Menu     string // the entry of the menu that is marked
	Theme    string // one of themes, or "" for the reader's setting
	Script   string
	Style    string
	Recorder string
	Version  string
	Keeps    bool // there is a store
}

func (s *Server) frame(r *http.Request, title, menu string) frame {
	return frame{
		Title: title, Here: r.URL.RequestURI(), Menu: menu, Theme: themeOf(r),
		Script: s.assets.script, Style: s.assets.style, Recorder: s.assets.recorder, Version: s.config.Version, Keeps: s.config.Store != nil,
	}
}

// parsePages reads each page together with the parts that all share. A page that
// cannot be read is found when the program starts, not when it is asked for.
func parsePages(a *assets) (map[string]*template.Template, error) {
	funcs := template.FuncMap{
		"join": strings.Join,
		"date": func(t time.Time) string { return t.Local().Format("2 Jan 2006 15:04") },
		"path": url.PathEscape,
		"inc":  func(i int) int { return i + 1 },
	}
	shared, err := template.New("").Funcs(funcs).ParseFS(pageFiles, "page/frame.html", "page/parts.html")
	if err != nil {
		return nil, err
	}
	names, err := fs.Glob(pageFiles, "page/*.html")
	if err != nil {
		return nil, err
	}
	pages := map[string]*template.Template{}
	for _, n := range names {
		base := strings.TrimSuffix(strings.TrimPrefix(n, "page/"), ".html")
		if base == "frame" || base == "parts" {
			continue
		}
		t, err := template.Must(shared.Clone()).ParseFS(pageFiles, n)
		if err != nil {
			return nil, err
		}
		pages[base] = t
	}
	return pages, nil
}

// show sends a page; it is made whole before the first byte goes out.
func (s *Server) show(w http.ResponseWriter, r *http.Request, status int, page string, data any) {
	var b bytes.Buffer
	t, ok := s.pages[page]
	if !ok {
		panic("no page " + page)
	}
	if err := t.ExecuteTemplate(&b, "frame", data); err != nil {
		panic(fmt.Errorf("page %s: %w", page, err))
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(b.Bytes())
}

type failPage struct {
	frame
	Reason, Way string
}

// fail sends a page that says what is wrong and what to do.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, status int, reason, way string) {
	s.show(w, r, status, "fail", failPage{s.frame(r, reason, ""), reason, way})
}

func (s *Server) nothingHere(w http.ResponseWriter, r *http.Request) {
	s.fail(w, r, http.StatusNotFound, "There is no such page", "The menu above leads to every page.")
}

// broken tells the log what failed and the reader that something did.
func (s *Server) broken(w http.ResponseWriter, r *http.Request, err error) {
	s.log.Error("request failed", "path", r.URL.Path, "error", err)
	s.fail(w, r, http.StatusInternalServerError, "Something went wrong on this computer", "The log says more. Try again; if it stays, check that the disk is not full.")
}

const cookieYears = 2 * 365 * 24 * 3600

// themes are the looks that can be chosen: outdoor for a phone in the sun, contrast
// for eyes or screens that need all there is.
var themes = []string{"light", "dark", "outdoor", "contrast"}

func themeOf(r *http.Request) string {
	if c, err := r.Cookie("thrum-theme"); err == nil && slices.Contains(themes, c.Value) {
		return c.Value
	}
	return ""
}

// unitsOf is the system in which the reader last asked for figures: "mm", "in", or
// "" for the thread's own. It fills empty forms and never changes what an address
// means.
func unitsOf(r *http.Request) string {
	if c, err := r.Cookie("thrum-units"); err == nil && (c.Value == "mm" || c.Value == "in") {
		return c.Value
	}
	return ""
}

func remember(w http.ResponseWriter, name, value string) {
	age := cookieYears
	if value == "" {
		age = -1
	}
	http.SetCookie(w, &http.Cookie{Name: name, Value: value, Path: "/", MaxAge: age, HttpOnly: true, SameSite: http.SameSiteStrictMode})
}

// looksSet keeps the reader's choice of looks, and goes back.
func (s *Server) looksSet(w http.ResponseWriter, r *http.Request) {
	t := r.FormValue("theme")
	if !slices.Contains(themes, t) {
		t = ""
	}
	remember(w, "thrum-theme", t)
	http.Redirect(w, r, back(r.FormValue("back")), http.StatusSeeOther)
}

// back lets only addresses of this server through.
func back(to string) string {
	u, err := url.Parse(to)
	if err != nil || u.IsAbs() || u.Host != "" || !strings.HasPrefix(u.Path, "/") || strings.HasPrefix(to, "//") || strings.ContainsAny(to, "\\\r\n") {
		return "/"
	}
	return u.RequestURI()
}
