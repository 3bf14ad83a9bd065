package app_test

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

const example = "/sheet?callout=1%2F2-13+UNC-2A&lathe=inch-bench&length=1in&material=1018&stickout=2in"

// A newcomer picks the example lathe, changes speed and infeed and sees what
// follows, compares two set-ups and takes the paper away.
func TestMainPath(t *testing.T) {
	for _, width := range []int64{360, 1440} {
		t.Run(fmt.Sprint(width), func(t *testing.T) {
			p := open(t, width, 900)
			p.visit("/")
			p.write("f-callout", "1/2-13 UNC-2A")
			p.choose("f-lathe", "inch-bench")
			p.choose("f-material", "1018")
			p.write("f-length", "1in")
			p.write("f-stickout", "2in")
			p.click("form.part button.main")
			p.await(`location.pathname === "/sheet" && document.querySelectorAll("[data-v]").length > 20`)
			if h := p.text("h1"); !strings.Contains(h, "1/2-13 UNC-2A") {
				t.Errorf("the heading is %q", h)
			}

			before := p.figures()
			p.change("f-rpm", "115")
			after := p.figures()
			if !strings.Contains(strings.Join(slices.Collect(maps.Values(after)), "\n"), "115 rpm") {
				t.Error("115 rpm is nowhere on the sheet")
			}
			p.changed(before, after)
			before = after
			p.change("f-infeed", "straight")
			after = p.figures()
			p.changed(before, after)
			p.sameAfterReload(after)

			paper := eval[string](p, `[...document.querySelectorAll(".ways a")].find(a => new URL(a.href).pathname === "/sheet.pdf")?.href ?? ""`)
			p.paper(paper, "1/2-13 UNC-2A", "115")
			p.keep(fmt.Sprint("Screw ", width))
			p.compare()
		})
	}
}

// change picks a choice of the sheet and waits for the figures that follow.
func (p *tab) change(id, value string) {
	p.Helper()
	name := strings.TrimPrefix(id, "f-")
	p.choose(id, value)
	p.await(fmt.Sprintf(`new URLSearchParams(location.search).get(%q) === %q && !document.querySelector("[aria-busy]")`, name, value))
	if got := eval[string](p, fmt.Sprintf(`document.getElementById(%q).value`, id)); got != value {
		p.Errorf("%s shows %q after %q was chosen", id, got, value)
	}
}

// changed checks that a figure changed, that it is marked as such otherwise than
// by colour, listed, and said.
func (p *tab) changed(before, after map[string]string) {
	p.Helper()
	n := 0
	for key, now := range after {
		if was, ok := before[key]; ok && was != now {
			n++
		}
	}
	if n == 0 {
		p.Error("no figure changed")
	}
	if s := p.text("[data-said]"); !strings.Contains(s, "was") {
		p.Errorf("what changed is not said: %q", s)
	}
	if !eval[bool](p, `document.querySelector("[data-said]").getAttribute("aria-live") === "polite"`) {
		p.Error("what is said is not in a live region")
	}
	if eval[int](p, `[...document.querySelectorAll("[data-changes] li")].filter(e => e.checkVisibility()).length`) == 0 {
		p.Error("what changed is not listed")
	}
	if eval[int](p, `document.querySelectorAll("[data-v].new").length`) == 0 {
		p.Error("what changed is not marked")
	}
}

// sameAfterReload checks that the address is that of what is shown.
func (p *tab) sameAfterReload(shown map[string]string) {
	p.Helper()
	run(p, chromedp.Reload())
	fresh := p.figures()
	for key, v := range shown {
		if fresh[key] != v {
			p.Errorf("%s is %q, but %q when its address is opened", key, v, fresh[key])
		}
	}
	if len(fresh) != len(shown) {
		p.Errorf("%d figures are shown, %d when the address is opened", len(shown), len(fresh))
	}
}

