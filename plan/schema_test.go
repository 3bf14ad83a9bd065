package plan

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"testing"
)

var update = flag.Bool("update", false, "rewrite the golden plan of the current schema")

// A plan of every schema can still be read. The golden of the current schema is what
// Make writes today; those of earlier schemas never change.
func TestSchemas(t *testing.T) {
	var now bytes.Buffer
	if err := Encode(&now, mustMake(t, exampleRequest(t))); err != nil {
		t.Fatal(err)
	}
	current := filepath.Join("testdata", "schema1.json")
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(current, now.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	files, err := filepath.Glob(filepath.Join("testdata", "schema*.json"))
	if err != nil || len(files) != Schema {
		t.Fatalf("%d golden plans for %d schemas, %v", len(files), Schema, err)
	}
	for _, name := range files {
		data, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		p, err := Decode(bytes.NewReader(data))
		if err != nil || p.Schema != Schema || len(p.Passes) == 0 || p.Spec.Pitch.IsZero() {
			t.Errorf("%s: %v", name, err)
		}
	}
	golden, err := os.ReadFile(current)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(golden, now.Bytes()) {
		t.Errorf("the plan of the example has changed: raise Engine, and write %s anew (go test ./plan -update)", current)
	}
}
