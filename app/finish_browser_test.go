package app_test

import (
	"testing"

	"github.com/chromedp/chromedp"
)

// What vibrates comes into the sheet when the reader gets there, and again for a
// changed choice; the comparison does the same.
func TestFinishComesLater(t *testing.T) {
	p := open(t, 1000, 900)
	p.visit(example)
	if eval[bool](p, `!!document.querySelector("bench-later [data-finish]")`) {
		t.Error("what vibrates is worked out before anybody looks")
	}
	there := `(async () => {
		document.querySelector("#finish").scrollIntoView();
		for (let i = 0; i < 200 && !document.querySelector("bench-later [data-finish] svg"); i++) await new Promise(r => setTimeout(r, 50));
		return document.querySelector("bench-later")?.textContent ?? "";
	})()`
	first := await[string](p, there)
	if len(first) < 500 {
		t.Fatalf("the sheet shows %q", first)
	}
	p.change("f-infeed", "straight")
	if again := await[string](p, there); len(again) < 500 || again == first {
		t.Errorf("after another infeed the sheet shows %q", again)
	}
}

// await runs a script and waits for what it promises.
func await[T any](p *tab, script string) T {
	p.Helper()
	return run(p, chromedp.Evaluate[T](script, chromedp.EvalAwaitPromise))
}
