package web

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"log/slog"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"thrum/store"
)

// Words that must never reach a visitor.
const (
	privateSample = "bar-seven-with-centre"
	privateOther  = "bar-eight-bare"
	privateName   = "does the centre help"
	privateArm    = "live centre at 40 N"
	privateExif   = "SECRET-CAMERA-4711"
	privatePart   = "spindle nut for the customer"
)

// testPhoto is a JPEG with stripes and with an Exif block that names a camera.
func testPhoto(t testing.TB, stripes int, brightness uint8) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 400, 300))
	for y := range 300 {
		for x := range 400 {
			v := brightness
			if stripes > 0 && x*stripes/400%2 == 1 {
				v = brightness / 2
			}
			img.Set(x, y, color.Gray{v})
		}
	}
	var b bytes.Buffer
	if err := jpeg.Encode(&b, img, nil); err != nil {
		t.Fatal(err)
	}
	// A TIFF directory with one text, Model.
	text := privateExif + "\x00"
	tiff := "II*\x00\x08\x00\x00\x00" + "\x01\x00" + "\x10\x01\x02\x00" + string(rune(len(text))) + "\x00\x00\x00" + "\x1a\x00\x00\x00" + "\x00\x00\x00\x00" + text
	app := "Exif\x00\x00" + tiff
	n := len(app) + 2
	head := append([]byte{0xff, 0xd8, 0xff, 0xe1, byte(n >> 8), byte(n)}, app...)
	return append(head, b.Bytes()[2:]...)
}

// pollBench is a bench with a store, as a client sees it.
type pollBench struct {
	*testing.T
	store  *store.Store
	server *Server
	now    time.Time
}

