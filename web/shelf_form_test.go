package web

import (
	"html"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"thrum/cut"
	"thrum/examples"
	"thrum/store"
)

// sentForm is what a browser sends of the form when nothing was touched.
func sentForm(page string) url.Values {
	out := url.Values{}
	for _, m := range regexp.MustCompile(`<input type="(text|hidden)"[^>]* name="([^"]+)" value="([^"]*)"`).FindAllStringSubmatch(page, -1) {
		out.Set(m[2], html.UnescapeString(m[3]))
	}
	for _, m := range regexp.MustCompile(`<input type="checkbox"[^>]* name="([^"]+)" value="yes" checked`).FindAllStringSubmatch(page, -1) {
		out.Set(m[1], "yes")
	}
	for _, m := range regexp.MustCompile(`(?s)<textarea[^>]* name="([^"]+)"[^>]*>\n?(.*?)</textarea>`).FindAllStringSubmatch(page, -1) {
		out.Set(m[1], strings.ReplaceAll(html.UnescapeString(m[2]), "\n", "\r\n"))
	}
	for _, m := range regexp.MustCompile(`(?s)<select[^>]* name="([^"]+)"[^>]*>(.*?)</select>`).FindAllStringSubmatch(page, -1) {
		if v := regexp.MustCompile(`<option value="([^"]*)" selected`).FindStringSubmatch(m[2]); v != nil {
			out.Set(m[1], html.UnescapeString(v[1]))
		}
	}
	return out
}

// kept reads a text from its shelf.
func (s shop) kept(shelf store.Shelf, name string) store.Text {
	s.Helper()
	t, err := shelf.Get(s.Context(), name)
	if err != nil {
		s.Fatal(err)
	}
	return t
}

// A form that is sent as it came leaves the text as it was, byte for byte, for every
// lathe and material there is.
func TestFormLeavesTheTextAlone(t *testing.T) {
	for _, name := range examples.Lathes() {
		text, _ := examples.Lathe(name)
		leavesAlone(t, latheKeys(), name, text)
	}
	for _, m := range cut.Materials() {
		leavesAlone(t, materialKeys(), m.Name, materialText(m))
	}
}

func leavesAlone(t *testing.T, keys []formKey, name, text string) {
	t.Helper()
	form, fields := url.Values{}, 0
	for _, s := range formOf(keys, text, nil, nil) {
		for _, g := range s.Groups {
			for _, c := range g.Fields {
				fields++
				if c.Kind != "check" {
					form.Set(c.Name, c.Value)
				} else if c.Checked {
					form.Set(c.Name, "yes")
				}
			}
		}
	}
	got, faults := applyForm(keys, text, form)
	if got != text || len(faults) > 0 || fields < 20 {
		t.Errorf("%s: %d fields, faults %v, text changed: %v", name, fields, faults, got != text)
	}
}

