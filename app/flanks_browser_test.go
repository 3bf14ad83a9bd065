package app_test

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
)

var bigMarks = regexp.MustCompile(`^(\d+) ± \d+`)

// marks reads the big figure of the page; the sample was drawn with 152.4 per turn.
func (p *tab) marks() {
	p.Helper()
	m := bigMarks.FindStringSubmatch(p.text(".flank-big"))
	if m == nil {
		p.Fatalf("no marks per turn: %q", p.text(".flank-big"))
	}
	if n, _ := strconv.Atoi(m[1]); n < 151 || n > 154 {
		p.Errorf("%d marks per turn, drawn with 152.4", n)
	}
}

// A photo is sent, the outline is looked at, put wrong and right again by finger,
// and the answer stands; the page obeys the rules of accessibility all the way.
func TestFlanksByFinger(t *testing.T) {
	photo, err := filepath.Abs(filepath.Join("..", "examples", "photos", "bar-a-1.jpg"))
	if err != nil {
		t.Fatal(err)
	}
	rules, err := os.ReadFile(filepath.Join("..", "node_modules", "axe-core", "axe.min.js"))
	if err != nil {
		t.Logf("the rules of accessibility are left out: %v", err)
	}
	p := open(t, 360, 800)
	p.visit("/flanks")
	p.write("f-callout", "M20x2.5")
	p.write("f-rpm", "200")
	run(p, chromedp.SetUploadFiles(chromedp.CSS("#f-before"), []string{photo}))
	p.click("form.takes button.main")
	p.await(`location.pathname.startsWith("/flanks/") && document.querySelector("flank-outline[data-script]")`)
	p.marks()
	if wide := eval[int](p, `document.documentElement.scrollWidth`); wide > 360 {
		t.Errorf("the page is %d pixels wide on 360", wide)
	}
	eval[chromedp.Void](p, `document.querySelector("flank-outline summary").click()`)
	p.await(`document.querySelector("flank-outline[data-open]")`)
	p.await(`[...document.querySelectorAll(".grip circle")].every(c => c.getBoundingClientRect().width >= 43)`) // as wide as a finger, once laid out
	if rules != nil {
		eval[chromedp.Void](p, string(rules)+";undefined")
		p.obeys("light", "the outline of flanks", `runOnly: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]`)
	}

	was := eval[string](p, `document.querySelector("input[name=uy1]").value`)
	p.drag("uy1", 40)
	if now := eval[string](p, `document.querySelector("input[name=uy1]").value`); now == was {
		t.Errorf("dragging left the field at %s", was)
	}
	p.drag("uy1", -40)
	var a, b float64
	now := eval[string](p, `document.querySelector("input[name=uy1]").value`)
	if _, err := fmt.Sscan(was+" "+now, &a, &b); err != nil || a-b > 6 || b-a > 6 {
		t.Errorf("dragged there and back, the field went from %s to %s", was, now)
	}
	p.click(".flank-form button.main")
	p.await(`document.querySelector("figcaption")?.textContent.includes("is confirmed")`)
	p.marks()
}

// drag moves the ring that writes into a field by dy pixels of the screen, with a
// finger: the browser makes the pointer's events itself, and would scroll the page
// and take the finger away if the ring did not hold it.
func (p *tab) drag(field string, dy float64) {
	p.Helper()
	at := eval[[]float64](p, fmt.Sprintf(`(() => {
		const g = document.querySelector('.grip[data-y="%s"]');
		g.scrollIntoView({block: "center", behavior: "instant"});
		const r = g.getBoundingClientRect();
		return [r.x + r.width / 2, r.y + r.height / 2];
	})()`, field))
	finger := func(kind input.DispatchTouchEventType, on ...*input.TouchPoint) {
		p.Helper()
		if _, err := chromedp.Call(p.ctx, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: kind, TouchPoints: append([]*input.TouchPoint{}, on...)}); err != nil {
			p.Fatal(err)
		}
	}
	finger(input.DispatchTouchEventTypeTouchStart, &input.TouchPoint{X: at[0], Y: at[1]})
	finger(input.DispatchTouchEventTypeTouchMove, &input.TouchPoint{X: at[0], Y: at[1] + dy/2})
	finger(input.DispatchTouchEventTypeTouchMove, &input.TouchPoint{X: at[0], Y: at[1] + dy})
	finger(input.DispatchTouchEventTypeTouchEnd)
}
