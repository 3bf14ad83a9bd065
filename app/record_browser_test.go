package app_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/security"
	"github.com/chromedp/chromedp"

	"thrum/sound"
)

// micTone is what the browser's stand-in for a microphone hears, in hertz.
const micTone = 1033.6

// microphone is a recording of one steady tone over a hiss, of a whole number of
// waves so that it may go round and round.
func microphone() []byte {
	const rate, seconds = 48000, 5 // 5168 waves
	r := rand.New(rand.NewPCG(1, 2))
	pcm := make([]int16, rate*seconds)
	for i := range pcm {
		pcm[i] = int16(6000*math.Sin(2*math.Pi*micTone*float64(i)/rate) + 300*r.NormFloat64())
	}
	var b bytes.Buffer
	b.WriteString("RIFF")
	for _, v := range []any{uint32(36 + 2*len(pcm)), []byte("WAVEfmt "), uint32(16), uint16(1), uint16(1), uint32(rate), uint32(2 * rate), uint16(2), uint16(16), []byte("data"), uint32(2 * len(pcm)), pcm} {
		_ = binary.Write(&b, binary.LittleEndian, v) // a buffer takes everything
	}
	return b.Bytes()
}

var heardTone = regexp.MustCompile(`([0-9]+\.[0-9]) Hz, free`)

// hears checks that a page tells of the microphone's tone.
func (p *tab) hears(where string) {
	p.Helper()
	text := p.text("main")
	for _, m := range heardTone.FindAllStringSubmatch(text, -1) {
		if f, _ := strconv.ParseFloat(m[1], 64); math.Abs(f-micTone) <= 0.5 {
			return
		}
	}
	p.Errorf("%s: no tone at %.1f Hz: %.1500s", where, micTone, text)
}

// record presses the button, lets it record so many seconds, and presses again.
func (p *tab) record(within string, seconds float64) {
	p.Helper()
	p.touch(within + " .rec-go")
	p.await(fmt.Sprintf(`document.querySelector(%q).textContent.startsWith("Stop")`, within+" .rec-go"))
	for at := 1; at <= int(seconds); at++ {
		p.await(fmt.Sprintf(`/^0:0[%d-9]/.test(document.querySelector(%q).textContent)`, at, within+" .rec-time"))
	}
	if at := eval[float64](p, fmt.Sprintf(`document.querySelector(%q).value`, within+" meter")); math.Abs(at+14.7) > 2 {
		p.Errorf("a tone 14.7 dB below full scale moves the meter to %.1f dB", at)
	}
	p.touch(within + " .rec-go")
	p.await(fmt.Sprintf(`document.querySelector(%q).textContent.startsWith("Record")`, within+" .rec-go"))
}

// A recording made in the page is heard right; while the bench is away it waits.
func TestRecordToListen(t *testing.T) {
	rules, err := os.ReadFile("../node_modules/axe-core/axe.min.js")
	need(t, err)
	p := open(t, 360, 740)
	if _, err := chromedp.Call(p.ctx, page.SetBypassCSP, page.SetBypassCSPParams{Enabled: true}); err != nil {
		t.Fatal(err)
	}
	p.visit("/listen")
	const field = `take-sound:has([name="cut"])`
	p.record(field, 3)
	p.await(fmt.Sprintf(`document.querySelector(%q).textContent.includes("s of sound")`, field+" [role=status]"))
	if s := p.text(field + " [role=status]"); strings.Contains(s, "Too") || !strings.Contains(s, "Kept on this device") {
		t.Errorf("after recording it says %q", s)
	}
	p.write("f-rpm", "200")
	p.offline(true)
	p.touch("form.takes button.main")
	p.await(`document.querySelector("form.takes button.main").textContent.startsWith("Waiting for the bench")`)

	// The page is closed and opened: the recording is still there.
	p.offline(false)
	p.visit("/listen")
	p.await(fmt.Sprintf(`document.querySelector(%q)?.textContent.includes("not sent yet")`, field+" .rec-kept"))
	p.touch(field + " .rec-kept button")
	p.await(fmt.Sprintf(`document.querySelector(%q).files.length === 1`, field+" input"))
	p.write("f-rpm", "200")
	p.offline(true)
	p.touch("form.takes button.main")
	p.await(`document.querySelector("form.takes button.main").textContent.startsWith("Waiting for the bench")`)
	p.offline(false)
	eval[chromedp.Void](p, `dispatchEvent(new Event("online"))`)
	p.await(`location.pathname.startsWith("/listen/")`)
	p.await(`document.querySelector("#cause")`)
	p.hears("the recording")
	p.looksAndListens()
	p.looks("light", "")
	eval[chromedp.Void](p, string(rules)+";undefined")
	p.obeys("", "what was heard", every)
	if w := eval[int](p, `document.scrollingElement.scrollWidth`); w > 360 {
		t.Errorf("what was heard is %d px wide", w)
	}
	p.visit("/listen")
	p.await(fmt.Sprintf(`/, sent/.test(document.querySelector(%q)?.textContent)`, field+" .rec-kept"))
	p.mu.Lock()
	p.said = nil // failed requests while the network was away are no faults of the page
	p.mu.Unlock()
}

