package app_test

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"math/rand/v2"
	"net"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
	"github.com/evanw/esbuild/pkg/api"

	"thrum/app"
	"thrum/piece"
)

// lan runs a bench that lets paired phones in, and returns its address for this
// computer and for phones.
func lan(t *testing.T) (here, phones string) {
	t.Helper()
	return lanBy(t, "http")
}

// lanSecure is a bench like that and its address over HTTPS.
func lanSecure(t *testing.T) (here, phones string) {
	t.Helper()
	return lanBy(t, "https")
}

func lanBy(t *testing.T, scheme string) (here, phones string) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	a, err := app.New(ctx, app.Config{
		Data: t.TempDir(), Address: "127.0.0.1:0", Lan: true, Secure: ":0", Version: "test", Log: slog.New(slog.NewTextHandler(io.Discard, nil)),
	})
	if err != nil {
		cancel()
		t.Fatal(err)
	}
	ended := make(chan struct{})
	t.Cleanup(func() { cancel(); <-ended })
	err = a.LoadExamples(ctx)
	go func() { defer close(ended); _ = a.Run(ctx) }()
	if err != nil {
		t.Fatal(err)
	}
	for _, at := range a.Phones() {
		if u, err := url.Parse(at); err == nil && u.Scheme == scheme && net.ParseIP(u.Hostname()).To4() != nil {
			return a.URL(), at
		}
	}
	t.Skip("this computer has no network address")
	return "", ""
}

// pair pairs a phone by the code that the bench shows.
func (p *tab) pair(code string) {
	p.Helper()
	p.visit("/pair?code=" + code)
	p.click(".dv-pair button")
	p.await(`location.pathname === "/pieces"`)
}

// begin takes up a piece of the first part.
func (p *tab) begin() {
	p.Helper()
	p.visit("/parts")
	p.click(`.cards a[href^="/parts/"]`)
	p.click(".pc-begin button")
	p.await(`document.querySelector("bench-piece[data-ready]")`)
}

// offline takes the network away from a tab, and gives it back.
func (p *tab) offline(gone bool) {
	p.Helper()
	if _, err := chromedp.Call(p.ctx, network.OverrideNetworkState, network.OverrideNetworkStateParams{Offline: gone, DownloadThroughput: -1, UploadThroughput: -1}); err != nil {
		p.Fatal(err)
	}
	if _, err := chromedp.Call(p.ctx, network.EmulateNetworkConditionsByRule, network.EmulateNetworkConditionsByRuleParams{
		MatchedNetworkConditions: []*network.Conditions{{Offline: gone, DownloadThroughput: -1, UploadThroughput: -1}},
	}); err != nil {
		p.Fatal(err)
	}
}

// next confirms the step that is shown, as a thumb does.
func (p *tab) next() {
	p.Helper()
	before := eval[string](p, `document.querySelector("bench-piece").dataset.step`)
	eval[chromedp.Void](p, `document.querySelectorAll(".pc-step:not([hidden]) .pc-sure input").forEach(c => c.checked = true)`)
	p.touch(".pc-step:not([hidden]) [data-go]")
	p.await(fmt.Sprintf(`document.querySelector("bench-piece").dataset.step !== %q`, before))
	time.Sleep(320 * time.Millisecond) // quicker than a thumb is taken for a double touch
}

func (p *tab) step() string {
	p.Helper()
	return eval[string](p, `document.querySelector("bench-piece").dataset.step`)
}