// paper fetches a PDF as the page would, and reads it.
func (p *tab) paper(address string, want ...string) {
	p.Helper()
	data := run(p, chromedp.Evaluate[string](fmt.Sprintf(`fetch(%q).then(async r => {
		if (!r.ok || r.headers.get("Content-Type") !== "application/pdf") throw new Error(r.status + " " + r.headers.get("Content-Type"));
		return btoa(Array.from(new Uint8Array(await r.arrayBuffer()), c => String.fromCharCode(c)).join("")) })`, address), chromedp.EvalAwaitPromise))
	raw, err := base64.StdEncoding.DecodeString(data)
	if err != nil {
		p.Fatal(err)
	}
	p.reads(raw, want...)
}

var pageObject = regexp.MustCompile(`/Type\s*/Page\b`)

// reads checks that a PDF has a page and says what it should.
func (p *tab) reads(pdf []byte, want ...string) {
	p.Helper()
	if !bytes.HasPrefix(pdf, []byte("%PDF-")) || len(pageObject.FindAll(pdf, -1)) == 0 {
		p.Fatalf("no PDF with a page: %d bytes, %.20q", len(pdf), pdf)
	}
	if _, err := exec.LookPath("pdftotext"); err != nil {
		p.Log("pdftotext is absent: the text of the paper is not checked")
		return
	}
	file := p.TempDir() + "/paper.pdf"
	if err := os.WriteFile(file, pdf, 0o600); err != nil {
		p.Fatal(err)
	}
	text, err := exec.Command("pdftotext", "-layout", file, "-").Output()
	if err != nil {
		p.Fatal(err)
	}
	for _, w := range want {
		if !strings.Contains(string(text), w) {
			p.Errorf("%q is not on the paper", w)
		}
	}
}

// keep keeps the sheet as a part, finds it again, and comes back to it.
func (p *tab) keep(name string) {
	p.Helper()
	here := run(p, chromedp.Location())
	shown := p.figures()
	p.write("f-part-name", name)
	// What is worked out late moves the page when it comes; wait as a reader would.
	eval[chromedp.Void](p, `document.querySelector("bench-later")?.scrollIntoView()`)
	p.await(`!document.querySelector("bench-later > p.ways")`)
	p.click(".keep form[action='/parts'] button")
	if h := p.text("main"); !strings.Contains(h, name) {
		p.Errorf("the part that was kept is not shown: %.200s", h)
	}
	p.visit("/parts")
	if h := p.text("main"); !strings.Contains(h, name) {
		p.Errorf("the part that was kept is not listed: %.200s", h)
	}
	run(p, chromedp.Navigate(here))
	if !maps.Equal(shown, p.figures()) {
		p.Error("keeping the sheet changed it")
	}
}

// Light or dark is kept, with and without the device's wish.
func TestLooks(t *testing.T) {
	p := open(t, 1440, 900)
	p.looks("light", "")
	p.visit("/about")
	paper := `getComputedStyle(document.body).backgroundColor`
	light := eval[string](p, paper)
	run(p, chromedp.Click(chromedp.CSS(`.looks button[value="dark"]`), chromedp.NodeVisible))
	p.await(paper + fmt.Sprintf(" !== %q && document.querySelector('.looks button[value=dark]').getAttribute('aria-pressed') === 'true'", light))
	p.await(`performance.getEntriesByName(location.origin + "/looks").length > 0`)
	p.visit("/sheet")
	if eval[string](p, paper) == light {
		t.Error("dark is forgotten on the next page")
	}
}

// compare follows the sheet's link and sets another speed beside it.
func (p *tab) compare() {
	p.Helper()
	eval[chromedp.Void](p, `[...document.querySelectorAll(".ways a")].find(a => new URL(a.href).pathname === "/compare").id = "to-compare"`)
	p.click("#to-compare")
	p.await(`location.pathname === "/compare"`)
	if rpm, infeed := eval[string](p, `document.getElementById("f-rpm").value`), eval[string](p, `document.getElementById("f-infeed").value`); rpm != "115" || infeed != "straight" {
		p.Errorf("the set-up offered for comparison has %s rpm and infeed %q", rpm, infeed)
	}
	eval[chromedp.Void](p, `document.getElementById("f-rpm").value = "200"`)
	p.click("main form button.main")
	p.await(`new URLSearchParams(location.search).has("b")`)
	differ := p.text(`section[aria-labelledby="t-differ"]`)
	for _, w := range []string{"A:", "B:", "115 rpm", "200 rpm"} {
		if !strings.Contains(differ, w) {
			p.Errorf("%q does not stand among what differs: %.300s", w, differ)
		}
	}
}

