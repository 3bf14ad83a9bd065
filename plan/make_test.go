package plan

import (
	"testing"

	"thrum/unit"
)

func BenchmarkMake(b *testing.B) {
	r := exampleRequest(b)
	for b.Loop() {
		if _, err := Make(r); err != nil {
			b.Fatal(err)
		}
	}
}

func exampleRequest(tb testing.TB) Request {
	tb.Helper()
	return Request{
		Callout: "1/2-13 UNC-2A", Units: unit.Inches, Lathe: exampleLathe(tb, "inch-bench"), Material: "1018", Length: unit.Inch, Stickout: 2 * unit.Inch,
	}
}