// The job on a phone paired with the bench: gates, passes, the network gone and back,
// an undo, a measurement that changes what is left, a way back in.
func TestPhone(t *testing.T) {
	here, phones := lan(t)
	p := open(t, 360, 740)
	bench := &tab{T: t, ctx: p.ctx, base: here} // the bench computer's own window
	bench.visit("/devices")
	bench.click("form[action='/devices/code'] button")
	code := strings.ReplaceAll(bench.text(".dv-code b"), " ", "")
	if len(code) != 8 || eval[int](bench, `document.querySelectorAll("svg.dv-qr").length`) == 0 {
		t.Fatalf("the code is %q", code)
	}

	q := open(t, 360, 740)
	q.base = phones
	q.looks("light", "")
	q.visit("/parts")
	if h := q.text("h1"); !strings.Contains(h, "Pair this device") {
		t.Fatalf("an unpaired phone sees %q", h)
	}
	q.pair(code)
	q.begin()
	address := eval[string](q, `location.pathname`)
	if !strings.Contains(q.text("[data-lacks]"), "withholds") {
		t.Error("what a plain connection lacks is not said")
	}
	for range 4 {
		q.next()
	}
	if q.step() != "pass-1" || !strings.Contains(q.text(".pc-step:not([hidden])"), "CROSS to 0 direct dial COMPOUND to .005 in direct dial") {
		t.Fatalf("after the gates comes %s: %.300s", q.step(), q.text(".pc-step:not([hidden])"))
	}
	if size := eval[float64](q, `parseFloat(getComputedStyle(document.querySelector(".pc-step:not([hidden]) .pc-dials b")).fontSize)`); size < 52 {
		t.Errorf("the reading is set %g px high", size)
	}
	q.next()
	q.await(`document.querySelector("[data-state]").textContent === ""`)

	q.offline(true)
	for range 6 {
		q.next()
	}
	q.await(`document.querySelector("[data-state]").textContent.includes("6 entries wait")`)
	q.undo()
	if q.step() != "pass-7" {
		t.Errorf("after taking back pass 7 comes %s", q.step())
	}
	for range 4 {
		q.next()
	}
	q.measure(".5305")
	if s := q.text("[data-reading]"); !strings.Contains(s, "left on the COMPOUND: .010 in (direct dial)") {
		t.Errorf("without the network a reading says %q", s)
	}
	if !eval[bool](q, `document.querySelector("[data-waits]").checkVisibility()`) {
		t.Error("it is not said that a new plan waits for the bench")
	}
	q.offline(false)
	eval[chromedp.Void](q, `dispatchEvent(new Event("online"))`)
	q.await(`document.querySelector(".pc-step:not([hidden]) h1")?.textContent === "Pass 11 of 15"`)
	if eval[bool](q, `document.querySelector("[data-waits]").checkVisibility()`) {
		t.Error("the page still waits for the bench")
	}
	q.visit(address) // and the bench knows all of it
	q.await(`document.querySelector("bench-piece[data-ready]")`)
	if s := q.text("[data-reading]"); q.step() != "pass-11" || !strings.Contains(s, ".010 in") {
		t.Errorf("opened anew it shows %s, %q", q.step(), s)
	}

	// The space bar advances; a second one at once does not.
	eval[chromedp.Void](q, `document.activeElement.blur()`)
	q.press(" ")
	q.await(`document.querySelector("bench-piece").dataset.step === "pass-12"`)
	q.press(" ")
	time.Sleep(100 * time.Millisecond)
	if q.step() != "pass-12" {
		t.Errorf("a double press of the space bar leads to %s", q.step())
	}
	q.touch("[data-pause] button")
	q.await(`document.querySelector("bench-piece").dataset.view === "back"`)
	if s := q.text(`[data-face="back"]`); !strings.Contains(s, "has the compound already been moved?") || !strings.Contains(s, "COMPOUND at .053 in") || !strings.Contains(s, "COMPOUND at .055 in") {
		t.Errorf("the way back in says %s", s)
	}
	q.touch(`[data-face="back"] button[value="unsure"]`)
	q.await(`document.querySelector("bench-piece").dataset.view === "again"`)
	eval[chromedp.Void](q, `document.querySelectorAll("[data-face=again] .pc-sure input").forEach(c => c.checked = true)`)
	q.touch(`[data-face="again"] button.main`)
	q.await(`document.querySelector(".pc-step:not([hidden])")?.checkVisibility() && document.querySelector("bench-piece").dataset.view === "step"`)

	// The bench computer shuts the phone out.
	bench.visit("/devices")
	bench.click(".dv-list form[action$='/revoke'] button")
	q.visit("/parts")
	if h := q.text("h1"); !strings.Contains(h, "Pair this device") {
		t.Errorf("shut out, the phone sees %q", h)
	}
	q.mu.Lock()
	q.said = nil // failed requests while the network was away are no faults of the page
	q.mu.Unlock()
}

// touch presses what a selector finds; it must be there to be seen.
func (p *tab) touch(selector string) {
	p.Helper()
	if !eval[bool](p, fmt.Sprintf(`(() => { const e = document.querySelector(%q); if (!e?.checkVisibility()) return false; e.click(); return true })()`, selector)) {
		p.Fatalf("%s cannot be touched", selector)
	}
}

func (p *tab) undo() {
	p.Helper()
	before := p.step()
	p.touch("[data-undo] button")
	p.await(fmt.Sprintf(`document.querySelector("bench-piece").dataset.step !== %q`, before))
	time.Sleep(320 * time.Millisecond)
}