// Everything works from the keyboard, and one sees where one is.
func TestKeyboardOnly(t *testing.T) {
	p := open(t, 1440, 900)
	p.looks("light", "") // and no smooth scrolling, which would be waited for at each stop
	p.visit("/sheet")
	p.press(kb.Tab)
	if h := eval[string](p, `document.activeElement.getAttribute("href")`); h != "#main" {
		t.Errorf("the first stop leads to %q, not past the menu", h)
	}
	p.focusSeen()
	p.press(kb.Enter)
	p.await(`location.hash === "#main"`)

	p.tabTo("f-callout")
	p.press("M20x1.5-6g")
	p.tabTo("f-lathe")
	p.pick("metric-g", "metric-geared")
	p.tabTo("f-material")
	p.pick("1045", "1045")
	p.tabTo("f-length")
	p.press("30mm" + kb.Enter)
	p.await(`document.querySelectorAll("[data-v]").length > 20 && new URLSearchParams(location.search).get("length") === "30mm"`)
	if got := eval[string](p, `location.search`); !strings.Contains(got, "lathe=metric-geared") || !strings.Contains(got, "material=1045") {
		t.Errorf("the address is %s", got)
	}
	before := p.figures()
	p.tabTo("f-infeed")
	p.pick("straight", "straight")
	p.await(`new URLSearchParams(location.search).get("infeed") === "straight"`)
	p.changed(before, p.figures())
	if id := eval[string](p, `document.activeElement.id`); id != "f-infeed" {
		t.Errorf("the focus went from f-infeed to %q when the figures came", id)
	}
	p.everyStop()
	p.larger()
}

// larger opens a drawing, closes it, and is back where it was.
func (p *tab) larger() {
	p.Helper()
	eval[chromedp.Void](p, `document.querySelector("bench-drawing button").focus()`)
	p.press(kb.Enter)
	p.await(`document.querySelector("dialog[open]")?.contains(document.activeElement)`)
	p.focusSeen()
	p.press(kb.Escape)
	p.await(`!document.querySelector("dialog") && document.activeElement.matches("bench-drawing button")`)
}

// pick types the beginning of an entry of the list that has the focus. A list forgets
// what was typed a second ago, so on a slow machine it is typed again.
func (p *tab) pick(keys, want string) {
	p.Helper()
	for range 5 {
		p.press(keys)
		if eval[string](p, `document.activeElement.value`) == want {
			return
		}
		time.Sleep(1200 * time.Millisecond)
	}
	p.Fatalf("%q does not lead to %s in the list", keys, want)
}

func (p *tab) press(keys string) {
	p.Helper()
	run(p, chromedp.KeyEvent(keys))
}

// tabTo goes on by Tab until an element has the focus.
func (p *tab) tabTo(id string) {
	p.Helper()
	for range 120 {
		p.press(kb.Tab)
		if eval[string](p, `document.activeElement.id`) == id {
			p.focusSeen()
			return
		}
	}
	p.Fatalf("Tab does not lead to %s", id)
}

// Visible focus (WCAG 2.2, 2.4.7) that is not wholly covered (2.4.11). The script
// returns what is wrong.
const focusScript = `(() => {
	const e = document.activeElement;
	if (!e || e === document.body) return "";
	const name = e.outerHTML.slice(0, 90), s = getComputedStyle(e), r = e.getBoundingClientRect();
	const seen = s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 1 || s.boxShadow !== "none";
	if (!seen) return "no visible focus on " + name;
	if (r.width === 0 || r.height === 0) return "";
	const x0 = Math.max(r.left, 0), x1 = Math.min(r.right, innerWidth), y0 = Math.max(r.top, 0), y1 = Math.min(r.bottom, innerHeight);
	if (x0 >= x1 || y0 >= y1) return "out of the window: " + name;
	for (const fx of [.05, .5, .95]) for (const fy of [.05, .5, .95]) {
		const at = document.elementFromPoint(x0 + fx * (x1 - x0), y0 + fy * (y1 - y0));
		if (at && (e.contains(at) || at.contains(e) && at.tagName === "LABEL")) return "";
	}
	return "covered: " + name;
})()`

