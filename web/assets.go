package web

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"net/http"
	"path"
	"strings"
	"time"
)

//go:generate go run ../internal/bundle client built

//go:embed built
var built embed.FS

// assets are the bundled script and style, each under a name made from its content,
// so that a browser may keep it for ever.
type assets struct {
	script, style string // addresses
	recorder      string // runs on the audio thread
	boothScript   string // those of the pages where people vote
	boothStyle    string
	offline       []byte // runs beside the pages of pieces, at an address of its own
	content       map[string][]byte
}

func newAssets() (*assets, error) {
	a := &assets{content: map[string][]byte{}}
	for _, e := range []struct {
		file string
		to   *string
	}{{"bench.js", &a.script}, {"bench.css", &a.style}, {"recorder.js", &a.recorder}, {"booth.js", &a.boothScript}, {"booth.css", &a.boothStyle}} {
		data, err := built.ReadFile("built/" + e.file)
		if err != nil {
			return nil, err
		}
		sum := sha256.Sum256(data)
		ext := path.Ext(e.file)
		name := strings.TrimSuffix(e.file, ext) + "-" + hex.EncodeToString(sum[:6]) + ext
		a.content[name] = data
		*e.to = "/assets/" + name
	}
	var err error
	a.offline, err = built.ReadFile("built/offline.js")
	return a, err
}

func (a *assets) serve(w http.ResponseWriter, r *http.Request) {
	data, ok := a.content[r.PathValue("name")]
	if !ok {
		http.NotFound(w, r)
		return
	}
	w.Header().Set("Cache-Control", "public, max-age=31536000, immutable")
	http.ServeContent(w, r, r.PathValue("name"), time.Time{}, bytes.NewReader(data))
}