func (p *tab) measure(reading string) {
	p.Helper()
	eval[chromedp.Void](p, `document.querySelector("[data-measure]").open = true`)
	p.write("f-reading", reading)
	p.touch(".pc-measure button.main")
	p.await(`!document.querySelector("[data-reading]").hidden`)
}

// On the bench computer, and over HTTPS, the page opens again without the network.
func TestReloadOffline(t *testing.T) {
	p := open(t, 360, 740)
	p.looks("light", "")
	id, _ := beginPiece(t, p.base)
	p.visit("/pieces/" + id)
	p.await(`document.querySelector("bench-piece[data-ready]")`)
	p.await(`navigator.serviceWorker.controller || navigator.serviceWorker.ready`)
	eval[chromedp.Void](p, `navigator.serviceWorker.ready.then(() => true)`)
	p.visit("/pieces/" + id) // now it passes through what keeps it
	p.await(`document.querySelector("bench-piece[data-ready]")`)
	for range 2 {
		p.next()
	}
	p.await(`document.querySelector("[data-state]").textContent === ""`)
	// Two answers that the bench will hear of later.
	p.offline(true)
	p.next()
	run(p, chromedp.Reload())
	p.await(`document.querySelector("bench-piece[data-ready]")`)
	if p.step() != "scratch" {
		t.Errorf("opened without the network it shows %s", p.step())
	}
	p.offline(false)
	p.mu.Lock()
	p.said = nil
	p.mu.Unlock()
}

// The browser's reading of a log is the bench's, for the cases written down and for
// logs drawn at random.
func TestSameFold(t *testing.T) {
	built := api.Build(api.BuildOptions{EntryPoints: []string{"../web/client/piece_log.ts"}, Bundle: true, Format: api.FormatIIFE, GlobalName: "log", Target: api.ES2020})
	if len(built.Errors) > 0 {
		t.Fatal(built.Errors[0].Text)
	}
	p := open(t, 360, 740)
	if _, err := chromedp.Call(p.ctx, page.SetBypassCSP, page.SetBypassCSPParams{Enabled: true}); err != nil {
		t.Fatal(err)
	}
	p.visit("/about")
	eval[chromedp.Void](p, string(built.OutputFiles[0].Contents)+";window.log = log; undefined")
	text, err := os.ReadFile(filepath.Join("..", "piece", "testdata", "fold.json"))
	if err != nil {
		t.Fatal(err)
	}
	var written []struct{ Log []piece.Entry }
	if err := json.Unmarshal(text, &written); err != nil {
		t.Fatal(err)
	}
	var logs [][]piece.Entry
	for _, w := range written {
		logs = append(logs, w.Log)
	}
	r := rand.New(rand.NewPCG(3, 4))
	for range 400 {
		logs = append(logs, drawnLog(r))
	}
	in, err := json.Marshal(logs)
	if err != nil {
		t.Fatal(err)
	}
	answer := eval[string](p, fmt.Sprintf(`JSON.stringify(%s.map(l => { const s = log.fold(l ?? []); return [[...s.done].sort().join(), s.cut, s.last?.id ?? "", s.lastStep, s.paused, s.crossed, s.again, s.waiting?.id ?? "", s.reading?.id ?? "", s.fresh, s.refused, s.plans.map(e => e.id).join()].join("|") }))`, in))
	var theirs []string
	if err := json.Unmarshal([]byte(answer), &theirs); err != nil {
		t.Fatal(err)
	}
	for i, l := range logs {
		if ours := told(piece.Fold(l)); ours != theirs[i] {
			b, _ := json.Marshal(l)
			t.Errorf("log %d:\n here    %s\n browser %s\n %.900s", i, ours, theirs[i], b)
		}
	}
	ids := eval[[]string](p, `Array.from({length: 5000}, () => log.newID())`)
	form := regexp.MustCompile(`^[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$`)
	for i, id := range ids {
		if !form.MatchString(id) || i > 0 && id <= ids[i-1] {
			t.Fatalf("id %d is %s after %s", i, id, ids[max(i-1, 0)])
		}
	}
}

func told(s piece.Standing) string {
	var done []string
	for k := range s.Done {
		done = append(done, k)
	}
	var plans []string
	for _, e := range s.Plans {
		plans = append(plans, e.ID)
	}
	id := func(e *piece.Entry) string {
		if e == nil {
			return ""
		}
		return e.ID
	}
	return fmt.Sprint(sorted(done), "|", s.Cut, "|", id(s.Last), "|", s.LastStep, "|", s.Paused, "|", s.Crossed, "|", s.Again, "|", id(s.Waiting), "|", id(s.Reading), "|", s.Fresh, "|", s.Refused, "|", strings.Join(plans, ","))
}

