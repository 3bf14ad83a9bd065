package web

import (
	"archive/zip"
	"cmp"
	"context"
	"fmt"
	"html/template"
	"io"
	"net/http"
	"slices"
	"strings"
	"time"

	"thrum/store"
)

// Pages for a web host: every pair once, the sides drawn by lot, with a link to where
// votes are taken. Nothing in them names a sample.

var pairsPage = template.Must(template.New("pairs").Parse(`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="robots" content="noindex">
<title>{{.Asks}}</title>
<link rel="stylesheet" href="pairs.css">
</head>
<body>
<main>
<h1>{{.Asks}}</h1>
{{if .Vote}}<p>Look at each pair and trust your eye. <a href="{{.Vote}}">Vote here</a>: there the pairs come one by one, and each of your votes counts once.</p>{{else}}<p>Look at each pair and trust your eye. Say “left”, “right” or “no difference”, with the number of the pair.</p>{{end}}
<ol>
{{range .Pairs}}<li><h2>Pair {{.N}}</h2><div class="two"><img src="pictures/{{.Left}}" alt="pair {{.N}}, left" width="720" height="720" loading="lazy"><img src="pictures/{{.Right}}" alt="pair {{.N}}, right" width="720" height="720" loading="lazy"></div></li>
{{end}}</ol>
</main>
</body>
</html>
`))

const pairsStyle = `:root { color-scheme: light dark; }
body { margin: 0; font: 1.0625rem/1.5 system-ui, sans-serif; }
main { max-width: 64rem; margin: 0 auto; padding: 1rem; }
ol { list-style: none; margin: 0; padding: 0; }
h2 { font-size: 1.125rem; margin: 2rem 0 .5rem; }
.two { display: grid; grid-template-columns: 1fr 1fr; gap: .5rem; }
img { display: block; width: 100%; height: auto; background: #808080; }
`

type pairShown struct {
	N           int
	Left, Right string
}

// Pages writes pages and pictures of a poll, open or closed, as a zip file for any
// web host. vote is the address where votes are taken; empty when there is none.
func Pages(ctx context.Context, st *store.Store, p store.Poll, vote string, out io.Writer) error {
	items, err := st.PollItems(ctx, p.ID)
	if err != nil {
		return err
	}
	if p.OpenedAt.IsZero() {
		return &store.Error{Code: store.Conflict, Err: fmt.Errorf("the poll %q has not been opened: its pictures may still change", p.Name)}
	}
	z := zip.NewWriter(out)
	add := func(name string, write func(io.Writer) error) error {
		f, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate, Modified: time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)})
		if err != nil {
			return err
		}
		return write(f)
	}
	type file struct{ name, sum string }
	var files []file
	var pairs []pairShown
	for i := range items {
		for j := range i {
			a, b := slotName(p.Secret, i, j), slotName(p.Secret, j, i)
			files = append(files, file{a, items[i].SHA256}, file{b, items[j].SHA256})
			if hashWith([]byte(p.Secret), "side", a, b)[0]&1 == 1 {
				a, b = b, a
			}
			pairs = append(pairs, pairShown{Left: a, Right: b})
		}
	}
	// In an order that follows from the poll's secret, so that it says nothing of the
	// pictures' numbers.
	order := func(q pairShown) string { return string(hashWith([]byte(p.Secret), "order", q.Left, q.Right)) }
	slices.SortFunc(pairs, func(a, b pairShown) int { return cmp.Compare(order(a), order(b)) })
	slices.SortFunc(files, func(a, b file) int { return cmp.Compare(a.name, b.name) })
	for _, f := range files {
		if err := add("pictures/"+f.name, func(w io.Writer) error { return copyBlob(ctx, st, f.sum, w) }); err != nil {
			return err
		}
	}
	for n := range pairs {
		pairs[n].N = n + 1
	}
	err = add("index.html", func(w io.Writer) error {
		return pairsPage.Execute(w, struct {
			Asks, Vote string
			Pairs      []pairShown
		}{p.Asks, vote, pairs})
	})
	if err != nil {
		return err
	}
	if err := add("pairs.css", func(w io.Writer) error { _, err := io.WriteString(w, pairsStyle); return err }); err != nil {
		return err
	}
	return z.Close()
}

func copyBlob(ctx context.Context, st *store.Store, sum string, w io.Writer) error {
	f, err := st.Blobs().Open(ctx, sum)
	if err != nil {
		return err
	}
	defer f.Close()
	_, err = io.Copy(w, f)
	return err
}

// pollPages sends the pages for a web host.
func (s *Server) pollPages(w http.ResponseWriter, r *http.Request) {
	p, ok := s.pollAt(w, r)
	if !ok {
		return
	}
	if p.OpenedAt.IsZero() {
		s.fail(w, r, http.StatusConflict, "The poll has not been opened", "Its pictures may still change. Open it first.")
		return
	}
	vote := ""
	if p.Open() && s.config.PublicURL != "" {
		vote = s.config.PublicURL + "/polls/" + p.Public + "/vote"
	}
	w.Header().Set("Content-Type", "application/zip")
	w.Header().Set("Content-Disposition", `attachment; filename="pairs-`+strings.ToLower(p.Public[:8])+`.zip"`)
	if err := Pages(r.Context(), s.config.Store, p, vote, w); err != nil {
		s.log.Error("pages of a poll were not written whole", "error", err)
	}
}
