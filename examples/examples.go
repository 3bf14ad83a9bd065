// Package examples holds the invented lathes, parts and trials that come with the
// program. Nothing in it describes a real machine.
package examples

import (
	"embed"
	"path"
	"strings"
)

//go:embed lathes/*.toml trials/shop.csv trials/*.opus trials/*.jpg photos/bar-a-1.jpg photos/bar-a-2.jpg photos/bar-b-1.jpg
var files embed.FS

// Lathes lists the names of the example lathes.
func Lathes() []string {
	entries, err := files.ReadDir("lathes")
	if err != nil { // the folder is embedded
		panic(err)
	}
	var names []string
	for _, e := range entries {
		names = append(names, strings.TrimSuffix(e.Name(), ".toml"))
	}
	return names
}

// Lathe returns the text of an example lathe.
func Lathe(name string) (string, bool) {
	b, err := files.ReadFile(path.Join("lathes", path.Base(name)+".toml"))
	return string(b), err == nil
}