// looksAndListens reads the picture of the tone by its sliders and by a finger, and
// plays the tone alone.
func (p *tab) looksAndListens() {
	p.Helper()
	p.await(`document.querySelector("sound-values[data-ready]")`)
	if s := p.text(".sv output"); !strings.Contains(s, "pass 1") || !strings.Contains(s, "on the tone at 1033.") || !strings.Contains(s, "310.1 waves a turn at 200.0 rpm (given)") {
		p.Errorf("at the strongest tone it says %q", s)
	}
	eval[chromedp.Void](p, `(() => { const f = document.querySelectorAll(".sv input")[1]; f.value = "900"; f.dispatchEvent(new Event("input")) })()`)
	if s := p.text(".sv output"); !strings.Contains(s, "2524 Hz") || !strings.Contains(s, "on no known line") { // 40 Hz to 4 kHz in a thousand equal factors
		p.Errorf("at nine tenths it says %q", s)
	}
	eval[chromedp.Void](p, `(() => { const b = document.querySelector("sound-values svg image").getBoundingClientRect();
		document.querySelector("sound-values svg").dispatchEvent(new PointerEvent("pointerdown", {clientX: b.left + b.width / 2, clientY: b.top + b.height / 2})) })()`)
	if s := p.text(".sv output"); !strings.Contains(s, "400 Hz") {
		p.Errorf("in the middle it says %q", s)
	}
	link := eval[string](p, `document.querySelector('a[data-play][href*="tone=1033"]').getAttribute("href")`)
	p.touch(fmt.Sprintf("a[data-play][href=%q]", link))
	p.await(`document.querySelector("pass-player audio").currentTime > 0`)
	r, err := http.Get(p.base + link)
	if err != nil {
		p.Fatal(err)
	}
	defer r.Body.Close()
	st, err := sound.Open(r.Body, sound.OpenOptions{})
	if err != nil {
		p.Fatal(err)
	}
	rec, err := sound.Load(st, sound.Pick{}, 0)
	if err != nil {
		p.Fatal(err)
	}
	n := 0
	for i := range rec.Samples[1:] {
		if rec.Samples[i] < 0 && rec.Samples[i+1] >= 0 {
			n++
		}
	}
	if f := float64(n) / rec.Duration().S(); math.Abs(f-micTone) > 2 {
		p.Errorf("played alone the tone swings %.1f times a second", f)
	}
}

// A phone paired over HTTPS records a pass: the sound hangs on that pass of that
// piece, arrives although the network was gone, and is listened to at its speed.
func TestRecordOverHTTPS(t *testing.T) {
	here, secure := lanSecure(t)
	p := open(t, 360, 740)
	bench := &tab{T: t, ctx: p.ctx, base: here}
	bench.visit("/devices")
	bench.click("form[action='/devices/code'] button")
	code := strings.ReplaceAll(bench.text(".dv-code b"), " ", "")

	q := open(t, 360, 740)
	q.base = secure
	if _, err := chromedp.Call(q.ctx, security.SetIgnoreCertificateErrors, security.SetIgnoreCertificateErrorsParams{Ignore: true}); err != nil {
		t.Fatal(err)
	}
	q.pair(code)
	q.begin()
	if !eval[bool](q, `isSecureContext && document.querySelector("[data-lacks]").hidden`) {
		t.Fatal("over HTTPS something is said to be lacking")
	}
	for range 4 {
		q.next()
	}
	if s := q.text("record-pass"); !strings.Contains(s, "Record from pass 1 on") || !strings.Contains(s, "out of the line of chips") {
		t.Errorf("before pass 1 it offers %q", s)
	}
	q.record("record-pass", 2)
	q.await(`document.querySelector("[data-files] li")`)
	if s := eval[string](q, `document.querySelector("[data-files]").textContent`); !strings.Contains(s, "recording: pass 1.wav, at 200 rpm") {
		t.Errorf("the piece keeps %q", s)
	}
	q.next()
	q.touch("record-pass .rec-go") // recording goes on from pass to pass
	q.await(`document.querySelector("record-pass .rec-go.on")`)
	q.next()
	q.await(`document.querySelector("record-pass .rec-time").textContent.startsWith("0:01")`)
	q.offline(true)
	q.touch("record-pass .rec-go")
	q.await(`document.querySelector("record-pass").textContent.includes("1 recording waits on this device")`)
	q.offline(false)
	eval[chromedp.Void](q, `dispatchEvent(new Event("online"))`)
	q.await(`document.querySelectorAll("[data-files] li").length === 2`)
	if s := eval[string](q, `document.querySelector("[data-files]").textContent`); !strings.Contains(s, "recording: pass 2.wav") {
		t.Errorf("the piece keeps %q", s)
	}
	q.visit(eval[string](q, `document.querySelector('[data-files] a[href^="/listen?kept"]').getAttribute("href")`))
	if s := eval[string](q, `document.getElementById("f-rpm").value`); s != "200" {
		t.Errorf("the recording is said to be made at %q rpm", s)
	}
	q.touch("form.takes button.main")
	q.await(`document.querySelector("#cause")`)
	q.hears("pass 1")
	q.mu.Lock()
	q.said = nil
	q.mu.Unlock()
}

