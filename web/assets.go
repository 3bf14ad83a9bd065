package web

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"net/http"
	"path"
	"strings"
	"time"

	"github.com/evanw/esbuild/pkg/api"
)

//go:embed client/*.ts client/*.css
var client embed.FS

// assets are the bundled script and style, each under a name made from its content,
// so that a browser may keep it for ever.
type assets struct {
	script, style string // addresses
	boothScript   string // those of the pages where people vote
	boothStyle    string
	offline       []byte // runs beside the pages of pieces, at an address of its own
	content       map[string][]byte
}

// bundle turns the sources in client into one script and one style sheet. It runs
// in this process when the server starts; nothing but Go is needed for it.
func bundle() (*assets, error) {
	a := &assets{content: map[string][]byte{}}
	for _, e := range []struct {
		entry, ext string
		to         *string
	}{{"bench.ts", ".js", &a.script}, {"bench.css", ".css", &a.style}, {"booth.ts", ".js", &a.boothScript}, {"booth.css", ".css", &a.boothStyle}} {
		out, err := build(e.entry)
		if err != nil {
			return nil, err
		}
		sum := sha256.Sum256(out)
		name := strings.TrimSuffix(e.entry, path.Ext(e.entry)) + "-" + hex.EncodeToString(sum[:6]) + e.ext
		a.content[name] = out
		*e.to = "/assets/" + name
	}
	var err error
	a.offline, err = build("offline.ts")
	return a, err
}

func build(entry string) ([]byte, error) {
	r := api.Build(api.BuildOptions{
		EntryPoints: []string{entry}, Bundle: true, Write: false, Format: api.FormatESModule, Target: api.ES2020,
		MinifySyntax: true, MinifyWhitespace: true, LegalComments: api.LegalCommentsNone,
		Plugins: []api.Plugin{{Name: "embedded", Setup: func(b api.PluginBuild) {
			b.OnResolve(api.OnResolveOptions{Filter: ".*"}, func(o api.OnResolveArgs) (api.OnResolveResult, error) {
				return api.OnResolveResult{Path: path.Clean(o.Path), Namespace: "client"}, nil
			})
			b.OnLoad(api.OnLoadOptions{Filter: ".*", Namespace: "client"}, func(o api.OnLoadArgs) (api.OnLoadResult, error) {
				text, err := fs.ReadFile(client, path.Join("client", o.Path))
				if err != nil {
					return api.OnLoadResult{}, err
				}
				s, loader := string(text), api.LoaderTS
				if strings.HasSuffix(o.Path, ".css") {
					loader = api.LoaderCSS
				}
				return api.OnLoadResult{Contents: &s, Loader: loader}, nil
			})
		}}},
	})
	if len(r.Errors) > 0 {
		return nil, fmt.Errorf("bundle %s: %s", entry, r.Errors[0].Text)
	}
	if len(r.OutputFiles) != 1 {
		return nil, errors.New("bundle " + entry + ": not one file")
	}
	return r.OutputFiles[0].Contents, nil
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
