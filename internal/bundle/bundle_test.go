package main

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
)

// The built files are those of the sources as they are.
func TestBuiltIsCurrent(t *testing.T) {
	files, err := bundle("../../web/client")
	if err != nil {
		t.Fatal(err)
	}
	for name, want := range files {
		got, err := os.ReadFile(filepath.Join("../../web/built", name))
		if err != nil || !bytes.Equal(got, want) {
			t.Errorf("web/built/%s is not what web/client makes now (%v): run go generate ./web", name, err)
		}
	}
	kept, err := os.ReadDir("../../web/built")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range kept {
		if files[f.Name()] == nil {
			t.Errorf("web/built/%s is made from nothing: delete it", f.Name())
		}
	}
}
