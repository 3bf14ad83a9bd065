package web

import (
	"reflect"
	"strings"
	"testing"

	"thrum/cut"
)

// Every row of the table, written as a text and read again, is the same material:
// a copy begins with the very figures that the table has.
func TestMaterialText(t *testing.T) {
	for _, m := range cut.Materials() {
		ms, err := cut.ReadMaterials("copy", strings.NewReader(materialText(m)))
		if err != nil || len(ms) != 1 {
			t.Errorf("%s: %d materials, %v", m.Name, len(ms), err)
			continue
		}
		m.OwnTable = true
		if got := ms[0]; !near(got, m) {
			t.Errorf("%s:\n got %+v\nwant %+v", m.Name, got, m)
		}
	}
}

// near compares two materials; figures that were changed from unit to unit and back
// may differ in their last digits.
func near(a, b cut.Material) bool {
	va, vb := reflect.ValueOf(&a).Elem(), reflect.ValueOf(&b).Elem()
	return nearValue(va, vb)
}

func nearValue(a, b reflect.Value) bool {
	switch a.Kind() {
	case reflect.Float64:
		d, m := a.Float()-b.Float(), a.Float()
		return d <= 1e-11*m && -d <= 1e-11*m
	case reflect.Struct:
		for i := range a.NumField() {
			if !nearValue(a.Field(i), b.Field(i)) {
				return false
			}
		}
		return true
	}
	return reflect.DeepEqual(a.Interface(), b.Interface())
}

func TestMaterialsListed(t *testing.T) {
	s := newShop(t)
	w := s.get("/materials")
	s.want(w, 200, "No material of your own is kept yet", "Threading, HSS", "kc1.1")
	for _, m := range cut.Materials() {
		s.want(w, 200, ">"+m.Name+"</a>")
	}
	// 9 to 12 m/min is 30 to 39 ft/min (1 ft = 0.3048 m).
	s.want(s.get("/materials/1018"), 200, "9–12\u00a0m/min (30–39\u00a0ft/min)", "VDI 3323", "Keep as")
	s.want(s.get("/materials/unobtainium"), 404)
}

func TestMaterialKept(t *testing.T) {
	s := newShop(t)
	s.wantRedirect(s.post("/materials", "name", "rack 3", "from", "1018"), "/materials/rack%203?kept=1")
	text := typed(s.get("/materials/rack%203"))
	edited := strings.Replace(text, "9-12 m/min", "30-45 ft/min", 1)
	s.wantRedirect(s.post("/materials/rack%203", "revision", "1", "text", edited), "/materials/rack%203?kept=2")
	s.want(s.get("/materials/rack%203?kept=2"), 200, "Kept as revision 2.", "(30–45\u00a0ft/min)")
	s.want(s.get("/sheet"), 200, `<option value="rack 3">`)

	// A sheet reckons with its figures: a force ten times as large cannot go unseen.
	sheet := "/sheet.json?callout=1/2-13+UNC-2A&lathe=inch-bench&length=1in&stickout=2in&material="
	same := s.get(sheet + "rack+3")
	s.want(same, 200)
	hard := strings.Replace(edited, "kc11_n_mm2 = 1350", "kc11_n_mm2 = 9999", 1)
	s.wantRedirect(s.post("/materials/rack%203", "revision", "2", "text", hard), "/materials/rack%203?kept=3")
	other := s.get(sheet + "rack+3")
	s.want(other, 200)
	if same.Body.String() == other.Body.String() {
		t.Error("the sheet does not change with the material")
	}

	w := s.post("/materials/rack%203", "revision", "2", "text", text)
	s.want(w, 409, "it was changed meanwhile", `name="revision" value="3"`)
	if typed(w) != text {
		t.Error("what was typed is lost")
	}
	s.wantRedirect(s.post("/materials/rack%203/remove", "revision", "3"), "/materials")
}

func TestMaterialFaults(t *testing.T) {
	s := newShop(t)
	s.wantRedirect(s.post("/materials", "name", "mine", "from", "1018"), "/materials/mine?kept=1")
	text := typed(s.get("/materials/mine"))
	for _, c := range []struct{ from, to, line, key, why string }{
		{"mc = 0.21", "mc = 2", "#line-7", "mc", "is not between"},
		{"hardness_hb", "hardnes_hb", "#line-13", "hardnes_hb", "nearest: hardness_hb"},
		{"9-12 m/min", "fast", "#line-15", "hss", "is not a range of speeds"},
		{`name = "mine"`, `name = "yours"`, "#line-2", "name", "is not the name under which it is kept"},
		{`kind = "low`, `kind = low`, "#line-4", "", "cannot be read"},
	} {
		wrong := strings.Replace(text, c.from, c.to, 1)
		if wrong == text {
			t.Fatalf("%q is not in the text", c.from)
		}
		w := s.post("/materials/mine", "revision", "1", "text", wrong)
		s.want(w, 422, `href="`+c.line+`"`, c.why)
		if c.key != "" {
			s.want(w, 422, "<code>"+c.key+"</code>")
		}
		if typed(w) != wrong {
			t.Errorf("%s: what was typed is lost", c.to)
		}
	}
	s.want(s.post("/materials/mine", "revision", "1", "text", text+text), 422)
	s.want(s.post("/materials/mine", "revision", "1", "text", text+strings.Replace(text, "mine", "other", 1)), 422)
	s.want(s.post("/materials/mine", "revision", "1", "text", ""), 422)
	s.want(s.post("/materials/mine", "revision", "1", "text", "\xff\x00"), 422)
	evil := text + `</textarea><script>alert(1)</script>`
	w := s.post("/materials/mine", "revision", "1", "text", evil)
	s.want(w, 422)
	if strings.Contains(w.Body.String(), "<script>") || typed(w) != evil {
		t.Error("what was typed came back as script, or is lost")
	}
	if kept, err := s.store.Materials().Get(t.Context(), "mine"); err != nil || kept.Revision != 1 {
		t.Errorf("a faulty text was kept: revision %d, %v", kept.Revision, err)
	}
}
