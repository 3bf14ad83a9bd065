package web

import (
	"fmt"
	"net/http"
	"strings"

	"thrum/cut"
	"thrum/store"
	"thrum/unit"
)

type materialsPage struct {
	frame
	Own   []materialLine
	Table []materialLine
	Add   addForm
}

// materialLine is a material in a list.
type materialLine struct {
	Name     string
	Faulty   bool // the text cannot be read by this version of the program
	Revision int
	materialFacts
}

// materialFacts is what the text of a material means, in words.
type materialFacts struct {
	Kind, Remark string
	HSS, Carbide string
	Force        string // kc1.1 and mc
	ForceFrom    string
	SpeedFrom    string
	Facts        []fact
}

type fact struct{ Key, Label, Text, Note string }

// materials is the shelf of the shop's own materials.
func (s *Server) materials() kind {
	return kind{
		menu: "materials", what: "material",
		keys:  materialKeys,
		shelf: func() store.Shelf { return s.config.Store.Materials() },
		ready: func(name string) (string, bool) {
			for _, m := range cut.Materials() {
				if m.Name == name {
					return materialText(m), true
				}
			}
			return "", false
		},
		check: checkMaterial,
		tell: func(page *shelfPage, text string) {
			if ms, err := cut.ReadMaterials(textName, strings.NewReader(text)); err == nil && len(ms) > 0 {
				f := materialFactsOf(ms[0])
				page.Material = &f
			}
		},
		list: (*Server).materialsPage,
	}
}

// checkMaterial wants one material in a text, and that it answers to the name under
// which it is kept, if it is to be kept: by that name a sheet looks for it.
func checkMaterial(name, text string) error {
	ms, err := cut.ReadMaterials(textName, strings.NewReader(text))
	if err != nil {
		return err
	}
	if len(ms) != 1 {
		return &unit.InputError{Field: textName, Value: fmt.Sprint(len(ms)), Reason: "materials are in the text", Hint: "keep each under its own name"}
	}
	if name == "" {
		return nil
	}
	if m, err := cut.FindMaterial(name, ms...); err != nil || !m.OwnTable {
		line := 1
		if at := nameLine.FindStringIndex(text); at != nil {
			line += strings.Count(text[:at[0]], "\n")
		}
		return &unit.InputError{
			Field: fmt.Sprintf("%s:%d: name", textName, line), Value: ms[0].Name, Reason: "is not the name under which it is kept",
			Hint: "write name = " + quoted(name) + `, or put that name among "also"`,
		}
	}
	return nil
}

// materialsShow lists the shop's own materials and the table.
func (s *Server) materialsShow(w http.ResponseWriter, r *http.Request) {
	s.materialsPage(w, r, addForm{Name: control{Name: "name", Label: "Name", Kind: "text", Hint: "a short name of your own: " + s.materials().hint()}}, http.StatusOK)
}

func (s *Server) materialsPage(w http.ResponseWriter, r *http.Request, a addForm, status int) {
	page := materialsPage{frame: s.frame(r, "Materials", "materials"), Add: a}
	var from []option
	if s.config.Store != nil {
		kept, err := s.config.Store.Materials().List(r.Context())
		if err != nil {
			s.broken(w, r, err)
			return
		}
		for _, t := range kept {
			line := materialLine{Name: t.Name, Revision: t.Revision, Faulty: true}
			if ms, err := cut.ReadMaterials(t.Name, strings.NewReader(t.TOML)); err == nil && len(ms) > 0 {
				line.Faulty, line.materialFacts = false, materialFactsOf(ms[0])
			}
			page.Own = append(page.Own, line)
			from = append(from, option{Value: t.Name, Label: t.Name, Group: "the shop's own"})
		}
	}
	for _, m := range cut.Materials() {
		page.Table = append(page.Table, materialLine{Name: m.Name, materialFacts: materialFactsOf(m)})
		from = append(from, option{Value: m.Name, Label: m.Name, Group: "table"})
	}
	page.Add.From = chosenFrom(a.From, from)
	s.show(w, r, status, "materials", page)
}

func materialFactsOf(m cut.Material) materialFacts {
	f := materialFacts{
		Kind: m.Kind, Remark: m.Remark, HSS: speedWords(m.HSS), Carbide: speedWords(m.Carbide),
		Force: fmt.Sprintf("%s\u00a0N/mm², mc\u00a0%s", figure(m.Specific.MPa()), figure(m.Exponent)), ForceFrom: m.Sources.Force, SpeedFrom: m.Sources.Speed,
	}
	add := func(key, label, text, note string) {
		if text != "" {
			f.Facts = append(f.Facts, fact{key, label, text, note})
		}
	}
	add("kc", "Cutting force, kc1.1", f.Force, fmt.Sprintf("may be off by %.0f %% either way; %s", 100*m.Within, m.Sources.Force))
	add("hss", "Threading, HSS", f.HSS, m.Sources.Speed)
	add("carbide", "Threading, carbide", f.Carbide, "")
	if m.BuiltUp.Given() {
		add("edge", "Sticks to the edge", m.Tendency.String()+", "+speedWords(m.BuiltUp), m.Sources.Edge)
	}
	if m.Hardens > 0 {
		add("hardens", "Hardens below", m.Hardens.Format(unit.Metric, 3)+" of chip", "thinner chips only rub and harden the surface")
	}
	add("fluids", "Oil or coolant", strings.Join(m.Fluids, "; "), "in order of preference")
	add("e", "Young's modulus", figure(m.E.MPa()/1000)+" GPa", m.Sources.Physical)
	add("density", "Density", figure(m.Density.KgPerM3())+" kg/m³", "")
	if m.Hardness > 0 {
		add("hardness", "Brinell hardness", figure(m.Hardness), "")
	}
	if m.Expansion > 0 {
		add("expansion", "Expands", figure(m.Expansion*1e6)+" µm per metre and kelvin", "")
	}
	add("also", "Other names", strings.Join(m.Also, ", "), "")
	return f
}

// speedWords gives a range in both measures.
func speedWords(r cut.SpeedRange) string {
	if !r.Given() {
		return ""
	}
	return fmt.Sprintf("%.3g–%.3g\u00a0m/min (%.0f–%.0f\u00a0ft/min)", r.Low.MPerMin(), r.High.MPerMin(), r.Low.FtPerMin(), r.High.FtPerMin())
}
