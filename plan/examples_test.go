package plan

import (
	"os"
	"path/filepath"
	"testing"
)

// exampleLathe reads one of the invented lathes.
func exampleLathe(tb testing.TB, name string) string {
	tb.Helper()
	b, err := os.ReadFile(filepath.Join("..", "examples", "lathes", name+".toml"))
	if err != nil {
		tb.Fatal(err)
	}
	return string(b)
}
