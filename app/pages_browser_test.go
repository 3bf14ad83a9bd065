package app_test

import (
	"encoding/json"
	"fmt"
	"html"
	"io"
	"net/http"
	"net/url"
	"os"
	"regexp"
	"strings"
	"sync"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"
)

// states are pages that no link leads to: faults beside their fields, what is not there.
var states = []string{
	"/sheet?callout=M20x1.5-9z&lathe=metric-geared&material=C45&length=30mm",
	"/threads?callout=M10",
	"/threads?diameter=wide&pitch=13tpi",
	"/threads?diameter=9.9mm&pitch=1.5mm",
	"/wires?callout=1/2-13+UNC-2A&measured=.530&wire=.045&lathe=inch-bench&part-temperature=95F&made-of=carbon+steel",
	"/compare?a=" + "callout%3D1%2F2-13%2BUNC-2A%26lathe%3Dinch-bench%26material%3D1018%26length%3D1in" +
		"&b=callout%3D1%2F2-13%2BUNC-2A%26lathe%3Dinch-bench%26material%3D1018%26length%3D1in%26rpm%3D115",
	"/trials/gauge?readings=ann,1,8%0Aann,1,8.1%0Aann,2,7%0Aann,2,7.2%0Abob,1,8%0Abob,1,8.3%0Abob,2,7%0Abob,2,7.1",
	"/trials/gauge?readings=bar+1,8%0Abar+1,eight",
	"/compare/finish?a=" + "callout%3D1%2F2-13%2BUNC-2A%26lathe%3Dinch-bench%26material%3D1018%26length%3D1in%26stickout%3D4in" +
		"&b=callout%3D1%2F2-13%2BUNC-2A%26lathe%3Dinch-bench%26material%3D1018%26length%3D1in%26stickout%3D4in%26centre%3Dyes",
	"/trials/several?factors=speed,centre,oil,last&words=D=ABC",
	"/trials/several?treatments=dry,oil,paste",
	"/trials/gauge",
	"/pair",
	"/nowhere",
}

var (
	link    = regexp.MustCompile(`<a [^>]*href="(/[^"]*)"`)
	address = regexp.MustCompile(`^/[a-z]*`)
	ofTrial = regexp.MustCompile(`^/trials/(?:(new)$|[^/]*/([a-z]*)$)`)
	file    = regexp.MustCompile(`\.(pdf|svg|json|txt|csv|toml|png|cer|zip)(\?|$)|^/export$`)
)

// links lists where the links of a page lead on this server.
func links(body string) []string {
	var out []string
	for _, m := range link.FindAllStringSubmatch(body, -1) {
		to, _, _ := strings.Cut(html.UnescapeString(m[1]), "#")
		out = append(out, to)
	}
	return out
}

// crawl follows the links from the start and keeps one page of each kind: the
// first of its path, told apart by having a name below it or a query.
func crawl(base string) (found, broken []string, err error) {
	seen := map[string]bool{"/": true}
	found = []string{"/"}
	for i := 0; i < len(found); i++ {
		r, err := http.Get(base + found[i])
		if err != nil {
			return nil, nil, err
		}
		body, err := io.ReadAll(r.Body)
		_ = r.Body.Close()
		if err != nil {
			return nil, nil, err
		}
		if r.StatusCode != http.StatusOK {
			broken = append(broken, fmt.Sprintf("a link leads to %s: %s", found[i], r.Status))
		}
		for _, to := range links(string(body)) {
			u, err := url.Parse(to)
			if err != nil || file.MatchString(to) {
				continue
			}
			kind := fmt.Sprint(address.FindString(u.Path), ofTrial.FindStringSubmatch(u.Path), strings.Count(u.Path, "/"), u.RawQuery != "")
			if !seen[kind] {
				seen[kind] = true
				found = append(found, to)
			}
		}
	}
	return found, broken, nil
}

var crawled = sync.OnceValues(func() ([]string, error) {
	b, err := started()
	if err != nil {
		return nil, err
	}
	found, _, err := crawl(b.url)
	return append(append(found, states...), ofPolls...), err
})