// A microphone that is refused, missing or held by another program is told in words.
func TestRecordRefused(t *testing.T) {
	p := open(t, 360, 740)
	p.visit("/knock")
	for name, words := range map[string]string{"NotAllowedError": "refused", "NotFoundError": "No microphone", "NotReadableError": "Another program"} {
		eval[chromedp.Void](p, fmt.Sprintf(`navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException("", %q)); undefined`, name))
		p.touch("take-sound .rec-go")
		p.await(fmt.Sprintf(`document.querySelector("take-sound [role=status]").textContent.includes(%q)`, words))
	}
}

// A device without room lets the microphone go again and says so, and a recording that
// another window is still making is left to that window.
func TestRecordLeavesNothingBehind(t *testing.T) {
	p := open(t, 360, 740)
	p.visit("/knock")
	const button = "take-sound .rec-go"
	eval[chromedp.Void](p, `(() => { const s = IDBObjectStore.prototype, put = s.put; s.put = () => { throw new DOMException("", "QuotaExceededError") }; window.room = () => { s.put = put } })()`)
	p.touch(button)
	p.await(`document.querySelector("take-sound [role=status]").textContent.includes("no room left")`)
	eval[chromedp.Void](p, `room()`)
	p.touch(button)
	p.await(fmt.Sprintf(`document.querySelector(%q).textContent.startsWith("Stop")`, button))
	p.locks(1)
	p.touch(button)
	p.await(`document.querySelectorAll("take-sound [role=status]")[0].textContent.includes("s of sound")`)
	p.locks(0)

	const again = `document.querySelector("take-sound input").dispatchEvent(new Event("change"))`
	eval[chromedp.Void](p, `(() => {
		navigator.locks.request("another", () => new Promise(ok => { window.letGo = ok }));
		const r = indexedDB.open("thrum-sound", 1);
		r.onsuccess = () => { r.result.transaction("takes", "readwrite").objectStore("takes").put(
			{ id: "another", key: "/knock free", name: "recorded.wav", at: new Date().toISOString(), rate: 48000, frames: 48000, blocks: 1, done: false, peak: 0.1, clipped: false, levelled: false }).onsuccess = () => { window.stands = true } };
	})()`)
	const lines = `document.querySelectorAll("take-sound:has([name=free]) .rec-kept li").length`
	p.await(`window.stands && window.letGo`)
	eval[chromedp.Void](p, again)
	p.await(lines + ` === 1`) // that made here, no longer in the field
	eval[chromedp.Void](p, `letGo()`)
	p.locks(0)
	eval[chromedp.Void](p, again)
	p.await(lines + ` === 2`)
}

// locks waits until so many recordings are held.
func (p *tab) locks(n int) {
	p.Helper()
	eval[chromedp.Void](p, `window.locksHeld = -1; undefined`)
	p.await(fmt.Sprintf(`(navigator.locks.query().then(q => { window.locksHeld = q.held.length }), window.locksHeld === %d)`, n))
}

// The policy lets this bench's own pages hear, and nobody else's.
func TestMicrophonePolicy(t *testing.T) {
	r, err := http.Get(running(t).url + "/listen")
	if err != nil {
		t.Fatal(err)
	}
	defer r.Body.Close()
	if p := r.Header.Get("Permissions-Policy"); !strings.Contains(p, "microphone=(self)") {
		t.Errorf("the policy is %q", p)
	}
	if p := r.Header.Get("Content-Security-Policy"); !strings.Contains(p, "script-src 'self';") || strings.Contains(p, "worker-src") {
		t.Errorf("the audio thread's script may come from elsewhere: %q", p)
	}
}
