package cut

import "testing"

// A form asks for every key that a file may have, and for the same ones by force.
func TestMaterialKeysAreThoseOfTheFile(t *testing.T) {
	asked := map[string]MaterialKey{}
	for _, k := range MaterialKeys() {
		asked[k.Name] = k
		if k.Label == "" || k.Words == "" {
			t.Errorf("%s has no words", k.Name)
		}
	}
	for _, k := range materialKeys {
		a, ok := asked[k.name]
		if !ok || a.Needed != k.required {
			t.Errorf("%s: asked for %v, needed %v, the file wants %v", k.name, ok, a.Needed, k.required)
		}
	}
	if len(asked) != len(materialKeys) {
		t.Errorf("%d keys are asked for, a file may have %d", len(asked), len(materialKeys))
	}
}
