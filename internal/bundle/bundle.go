// Command bundle turns the scripts and styles of web/client into the few files that a
// browser is sent, in web/built. Run it by `go generate ./web` whenever web/client
// changes; a test fails when it was forgotten.
//
// The built files are kept with the sources so that the program itself carries no
// bundler: that is several megabytes of it, and time at every start.
package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/evanw/esbuild/pkg/api"
)

// entries are the files of web/client from which the others are reached.
var entries = []string{"bench.ts", "bench.css", "booth.ts", "booth.css", "offline.ts", "recorder.ts"}

func main() {
	if len(os.Args) != 3 {
		fmt.Fprintln(os.Stderr, "usage: bundle CLIENT BUILT")
		os.Exit(2)
	}
	if err := write(os.Args[1], os.Args[2]); err != nil {
		fmt.Fprintln(os.Stderr, "error:", err)
		os.Exit(1)
	}
}

func write(client, built string) error {
	files, err := bundle(client)
	if err != nil {
		return err
	}
	if err := os.MkdirAll(built, 0o755); err != nil {
		return err
	}
	for name, content := range files {
		if err := os.WriteFile(filepath.Join(built, name), content, 0o644); err != nil {
			return err
		}
	}
	return nil
}

// bundle returns the built files by name.
func bundle(client string) (map[string][]byte, error) {
	root, err := filepath.Abs(client)
	if err != nil {
		return nil, err
	}
	files := map[string][]byte{}
	for _, entry := range entries {
		r := api.Build(api.BuildOptions{
			EntryPoints: []string{entry}, AbsWorkingDir: root, Bundle: true, Write: false, Format: api.FormatESModule, Target: api.ES2020,
			MinifySyntax: true, MinifyWhitespace: true, LegalComments: api.LegalCommentsNone, TsconfigRaw: "{}",
		})
		if len(r.Errors) > 0 {
			return nil, fmt.Errorf("%s: %s", entry, r.Errors[0].Text)
		}
		name := strings.Replace(entry, ".ts", ".js", 1)
		files[name] = r.OutputFiles[0].Contents
	}
	return files, nil
}