// pages lists one page of each kind.
func pages(t *testing.T) []string {
	t.Helper()
	running(t)
	all, err := crawled()
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// Every link leads to a page, and those at the start to what they promise.
func TestLinks(t *testing.T) {
	b := running(t)
	found, broken, err := crawl(b.url)
	if err != nil {
		t.Fatal(err)
	}
	for _, b := range broken {
		t.Error(b)
	}
	for _, to := range links(get(t, b.url+"/")) {
		if !strings.HasPrefix(to, "/sheet?") {
			continue
		}
		body := get(t, b.url+to)
		if !strings.Contains(body, "data-v=") {
			t.Errorf("%s, offered at the start, opens a sheet without figures", to)
		}
		if strings.Contains(body, "(not known)") {
			t.Errorf("%s, offered at the start, names something that the sheet's lists do not know", to)
		}
	}
	if len(found) < 8 {
		t.Errorf("links lead to %d kinds of page only: %q", len(found), found)
	}
}

func get(t *testing.T, address string) string {
	t.Helper()
	r, err := http.Get(address)
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	body, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(body)
}

// At 320 px, a desktop page enlarged four times, nothing is cut off or must be
// scrolled sideways (WCAG 2.2, 1.4.10); tables scroll within themselves, and at the
// width of a phone not even they need to.
func TestReflow(t *testing.T) {
	p := open(t, 320, 700)
	check := func(address string) {
		t.Helper()
		if w := eval[int](p, `document.scrollingElement.scrollWidth`); w > 320 {
			wide := eval[[]string](p, `[...document.querySelectorAll("body *")].filter(e => e.getBoundingClientRect().right > 321 && !e.closest(".scroll")).slice(0, 4).map(e => e.outerHTML.slice(0, 100))`)
			t.Errorf("%s is %d px wide: %q", address, w, wide)
		}
	}
	for _, address := range pages(t) {
		p.size(320, 700)
		p.visit(address)
		check(address)
		p.size(360, 700)
		if wide := eval[[]string](p, `[...document.querySelectorAll(".scroll")].filter(e => e.scrollWidth > e.clientWidth + 1).map(e => e.getAttribute("aria-label"))`); len(wide) > 0 {
			t.Errorf("%s: tables wider than a phone: %q", address, wide)
		}
	}
	p.size(320, 700)
	p.visit(example)
	p.change("f-infeed", "straight")
	check("a changed sheet")
}

// Options of a run: the rules that are on by default and the one on the size of
// targets, which WCAG 2.2 added; and those on which colour or width can bear.
const (
	every   = `rules: {"target-size": {enabled: true}}`
	byLooks = `runOnly: {type: "rule", values: ["color-contrast", "link-in-text-block", "target-size"]}`
)

// violation is what a rule found.
type violation struct {
	ID, Help string
	Nodes    []string
}

// The accessibility rules find nothing: all of them on a wide page in light, and those
// on colour and size, which alone can differ, on a narrow one in dark.
func TestAccessible(t *testing.T) {
	rules, err := os.ReadFile("../node_modules/axe-core/axe.min.js")
	if err != nil {
		err = fmt.Errorf("no accessibility rules (npm ci installs them): %w", err)
	}
	need(t, err)
	p := open(t, 1440, 900)
	// The page's own policy lets no foreign script in; the rules are one.
	if _, err := chromedp.Call(p.ctx, page.SetBypassCSP, page.SetBypassCSPParams{Enabled: true}); err != nil {
		t.Fatal(err)
	}
	for _, address := range pages(t) {
		p.size(1440, 900)
		p.looks("light", "")
		p.visit(address)
		eval[chromedp.Void](p, `document.querySelectorAll("details").forEach(d => d.open = true)`)
		eval[chromedp.Void](p, string(rules)+";undefined")
		p.obeys("light", address, every)
		p.size(360, 800)
		p.looks("dark", "")
		p.obeys("dark", address, byLooks)
	}
	// What changed, as it is marked and listed, is read under the same rules.
	p.looks("light", "")
	p.visit(example)
	p.change("f-infeed", "straight")
	eval[chromedp.Void](p, string(rules)+";undefined")
	p.obeys("light", "a changed sheet", every)
	p.looks("dark", "")
	p.obeys("dark", "a changed sheet", byLooks)
}

// obeys runs the rules that are loaded into the page.
func (p *tab) obeys(scheme, address, which string) {
	p.Helper()
	answer := run(p, chromedp.Evaluate[string](`axe.run(document, {resultTypes: ["violations"], `+which+`}).then(r => JSON.stringify({
		Ran: r.passes.length + r.violations.length,
		Found: r.violations.map(v => ({ID: v.id, Help: v.help, Nodes: v.nodes.slice(0, 3).map(n => n.html.slice(0, 140) + " | " + n.failureSummary)}))}))`, chromedp.EvalAwaitPromise))
	var result struct {
		Ran   int
		Found []violation
	}
	if err := json.Unmarshal([]byte(answer), &result); err != nil {
		p.Fatal(err)
	}
	if result.Ran == 0 {
		p.Errorf("%s %s: no rule ran", scheme, address)
	}
	for _, v := range result.Found {
		p.Errorf("%s %s: %s (%s)\n  %s", scheme, address, v.Help, v.ID, strings.Join(v.Nodes, "\n  "))
	}
}
