package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/textproto"
	"net/url"
	"strings"
	"testing"

	"thrum/store"
	"thrum/trial"
)

// desk asks pages of a server with an empty store.
type desk struct {
	*testing.T
	s  *Server
	st *store.Store
}

func newDesk(t *testing.T) *desk {
	t.Helper()
	s := newShop(t)
	return &desk{t, s.server, s.store}
}

func (d *desk) ask(method, address string, form url.Values) (int, string, string) {
	r := httptest.NewRequest(method, address, strings.NewReader(form.Encode()))
	r.Host = "localhost"
	if form != nil {
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	w := httptest.NewRecorder()
	d.s.ServeHTTP(w, r)
	return w.Code, w.Header().Get("Location"), w.Body.String()
}

// page wants a page that holds all of wants, and nothing that was typed as script.
func (d *desk) page(address string, wants ...string) string {
	d.Helper()
	status, _, body := d.ask("GET", address, nil)
	if status != http.StatusOK {
		d.Fatalf("%s: %d", address, status)
	}
	for _, w := range wants {
		if !strings.Contains(body, w) {
			d.Errorf("%s: no %q", address, w)
		}
	}
	if strings.HasPrefix(body, "<!doctype") && strings.Contains(body, "<script>alert") {
		d.Errorf("%s: what was typed came back as script", address)
	}
	return body
}

// post wants to be sent on, and returns where to.
func (d *desk) post(address string, form url.Values) string {
	d.Helper()
	status, to, body := d.ask("POST", address, form)
	if status != http.StatusSeeOther {
		d.Fatalf("%s: %d %.600s", address, status, body)
	}
	return to
}

var centreForm = url.Values{
	"question": {"Does a centre reduce the marks? <script>alert(1)</script>"}, "factor": {"support"}, "baseline": {"no centre"}, "changed": {"centre"}, "score": {"marks"},
	"better": {"lower"}, "design": {"pairs"}, "blocks": {"6"}, "hold": {"edge; oil"}, "same": {"centre"}, "others": {"finish"},
}

// A question goes from asking to a finding, without script.
func TestTrialFromAskingToFinding(t *testing.T) {
	d := newDesk(t)
	d.page("/trials", "before the first chip", "Does a centre reduce the marks?")
	if to := d.post("/questions", url.Values{"asks": {"Is a fresh edge worth it?"}, "detail": {"a viewer <script>alert(2)</script>"}}); to != "/trials#queue" {
		t.Error(to)
	}
	body := d.page("/trials", "Is a fresh edge worth it?", "a viewer")
	asked := between(t, body, `/questions/`, `"`)

	d.page("/trials/new?ready=centre", "no centre", "marks per turn", "drill it in both arms")
	d.page("/trials/new?ready=centre&design=groups&a=3&b=3", "can never reach 5 %", "It cannot be shown this way")
	d.page("/trials/new?ready=centre&design=groups&a=4&b=4&margin=2&spread=1&spread-df=5", "It can be shown", "samples of each show a difference of 2")

	form := url.Values{"asked": {asked}}
	for k, v := range centreForm {
		form[k] = v
	}
	at := d.post("/trials", form)
	d.page(at, "Cut next", "run 1 of 12", "drawn")
	d.page("/trials", "drawn, nothing cut yet", "6 pairs, 12 cuts")
	d.page(at+"/finding", "0 of 12")
	if status, _, _ := d.ask("GET", at+"/finding.png", nil); status != http.StatusNotFound {
		t.Errorf("a picture of nothing: %d", status)
	}

	samples, err := d.st.Samples(t.Context(), strings.TrimPrefix(at, "/trials/"))
	if err != nil || len(samples) != 12 {
		t.Fatal(err, len(samples))
	}
	d.post(at+"/all", url.Values{"conditions": {"edge = 3\noil = sulphur\nbar = "}})
	grades := url.Values{"by": {"ann"}, "of": {"marks"}}
	// Counted within each arm: the draw decides which places an arm gets, and the figures asked for below must come whatever it is.
	seen := map[string]int{}
	for _, x := range samples {
		v := 9 + seen[x.Arm]%3
		if x.Arm == "centre" {
			v = 2 + seen[x.Arm]%2
		}
		seen[x.Arm]++
		grades.Set("v-"+x.Code, fmt.Sprint(v))
	}
	d.post(at+"/grade", grades)
	d.page(at+"/grade?by=ann", `value="9"`)
	finding := d.page(at+"/finding", "measured", "lower with centre", "Nobody was asked", "Good evidence", "changed on purpose", "held", "sulphur", "all 64 ways")
	if strings.Contains(finding, ">unknown<") {
		t.Error("a condition that was written down for all is unknown")
	}

	t.Log("size lost is said beside the marks that are gone")
	one := at + "/samples/" + samples[0].Code
	d.post(one, url.Values{"do": {"sizes"}, "size-1-0": {"13.15"}, "size-1-90": {"13,152"}, "size-3-0": {"13.16"}})
	d.page(one, "mean 13.154 mm", "13.152")
	d.post(one, url.Values{"do": {"note"}, "text": {"sang at pass 6 <script>alert(3)</script>"}})
	d.post(one, url.Values{"do": {"scores"}, "by": {"bob"}, "score-0": {"8,5"}, "score-1": {"3"}})
	d.page(one, "8.5", "by bob", "sang at pass 6")
	d.page(at+"/finding", "2 graders")

	t.Log("a sample that is left out stays on the list and is named")
	d.post(one, url.Values{"do": {"left-out"}, "why": {"the bar slipped"}})
	d.page(at+"/finding", "left out: the bar slipped", "1 of 12 samples are not counted")
	d.post(one, url.Values{"do": {"left-out"}, "why": {""}})

	t.Log("conditions can be corrected and taken out")
	d.post(one, url.Values{"do": {"conditions"}, "conditions": {"edge = 4"}})
	d.page(at+"/finding", "not written down for every sample", "varied")

	checkFindingFiles(t, d, at)
	if status, _, _ := d.ask("GET", "/trials/nothing", nil); status != http.StatusNotFound {
		t.Errorf("a trial that is not there: %d", status)
	}
	d.post("/questions/"+asked, url.Values{})
	if body := d.page("/trials"); strings.Contains(body, "a viewer") {
		t.Error("a question taken off the list is still there")
	}
}

// between returns what stands after a mark up to an end.
func between(t *testing.T, body, mark, end string) string {
	t.Helper()
	_, rest, ok := strings.Cut(body, mark)
	v, _, ok2 := strings.Cut(rest, end)
	if !ok || !ok2 {
		t.Fatalf("no %q in the page", mark)
	}
	return v
}

func checkFindingFiles(t *testing.T, d *desk, at string) {
	t.Helper()
	if body := d.page(at + "/finding.pdf"); !strings.HasPrefix(body, "%PDF") {
		t.Error("no PDF")
	}
	img, err := png.Decode(strings.NewReader(d.page(at + "/finding.png")))
	if err != nil || img.Bounds().Dx() != 1920 || img.Bounds().Dy() != 1080 {
		t.Errorf("picture: %v", err)
	}
	d.page(at+"/finding.svg", "<svg")
	d.page(at+"/finding.txt", "What was done: 6 pairs", "Measured:", "Caused:")
	back, err := trial.ReadCSV(strings.NewReader(d.page(at+"/finding.csv")), "no centre")
	if err != nil || len(back.Samples) != 12 || back.Samples[0].Conditions["oil"] != "" && back.Samples[0].Conditions["oil"] != "sulphur" {
		t.Errorf("table: %v", err)
	}
	var rep trial.Report
	if err := json.Unmarshal([]byte(d.page(at+"/finding.json")), &rep); err != nil || len(rep.Settled.Runs) != 12 || rep.Finding == nil {
		t.Errorf("JSON: %v", err)
	}
}

// Whoever grades sees codes in the order of the codes, and neither arm nor block, run
// or question that would tell.
func TestGradingIsBlind(t *testing.T) {
	d := newDesk(t)
	form := url.Values{}
	for k, v := range centreForm {
		form[k] = v
	}
	form.Set("question", "Which of the two?")
	form.Set("baseline", "bare end")
	form.Set("changed", "supported end")
	at := d.post("/trials", form)
	samples, err := d.st.Samples(t.Context(), strings.TrimPrefix(at, "/trials/"))
	if err != nil {
		t.Fatal(err)
	}
	d.sendPhoto(at+"/samples/"+samples[0].Code, "supported-end-1.png")
	body := d.page(at + "/grade")
	for _, tells := range []string{"bare end", "supported", "pair", "run"} {
		if main := between(t, body, `<main`, `</main>`); strings.Contains(strings.ToLower(main), tells) {
			t.Errorf("the page for grading blind holds %q", tells)
		}
	}
	last := -1
	for n := 1; n <= len(samples); n++ {
		at := strings.Index(body, fmt.Sprintf(`name="v-T%04d"`, n))
		if at < last {
			t.Errorf("code %d stands out of order", n)
		}
		last = at
	}
	r := httptest.NewRequest("GET", between(t, body, `<img src="`, `"`), nil)
	r.Host = "localhost"
	w := httptest.NewRecorder()
	d.s.ServeHTTP(w, r)
	if w.Code != http.StatusOK || strings.Contains(w.Header().Get("Content-Disposition"), "supported") || !strings.HasPrefix(w.Header().Get("Content-Type"), "image/png") {
		t.Errorf("photograph: %d %v", w.Code, w.Header())
	}
}

func (d *desk) sendPhoto(address, name string) {
	d.Helper()
	var img, body bytes.Buffer
	if err := png.Encode(&img, image.NewGray(image.Rect(0, 0, 8, 8))); err != nil {
		d.Fatal(err)
	}
	m := multipart.NewWriter(&body)
	_ = m.WriteField("do", "file") // to memory
	part, err := m.CreatePart(textproto.MIMEHeader{"Content-Disposition": {fmt.Sprintf(`form-data; name="file"; filename=%q`, name)}, "Content-Type": {"image/png"}})
	if err != nil {
		d.Fatal(err)
	}
	_, _ = part.Write(img.Bytes())
	_ = m.Close()
	r := httptest.NewRequest("POST", address, &body)
	r.Host = "localhost"
	r.Header.Set("Content-Type", m.FormDataContentType())
	w := httptest.NewRecorder()
	d.s.ServeHTTP(w, r)
	if w.Code != http.StatusSeeOther {
		d.Fatalf("%s: %d %.400s", address, w.Code, w.Body.String())
	}
}

// What cannot be used is refused beside its field, and what was typed stays.
func TestTrialRefusals(t *testing.T) {
	d := newDesk(t)
	at := d.post("/trials", centreForm)
	samples, err := d.st.Samples(t.Context(), strings.TrimPrefix(at, "/trials/"))
	if err != nil {
		t.Fatal(err)
	}
	one := at + "/samples/" + samples[0].Code
	with := func(k, v string) url.Values {
		f := url.Values{}
		for k, v := range centreForm {
			f[k] = v
		}
		f.Set(k, v)
		return f
	}
	for name, c := range map[string]struct {
		address string
		form    url.Values
		status  int
		holds   string
	}{
		"no question":     {"/trials", with("question", ""), 422, "f-question"},
		"equal arms":      {"/trials", with("changed", "no centre"), 422, "is the baseline too"},
		"wild pairs":      {"/trials", with("blocks", "1e9"), 422, "1e9"},
		"unknown layout":  {"/trials", with("design", "cube"), 422, "cube"},
		"a lost question": {"/trials", with("asked", "019a0000-0000-7000-8000-000000000000"), 422, "no longer"},
		"empty question":  {"/questions", url.Values{"asks": {" "}}, 422, "is empty"},
		"no grader":       {at + "/grade", url.Values{"v-" + samples[0].Code: {"3"}}, 422, "who graded"},
		"no number":       {at + "/grade", url.Values{"by": {"x"}, "v-" + samples[0].Code: {"three"}}, 422, "three"},
		"bad condition":   {at + "/all", url.Values{"conditions": {"edge 3"}}, 422, "edge 3"},
		"bad size":        {one, url.Values{"do": {"sizes"}, "size-1-0": {"wide"}}, 422, "wide"},
		"no file":         {one, url.Values{"do": {"file"}}, 422, "is missing"},
		"no such plan":    {one, url.Values{"do": {"cut-as"}, "plan": {"019a0000-0000-7000-8000-000000000000"}}, 422, "plan"},
		"no such form":    {one, url.Values{"do": {"dance"}}, 400, "did not arrive whole"},
		"no such sample":  {at + "/samples/T9999", url.Values{"do": {"note"}, "text": {"x"}}, 404, "no such sample"},
	} {
		status, _, body := d.ask("POST", c.address, c.form)
		if status != c.status || !strings.Contains(body, c.holds) {
			t.Errorf("%s: %d, want %d with %q: %.900s", name, status, c.status, c.holds, between(t, body, "<main", "</main>"))
		}
	}
}