func drawnLog(r *rand.Rand) []piece.Entry {
	kinds := []string{piece.Did, piece.Did, piece.Did, piece.Undid, piece.Measured, piece.Picked, piece.Checked, piece.Resumed, piece.Paused, piece.Noted, piece.Replaned}
	pick := func(of ...string) string { return of[r.IntN(len(of))] }
	log := []piece.Entry{}
	for i := range r.IntN(30) {
		e := piece.Entry{ID: fmt.Sprint("e", i), Kind: pick(kinds...), Plan: "p"}
		other := fmt.Sprint("e", r.IntN(i+2))
		switch e.Kind {
		case piece.Did:
			e.Body.Step = pick("zero", piece.PassID(1), piece.PassID(2), piece.PassID(3), piece.PassID(4), "pass-x", "pass-12345")
		case piece.Undid:
			e.Undoes = other
		case piece.Checked:
			e.Body.What, e.Body.Found = pick("tip", "slip", "count"), pick(piece.Good, piece.Bad)
		case piece.Resumed:
			e.Body.Found = pick("moved", "not-moved", piece.Unsure)
		case piece.Replaned:
			e.Body.Cause, e.Body.Refused = other, pick("", "", "too early")
		}
		log = append(log, e)
	}
	return log
}

// The rules of accessibility find nothing on any face of a piece, in any look.
func TestPieceAccessible(t *testing.T) {
	rules, err := os.ReadFile("../node_modules/axe-core/axe.min.js")
	if err != nil {
		err = fmt.Errorf("no accessibility rules (npm ci installs them): %w", err)
	}
	need(t, err)
	p := open(t, 360, 740)
	if _, err := chromedp.Call(p.ctx, page.SetBypassCSP, page.SetBypassCSPParams{Enabled: true}); err != nil {
		t.Fatal(err)
	}
	id, _ := beginPiece(t, p.base)
	p.looks("light", "")
	check := func(what, which string) {
		t.Helper()
		eval[chromedp.Void](p, `document.querySelectorAll("details").forEach(d => d.open = true)`)
		p.obeys("", what, which)
		if w := eval[int](p, `document.scrollingElement.scrollWidth`); w > 360 {
			t.Errorf("%s is %d px wide", what, w)
		}
		small := eval[[]string](p, `[...document.querySelectorAll("bench-piece :is(button, summary, input:not([type=hidden]):not([type=checkbox]))")].filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 44).map(e => e.outerHTML.slice(0, 80))`)
		for _, s := range small {
			t.Errorf("%s: lower than 44 px: %s", what, s)
		}
	}
	load := func(address string) {
		t.Helper()
		p.visit(address)
		p.await(`!document.querySelector("bench-piece") || document.querySelector("bench-piece[data-ready]")`)
		eval[chromedp.Void](p, string(rules)+";undefined")
	}
	load("/pieces/" + id)
	check("setup", every)
	for range 4 {
		p.next()
	}
	check("first pass", every)
	for _, look := range []string{"dark", "outdoor", "contrast"} {
		eval[chromedp.Void](p, fmt.Sprintf(`document.documentElement.dataset.theme = %q`, look))
		check("first pass "+look, byLooks)
	}
	eval[chromedp.Void](p, `delete document.documentElement.dataset.theme`)
	p.touch("[data-pause] button")
	p.await(`document.querySelector("bench-piece").dataset.view === "back"`)
	check("way back in", every)
	p.touch(`[data-face="back"] button[value="unsure"]`)
	p.await(`document.querySelector("bench-piece").dataset.view === "again"`)
	check("picking up", every)
	for _, address := range []string{"/pieces", "/pieces/" + id + "/log", "/devices", "/pair", "/lathes/inch-bench/air"} {
		load(address)
		check(address, every)
	}
}

// Without JavaScript a pass is confirmed by the form alone.
func TestPieceWithoutScript(t *testing.T) {
	b := running(t)
	id, _ := beginPiece(t, b.url)
	r, err := http.Get(b.url + "/pieces/" + id)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	if err != nil || !strings.Contains(string(text), `name="step" value="setup"`) {
		t.Fatalf("%v: %.300s", err, text)
	}
}

func sorted(words []string) string {
	slices.Sort(words)
	return strings.Join(words, ",")
}