func newPollBench(t *testing.T) *pollBench {
	t.Helper()
	st, err := store.Open(t.Context(), store.Config{Dir: t.TempDir(), Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = st.Close() })
	b := &pollBench{T: t, store: st, now: time.Now()}
	b.server, err = New(Config{Store: st, Hosts: []string{"bench"}, PublicURL: "https://votes.example", Log: slog.New(slog.DiscardHandler), Now: func() time.Time { return b.now }})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func (b *pollBench) do(r *http.Request) *http.Response {
	b.Helper()
	r.Host = "bench"
	w := httptest.NewRecorder()
	b.server.ServeHTTP(w, r)
	return w.Result()
}

func body(t testing.TB, r *http.Response) string {
	t.Helper()
	defer r.Body.Close()
	text, err := io.ReadAll(r.Body)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func (b *pollBench) get(address string) string {
	b.Helper()
	r := b.do(httptest.NewRequest(http.MethodGet, address, nil))
	if r.StatusCode != http.StatusOK {
		b.Fatalf("%s: status %d", address, r.StatusCode)
	}
	return body(b, r)
}

// post sends a form and returns where it leads.
func (b *pollBench) post(address string, form url.Values) string {
	b.Helper()
	r := httptest.NewRequest(http.MethodPost, address, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	res := b.do(r)
	if res.StatusCode != http.StatusSeeOther {
		b.Fatalf("%s: status %d: %s", address, res.StatusCode, body(b, res))
	}
	return res.Header.Get("Location")
}

func sendPhotos(t testing.TB, address string, fields map[string]string, photos map[string][]byte) *http.Request {
	t.Helper()
	var buf bytes.Buffer
	m := multipart.NewWriter(&buf)
	for k, v := range fields {
		_ = m.WriteField(k, v)
	}
	names := make([]string, 0, len(photos))
	for name := range photos {
		names = append(names, name)
	}
	slices.Sort(names)
	for _, name := range names {
		f, err := m.CreateFormFile("photos", name)
		if err != nil {
			t.Fatal(err)
		}
		_, _ = f.Write(photos[name])
	}
	_ = m.Close()
	r := httptest.NewRequest(http.MethodPost, address, &buf)
	r.Header.Set("Content-Type", m.FormDataContentType())
	return r
}

// makePoll makes and opens a poll of three pictures, two of one sample.
func (b *pollBench) makePoll() store.Poll {
	b.Helper()
	res := b.do(sendPhotos(b, "/polls", map[string]string{"name": privateName, "asks": "Which is cleaner?", "baseline": "bare", "changed": privateArm},
		map[string][]byte{privateSample + ".jpg": testPhoto(b, 20, 200), privateOther + ".jpg": testPhoto(b, 8, 120), "third.jpg": testPhoto(b, 0, 60)}))
	if res.StatusCode != http.StatusSeeOther {
		b.Fatalf("status %d: %s", res.StatusCode, body(b, res))
	}
	at := res.Header.Get("Location")
	p, err := b.store.PollByPublic(b.Context(), strings.TrimPrefix(at, "/polls/"))
	if err != nil {
		b.Fatal(err)
	}
	items, err := b.store.PollItems(b.Context(), p.ID)
	if err != nil || len(items) != 3 {
		b.Fatal(items, err)
	}
	form := url.Values{}
	for _, it := range items {
		form.Set("sample-"+it.ID, it.Sample)
		form.Set("x-"+it.ID, "40")
		form.Set("y-"+it.ID, "55,5")
		form.Set("side-"+it.ID, "60")
		form.Set("turn-"+it.ID, "-3.5")
		form.Set("arm-"+it.ID, "bare")
		if it.Sample == privateSample {
			form.Set("arm-"+it.ID, privateArm)
		}
		if it.Sample == "third" {
			form.Set("sample-"+it.ID, privateOther)
		}
	}
	b.post(at+"/items", form)
	b.post(at+"/open", url.Values{})
	if p, err = b.store.Poll(b.Context(), p.ID); err != nil || !p.Open() {
		b.Fatal(p, err)
	}
	return p
}

// visitor votes through the public listener.
type visitor struct {
	*testing.T
	http *http.Client
	base string
}

func newVisitor(t *testing.T, s *httptest.Server) *visitor {
	jar, _ := cookiejar.New(nil)
	return &visitor{t, &http.Client{Jar: jar, Transport: s.Client().Transport}, s.URL}
}

func (v *visitor) see(address string) (int, string) {
	v.Helper()
	res, err := v.http.Get(v.base + address)
	if err != nil {
		v.Fatal(err)
	}
	return res.StatusCode, body(v, res)
}

var askPattern = regexp.MustCompile(`name="ask" value="([^"]+)"`)

func (v *visitor) vote(address, ask, answer string) (int, string) {
	v.Helper()
	res, err := v.http.PostForm(v.base+address, url.Values{"ask": {ask}, "answer": {answer}})
	if err != nil {
		v.Fatal(err)
	}
	return res.StatusCode, body(v, res)
}

func TestPollFromPhotosToResult(t *testing.T) {
	b := newPollBench(t)
	p := b.makePoll()
	page := b.get("/polls/" + p.Public)
	for _, want := range []string{"https://votes.example/polls/" + p.Public + "/vote", "<svg class=\"dv-qr\"", "Close it and show the result"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page of the open poll lacks %q", want)
		}
	}
	public := httptest.NewServer(b.server.Public(0))
	defer public.Close()
	address := "/polls/" + p.Public + "/vote"
	for range 12 {
		v := newVisitor(t, public)
		_, page := v.see(address)
		for n := 0; ; n++ {
			m := askPattern.FindStringSubmatch(page)
			if m == nil {
				if !strings.Contains(page, "That was all of them") {
					t.Fatal(page)
				}
				break
			}
			b.now = b.now.Add(3 * time.Second)
			_, page = v.vote(address, m[1], []string{"left", "right", "same"}[n%3])
			if n > 20 {
				t.Fatal("no end of pairs")
			}
		}
	}
	for _, hidden := range []string{"/polls/" + p.Public, "/polls"} {
		if page := b.get(hidden); strings.Contains(page, "preferred") || strings.Contains(page, "log odds") {
			t.Errorf("%s shows how the votes stand before the poll is closed", hidden)
		}
	}
	if r := b.do(httptest.NewRequest(http.MethodGet, "/polls/"+p.Public+"/result.json", nil)); r.StatusCode != http.StatusConflict {
		t.Errorf("result of the open poll: status %d", r.StatusCode)
	}
	b.post("/polls/"+p.Public+"/close", url.Values{})
	page = b.get("/polls/" + p.Public)
	for _, want := range []string{"not that the change did it", "Two pictures of " + privateOther, "Judges</dt><dd>12", "groups of judges"} {
		if !strings.Contains(page, want) {
			t.Errorf("the result lacks %q", want)
		}
	}
	var result struct {
		Judges  int
		Finding struct{ Votes int }
	}
	if err := json.Unmarshal([]byte(b.get("/polls/"+p.Public+"/result.json")), &result); err != nil || result.Judges != 12 || result.Finding.Votes != 36 {
		t.Errorf("%+v, %v", result, err)
	}
	b.now = b.now.Add(2 * boothFresh)
	v := newVisitor(t, public)
	if status, page := v.see(address); status != http.StatusOK || !strings.Contains(page, "closed") {
		t.Errorf("the booth of a closed poll: %d", status)
	}
}

// A vote needs the question that was asked of this visitor, counts once, and cannot
// be changed or moved.
func TestVotesCannotBeForged(t *testing.T) {
	b := newPollBench(t)
	p := b.makePoll()
	public := httptest.NewServer(b.server.Public(0))
	defer public.Close()
	address := "/polls/" + p.Public + "/vote"
	v, other := newVisitor(t, public), newVisitor(t, public)
	_, first := v.see(address)
	ask := askPattern.FindStringSubmatch(first)[1]
	other.see(address)
	for what, c := range map[string]struct {
		v           *visitor
		ask, answer string
		status      int
	}{
		"another visitor's question": {other, ask, "left", http.StatusBadRequest},
		"a question never asked":     {v, "AAAA", "left", http.StatusBadRequest},
		"a changed question":         {v, ask[:len(ask)-4] + "AAAA", "left", http.StatusBadRequest},
		"no answer":                  {v, ask, "both", http.StatusBadRequest},
		"no cookie":                  {newVisitor(t, public), ask, "left", http.StatusForbidden},
	} {
		if status, _ := c.v.vote(address, c.ask, c.answer); status != c.status {
			t.Errorf("%s: status %d, want %d", what, status, c.status)
		}
	}
	if _, page := v.vote(address, ask, "left"); !strings.Contains(page, "1 judged") {
		t.Error("the vote was not counted")
	}
	if _, page := v.vote(address, ask, "right"); !strings.Contains(page, "The first answer stands") {
		t.Error("a vote sent again is not called so")
	}
	p, _ = b.store.Poll(t.Context(), p.ID)
	if p.Votes != 1 || p.Again != 1 {
		t.Errorf("%d votes, %d again", p.Votes, p.Again)
	}
	// From another site's page.
	r, _ := http.NewRequest(http.MethodPost, public.URL+address, strings.NewReader("answer=left"))
	r.Header.Set("Origin", "https://elsewhere.example")
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	res, err := http.DefaultClient.Do(r)
	if err != nil || res.StatusCode != http.StatusForbidden {
		t.Errorf("a vote from another site: %v %v", res, err)
	}
	// A long body.
	if status, _ := v.vote(address, strings.Repeat("A", 10_000), "left"); status != http.StatusBadRequest {
		t.Errorf("a long body: status %d", status)
	}
	// What is kept of a visitor is not the cookie.
	err = b.store.EachVote(t.Context(), p.ID, func(vote store.Vote) error {
		u, _ := url.Parse(public.URL + address)
		for _, c := range v.http.Jar.Cookies(u) {
			if strings.Contains(vote.Judge, c.Value) || c.Value == "" {
				t.Error("the cookie itself is kept")
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// Everything that the public listener can be made to say is read, from every link,
// and from addresses that are good on the bench. Nothing private is in it.
func TestPublicListenerShowsTheBlindPairsAlone(t *testing.T) {
	b := newPollBench(t)
	part, err := b.store.AddPart(t.Context(), store.Part{Name: privatePart})
	if err != nil {
		t.Fatal(err)
	}
	p, second := b.makePoll(), b.makePoll()
	draft, err := b.store.AddPoll(t.Context(), store.Poll{Name: "not yet open", Asks: "Secret question?"})
	if err != nil {
		t.Fatal(err)
	}
	public := httptest.NewServer(b.server.Public(0))
	defer public.Close()
	v := newVisitor(t, public)
	items, _ := b.store.PollItems(t.Context(), p.ID)
	photos, _ := b.store.PollPhotos(t.Context(), p.ID)
	queue := []string{"/polls/" + p.Public + "/vote"}
	pictures := map[string]bool{}
	seen := map[string]bool{}
	forbidden := []string{privateSample, privateOther, privateName, privateArm, privateExif, privatePart, "Secret question", part.ID, p.ID, p.Secret, second.Public, draft.Public, items[0].ID, items[0].SHA256, photos[0].SHA256, "Exif", "thrum", "Thrum"}
	links := regexp.MustCompile(`(?:href|src|action)="([^"]+)"`)
	for round := 0; len(queue) > 0; round++ {
		at := queue[0]
		queue = queue[1:]
		res, err := v.http.Get(v.base + at)
		if err != nil {
			t.Fatal(err)
		}
		text := body(t, res)
		for name, values := range res.Header {
			text += "\n" + name + ": " + strings.Join(values, " ")
		}
		for _, f := range forbidden {
			if strings.Contains(text, f) {
				t.Errorf("%s says %q", at, f)
			}
		}
		if res.Header.Get("Content-Security-Policy") != boothPolicy || res.Header.Get("X-Content-Type-Options") != "nosniff" {
			t.Errorf("%s lacks headers", at)
		}
		if res.Header.Get("Content-Type") == "image/jpeg" {
			pictures[at] = true
			bareJPEG(t, at, []byte(text[:strings.LastIndex(text, "\xff\xd9")+2]))
		}
		if m := askPattern.FindStringSubmatch(text); m != nil && round < 60 {
			_, after := v.vote(at, m[1], "same")
			text += after
			queue = append(queue, at)
		}
		for _, m := range links.FindAllStringSubmatch(text, -1) {
			if !seen[m[1]] {
				seen[m[1]] = true
				queue = append(queue, m[1])
			}
		}
	}
	if len(pictures) < 6 {
		t.Errorf("saw %d pictures only: the crawl shows little", len(pictures))
	}
	for _, at := range []string{
		"/", "/polls", "/polls/" + p.Public, "/polls/" + p.Public + "/result.json", "/polls/" + p.Public + "/pages.zip", "/polls/" + p.Public + "/items/0",
		"/polls/" + p.ID + "/vote", "/polls/" + draft.Public + "/vote", "/polls/" + p.Public + "/pictures/" + items[0].SHA256 + ".jpg",
		"/polls/" + second.Public + "/pictures/" + slotName(p.Secret, 0, 1),
		"/parts", "/parts/" + part.ID, "/sheet", "/lathes", "/lathes/inch-bench", "/trials", "/jobs/1", "/pieces/1", "/about", "/knock", "/flanks", "/compare",
		b.server.assets.script, b.server.assets.style, "/offline.js", "/manifest.json", "/debug/pprof/", "/polls/" + p.Public + "/vote/../../../parts",
	} {
		res, err := v.http.Get(v.base + at)
		if err != nil {
			t.Fatal(err)
		}
		if text := body(t, res); res.StatusCode != http.StatusNotFound || len(text) > 1500 {
			t.Errorf("%s: status %d, %d bytes", at, res.StatusCode, len(text))
		}
	}
	for _, at := range []string{"/polls", "/polls/" + p.Public + "/close", "/polls/" + p.Public + "/open", "/polls/" + p.Public + "/items", "/polls/" + p.Public + "/pictures", "/parts", "/looks", "/jobs"} {
		res, err := v.http.PostForm(v.base+at, url.Values{})
		if err != nil {
			t.Fatal(err)
		}
		if body(t, res); res.StatusCode != http.StatusNotFound && res.StatusCode != http.StatusMethodNotAllowed {
			t.Errorf("POST %s: status %d", at, res.StatusCode)
		}
	}
	if kept, _ := b.store.Poll(t.Context(), p.ID); !kept.Open() {
		t.Error("a visitor closed the poll")
	}
}

// bareJPEG wants nothing in a picture but what decoding needs.
func bareJPEG(t *testing.T, name string, data []byte) {
	t.Helper()
	img, err := jpeg.Decode(bytes.NewReader(data))
	if err != nil || img.Bounds().Dx() != cropSide || img.Bounds().Dy() != cropSide {
		t.Fatalf("%s: %v", name, err)
	}
	for i := 2; i+4 <= len(data) && data[i] == 0xff; {
		marker := data[i+1]
		if marker >= 0xe0 && marker <= 0xef || marker == 0xfe {
			t.Errorf("%s has a block %#x", name, marker)
		}
		if marker == 0xda {
			return
		}
		i += 2 + int(data[i+2])<<8 + int(data[i+3])
	}
}

func TestPagesForAWebHost(t *testing.T) {
	b := newPollBench(t)
	p := b.makePoll()
	data := b.get("/polls/" + p.Public + "/pages.zip")
	z, err := zip.NewReader(strings.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	pictures := 0
	index := ""
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		for _, private := range []string{privateSample, privateOther, privateName, privateArm, privateExif, p.ID, p.Secret} {
			if bytes.Contains(text, []byte(private)) || strings.Contains(f.Name, private) {
				t.Errorf("%s says %q", f.Name, private)
			}
		}
		if strings.HasPrefix(f.Name, "pictures/") {
			pictures++
			bareJPEG(t, f.Name, text)
		}
		if f.Name == "index.html" {
			index = string(text)
		}
	}
	if pictures != 6 || strings.Count(index, "<h2>") != 3 || !strings.Contains(index, "https://votes.example/polls/"+p.Public+"/vote") {
		t.Errorf("%d pictures, page %s", pictures, index)
	}
	if again := b.get("/polls/" + p.Public + "/pages.zip"); again != data {
		t.Error("the pages differ from one time to the next")
	}
}

func TestMeter(t *testing.T) {
	now := time.Unix(0, 0)
	m := newMeter(10, func() time.Time { return now })
	count := func(remote string, n int) (ok int) {
		for range n {
			if m.allow(remote) {
				ok++
			}
		}
		return ok
	}
	if n := count("192.0.2.1:5000", 100); n != 40 {
		t.Errorf("%d at once", n)
	}
	if n := count("192.0.2.1:6000", 10); n != 0 {
		t.Errorf("another port gives %d more", n)
	}
	if n := count("192.0.2.2:5000", 5); n != 5 {
		t.Errorf("another address is held back")
	}
	now = now.Add(time.Second)
	if n := count("192.0.2.1:5000", 100); n != 10 {
		t.Errorf("%d a second later", n)
	}
	count("[2001:db8:1:2:3::1]:80", 40)
	if n := count("[2001:db8:1:2:4::1]:80", 40); n != 0 {
		t.Errorf("an address of the same household gives %d more", n)
	}
	for i := range 5 * mostKnown {
		m.allow(fmt.Sprintf("10.%d.%d.%d:1", i>>16, i>>8&255, i&255))
	}
	if n := len(m.new) + len(m.old); n > mostKnown {
		t.Errorf("%d addresses are held", n)
	}
}

func TestPublicListenerHoldsBackOneAddress(t *testing.T) {
	b := newPollBench(t)
	p := b.makePoll()
	public := httptest.NewServer(b.server.Public(5))
	defer public.Close()
	v := newVisitor(t, public)
	held := 0
	for range 30 {
		status, _ := v.see("/polls/" + p.Public + "/vote")
		if status == http.StatusTooManyRequests {
			held++
		}
	}
	if held != 10 {
		t.Errorf("%d of 30 held back, want 10", held)
	}
}

// Crops come out at one size and one light, turned as asked.
func TestCrops(t *testing.T) {
	img := image.NewGray(image.Rect(0, 0, 300, 200))
	for y := range 200 {
		for x := range 300 {
			img.Set(x, y, color.Gray{40})
			if y < 100 {
				img.Set(x, y, color.Gray{200})
			}
		}
	}
	at := func(it store.PollItem, x, y int) uint8 { return cropOf(img, it).RGBAAt(x, y).R }
	it := store.PollItem{MiddleX: .5, MiddleY: .5, Side: .8}
	if a, b := at(it, 360, 100), at(it, 360, 620); a != 200 || b != 40 {
		t.Errorf("upright: %d over %d", a, b)
	}
	it.Turn = 90 // clockwise: the top goes to the right
	if a, b := at(it, 620, 360), at(it, 100, 360); a != 200 || b != 40 {
		t.Errorf("turned: %d right, %d left", a, b)
	}
	dark, lit := cropOf(img, store.PollItem{MiddleX: .5, MiddleY: .6, Side: .5}), cropOf(img, store.PollItem{MiddleX: .5, MiddleY: .45, Side: .5})
	before := brightness(lit) / brightness(dark)
	sameLight([]*image.RGBA{dark, lit})
	if after := brightness(lit) / brightness(dark); after > 1.02 || after < .98 || before < 1.2 {
		t.Errorf("light differs by %.3f, before %.3f", after, before)
	}
}

// A poll of a trial's samples counts in the finding from the moment it is closed,
// and not before.
func TestFindingChangesWhenThePollCloses(t *testing.T) {
	d := newDesk(t)
	at := d.post("/trials", centreForm)
	id := strings.TrimPrefix(at, "/trials/")
	samples, err := d.st.Samples(t.Context(), id)
	if err != nil {
		t.Fatal(err)
	}
	grades := url.Values{"by": {"ann"}, "of": {"marks"}}
	for i, x := range samples {
		grades.Set("v-"+x.Code, fmt.Sprint(5+i%3))
		_, err := d.st.AddFile(t.Context(), store.File{About: store.About{SampleID: x.ID}, Kind: "photo", Name: "flank.jpg", Media: "image/jpeg"}, bytes.NewReader(testPhoto(t, 4+i, 180)))
		if err != nil {
			t.Fatal(err)
		}
	}
	d.post(at+"/grade", grades)
	d.page(at, "/polls?trial="+id)
	d.page("/polls?trial="+id, "The 12 photographs kept with the trial", `value="no centre"`, `value="centre"`)
	r := sendPhotos(t, "/polls", map[string]string{"name": "centre", "asks": "Which is cleaner?", "baseline": "no centre", "changed": "centre", "trial": id}, nil)
	r.Host = "localhost"
	w := httptest.NewRecorder()
	d.s.ServeHTTP(w, r)
	poll := w.Header().Get("Location")
	if w.Code != http.StatusSeeOther {
		t.Fatal(w.Code, w.Body)
	}
	d.post(poll+"/open", url.Values{})
	p, err := d.st.PollByPublic(t.Context(), strings.TrimPrefix(poll, "/polls/"))
	if err != nil {
		t.Fatal(err)
	}
	items, err := d.st.PollItems(t.Context(), p.ID)
	if err != nil || len(items) != 12 || items[0].Arm == "" || items[0].Sample != samples[0].Code {
		t.Fatal(items, err)
	}
	counted := 0
	for n := range 160 {
		left := n % 12
		right := (left + 1 + n/12%11) % 12
		v := store.Vote{PollID: p.ID, Judge: fmt.Sprintf("judge-%d", n/10), Left: left, Right: right, Outcome: store.RightBetter, Chosen: "random", Took: 2 * time.Second}
		if items[left].Arm == "centre" {
			v.Outcome = store.LeftBetter
		}
		if n%7 == 0 {
			v.Outcome = store.Tie
		}
		ok, err := d.st.Cast(t.Context(), v)
		if err != nil {
			t.Fatal(err)
		}
		if ok {
			counted++
		}
	}
	d.page(at+"/finding", "Nobody was asked")
	d.page(at, fmt.Sprintf("centre</a>: open, %d votes", counted))
	d.post(poll+"/close", url.Values{})
	if body := d.page(at+"/finding", "blind votes by", "people see a difference, for centre"); strings.Contains(body, "Nobody was asked") {
		t.Error("the finding has not taken the votes in")
	}
	d.page(poll, "people prefer the pictures of centre", "not that the change did it", `href="/trials/`+id)
}