func TestLatheForm(t *testing.T) {
	b := newShop(t)
	shelf := b.store.Lathes()
	if w := b.send("/lathes", url.Values{"name": {"shop"}, "from": {"inch-bench"}}); w.Code != http.StatusSeeOther {
		t.Fatalf("beginning one: %d", w.Code)
	}
	before := b.kept(shelf, "shop").TOML
	page := b.get("/lathes/shop/form")
	if page.Code != http.StatusOK || !strings.Contains(page.Body.String(), "<svg") {
		t.Fatalf("form: %d", page.Code)
	}
	form := sentForm(page.Body.String())
	if form.Get("leadscrew.tpi") != "8" || form.Get("speed.6.rpm") != "200" || form.Get("motor.power") != "0.5 hp" || form.Get("speed.6.coast_turns") != "1.6, 1.8" {
		t.Fatalf("the form does not show what the text says: %v", form)
	}

	// Some values changed, one taken away, a speed added: all else stays.
	form.Set("cross_slide.dial.lost_motion", ".015")
	form.Set("motor.power", "0.75 hp")
	form.Set("present.levers", "")
	form.Set("gearbox.position", strings.Replace(form.Get("gearbox.position"), "tpi = 32", "tpi = 33", 1))
	form.Set("speed.12.rpm", "1200")
	form.Set("speed.12.label", "fast 4")
	form.Set("spindle.chuck_lock", "yes")
	w := b.send("/lathes/shop/form", form)
	if w.Code != http.StatusSeeOther {
		t.Fatalf("keeping: %d %s", w.Code, w.Body)
	}
	after := b.kept(shelf, "shop").TOML
	want := strings.NewReplacer(
		"lost_motion = 0.012", "lost_motion = 0.015", `power = "0.5 hp"`, `power = "0.75 hp"`, "levers = \"A\"\n", "",
		"tpi = 32 },", "tpi = 33 },", "chuck_lock = false ", "chuck_lock = true ",
	).Replace(before) + "\n[[speed]]\nrpm = 1200\nlabel = \"fast 4\"\n"
	if after != want {
		t.Errorf("the text is now\n%s", after)
	}

	// A fault stands beside its field, with what was typed; nothing is kept.
	form = sentForm(b.get("/lathes/shop/form").Body.String())
	form.Set("cross_slide.dial.division", "1.001")
	form.Set("speed.3.rpm", "fast")
	form.Set("speed.13.rpm", "70")
	w = b.send("/lathes/shop/form", form)
	body := w.Body.String()
	if w.Code != http.StatusUnprocessableEntity {
		t.Errorf("faults: %d", w.Code)
	}
	for _, want := range []string{`href="#f-cross_slide.dial.division"`, `href="#f-speed.3.rpm"`, `href="#f-speed.13.label"`, `value="1.001"`, `value="fast"`, "is not a division"} {
		if !strings.Contains(body, want) {
			t.Errorf("no %q beside the fields", want)
		}
	}
	if b.kept(shelf, "shop").TOML != after {
		t.Error("a text with faults was kept")
	}

	// Checked only: said, drawn, not kept. Taken away: the entry is gone.
	form = sentForm(b.get("/lathes/shop/form").Body.String())
	form.Set("act", "check")
	form.Set("remove", "speed.12")
	if w = b.send("/lathes/shop/form", form); w.Code != http.StatusOK || !strings.Contains(w.Body.String(), "No fault found") || b.kept(shelf, "shop").Revision != 2 {
		t.Errorf("checking only: %d", w.Code)
	}
	form.Del("act")
	if w = b.send("/lathes/shop/form", form); w.Code != http.StatusSeeOther || strings.Contains(b.kept(shelf, "shop").TOML, "fast 4") {
		t.Errorf("taking a speed away: %d", w.Code)
	}
	// The same form again began from a revision that is no longer the newest.
	form.Set("motor.power", "2 hp")
	if w = b.send("/lathes/shop/form", form); w.Code != http.StatusConflict {
		t.Errorf("an old form: %d", w.Code)
	}
	if w = b.get("/lathes/inch-bench/form"); w.Code != http.StatusNotFound {
		t.Errorf("the form of an example: %d", w.Code)
	}
}

func TestMaterialForm(t *testing.T) {
	b := newShop(t)
	if w := b.send("/materials", url.Values{"name": {"rack 3"}, "from": {"1018"}}); w.Code != http.StatusSeeOther {
		t.Fatalf("beginning one: %d %s", w.Code, w.Body)
	}
	form := sentForm(b.get("/materials/rack%203/form").Body.String())
	form.Set("material.0.kc11_n_mm2", "1450")
	form.Set("material.0.fluids", "sulphurised cutting oil, tallow")
	form.Set("material.0.source.force", "power measured in three cuts")
	if w := b.send("/materials/rack%203/form", form); w.Code != http.StatusSeeOther {
		t.Fatalf("keeping: %d %s", w.Code, w.Body)
	}
	text := b.kept(b.store.Materials(), "rack 3").TOML
	for _, want := range []string{"kc11_n_mm2 = 1450\n", `fluids = ["sulphurised cutting oil", "tallow"]`, `source.force = "power measured in three cuts"`} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in\n%s", want, text)
		}
	}
	form.Set("revision", "2")
	form.Set("material.0.mc", "")
	w := b.send("/materials/rack%203/form", form)
	if w.Code != http.StatusUnprocessableEntity || !strings.Contains(w.Body.String(), `href="#f-material.0.mc"`) {
		t.Errorf("a needed value left empty: %d", w.Code)
	}
}
