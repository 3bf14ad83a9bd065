package lathe

import (
	"os"
	"path/filepath"
	"testing"
)

// example reads one of the lathes in examples/lathes.
func example(t testing.TB, name string) *Lathe {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "examples", "lathes", name))
	if err != nil {
		t.Fatal(err)
	}
	l, err := Parse(name, text)
	if err != nil {
		t.Fatal(err)
	}
	return l
}