// focusSeen gives the page a moment to scroll there.
func (p *tab) focusSeen() {
	p.Helper()
	wrong := ""
	for range 10 {
		if wrong = eval[string](p, focusScript); wrong == "" {
			return
		}
		time.Sleep(50 * time.Millisecond)
	}
	p.Error(wrong)
}

// everyStop walks the whole page once and checks that Tab reaches everything that
// can be operated.
func (p *tab) everyStop() {
	p.Helper()
	const all = `[...document.querySelectorAll("a[href], button, input:not([type=hidden]), select, textarea, summary, [tabindex='0']")].filter(e => e.checkVisibility() && !e.disabled && e.tabIndex >= 0)`
	eval[chromedp.Void](p, all+`.forEach((e, i) => e.dataset.stop = i); document.activeElement.blur(); scrollTo(0, 0)`)
	total := eval[int](p, all+".length")
	for range total + 2 {
		p.press(kb.Tab)
		p.focusSeen()
		eval[chromedp.Void](p, `document.activeElement.dataset.reached = "yes"`)
	}
	missed := eval[[]string](p, `[...document.querySelectorAll("[data-stop]:not([data-reached])")].map(e => e.outerHTML.slice(0, 120))`)
	for _, m := range missed {
		p.Error("Tab does not reach", m)
	}
}

// Without JavaScript the form is sent and its answer read.
func TestWithoutScript(t *testing.T) {
	p := open(t, 360, 800)
	if _, err := chromedp.Call(p.ctx, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true}); err != nil {
		t.Fatal(err)
	}
	p.visit("/")
	p.write("f-callout", "M20x1.5-6g")
	p.choose("f-lathe", "metric-geared")
	p.choose("f-material", "1045")
	p.write("f-length", "30mm")
	p.click("form.part button.main")
	if h := p.text("h1"); !strings.Contains(h, "M20") {
		t.Errorf("the heading is %q", h)
	}
	before := p.figures()
	if len(before) < 20 {
		t.Fatalf("%d figures are shown", len(before))
	}
	p.choose("f-infeed", "straight")
	p.click("#setup button.main")
	if a := run(p, chromedp.Location()); !strings.Contains(a, "infeed=straight") {
		t.Errorf("the address is %s", a)
	}
	if maps.Equal(before, p.figures()) {
		t.Error("no figure changed")
	}

	p.visit("/sheet?callout=M20x1.5-9z&lathe=metric-geared&material=C45&length=30mm")
	if v := eval[string](p, `document.getElementById("f-callout").value`); v != "M20x1.5-9z" {
		t.Errorf("what was typed became %q", v)
	}
	if p.text("#x-callout") == "" || !eval[bool](p, `document.getElementById("f-callout").getAttribute("aria-invalid") === "true"`) {
		t.Error("what is wrong does not stand beside its field")
	}
}

// Printed, the page is the sheet without its choices.
func TestPrint(t *testing.T) {
	p := open(t, 1440, 900)
	p.visit(example)
	p.reads(run(p, chromedp.PrintToPDF(chromedp.PDFPaper(chromedp.PaperA4))), "1/2-13 UNC-2A", "Passes")
	p.looks("dark", "print")
	if left := eval[[]string](p, `[...document.querySelectorAll("input, select, button, summary, nav")].filter(e => e.checkVisibility()).map(e => e.outerHTML.slice(0, 80))`); len(left) > 0 {
		t.Errorf("printed although paper cannot be pressed: %q", left)
	}
	if ink := eval[string](p, `getComputedStyle(document.body).backgroundColor`); ink != "rgb(255, 255, 255)" && ink != "rgba(0, 0, 0, 0)" {
		t.Errorf("a dark page prints on %s", ink)
	}
	if eval[int](p, `[...document.querySelectorAll("[data-v]")].filter(e => e.checkVisibility()).length`) < 20 {
		t.Error("the figures are not printed")
	}
}
