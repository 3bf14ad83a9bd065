package web

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

	"thrum/cut"
)

// materialText writes a material in the form that cut.ReadMaterials reads, to begin
// one of the shop's own from.
func materialText(m cut.Material) string {
	var b strings.Builder
	line := func(key, value string) { fmt.Fprintf(&b, "%s = %s\n", key, value) }
	word := func(key, value string) {
		if value != "" {
			line(key, quoted(value))
		}
	}
	number := func(key string, v float64) {
		if v != 0 {
			line(key, figure(v))
		}
	}
	speed := func(key string, r cut.SpeedRange) {
		if r.Given() {
			line(key, quoted(figure(r.Low.MPerMin())+"-"+figure(r.High.MPerMin())+" m/min"))
		}
	}
	list := func(key string, all []string) {
		var q []string
		for _, s := range all {
			q = append(q, quoted(s))
		}
		if len(q) > 0 {
			line(key, "["+strings.Join(q, ", ")+"]")
		}
	}
	b.WriteString("[[material]]\n")
	word("name", m.Name)
	list("also", m.Also)
	word("kind", m.Kind)
	word("remark", m.Remark)
	number("kc11_n_mm2", m.Specific.MPa())
	line("mc", figure(m.Exponent))
	number("ke_n_mm", m.EdgeForce.NPerMM())
	number("kc_uncertainty", m.Within)
	number("e_gpa", m.E.MPa()/1000)
	line("poisson", figure(m.Poisson))
	number("density_kg_m3", m.Density.KgPerM3())
	number("hardness_hb", m.Hardness)
	number("expansion_um_m_k", m.Expansion*1e6)
	speed("hss", m.HSS)
	speed("carbide", m.Carbide)
	speed("built_up_edge", m.BuiltUp)
	speed("built_up_edge_worst", m.BuiltUpWorst)
	line("built_up_edge_tendency", quoted(m.Tendency.String()))
	number("hardens_below_mm", float64(m.Hardens))
	if r := m.Rubbing; r.Likely > 0 {
		word("rubbing_n_m", fmt.Sprintf("%s, %s, %s", figure(1000*r.Low.NPerMM()), figure(1000*r.Likely.NPerMM()), figure(1000*r.High.NPerMM())))
	}
	list("fluids", m.Fluids)
	word("source.force", m.Sources.Force)
	word("source.speed", m.Sources.Speed)
	word("source.built_up_edge", m.Sources.Edge)
	word("source.physical", m.Sources.Physical)
	return b.String()
}

// figure prints a figure as it was written in the table: twelve digits are more
// than any has, and fewer than show the rounding of a change of units.
func figure(v float64) string { return strconv.FormatFloat(roundTo(v), 'f', -1, 64) }

func roundTo(v float64) float64 {
	f, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 12, 64), 64)
	if err != nil {
		return v
	}
	return f
}

// quoted writes a text in quotes; what JSON escapes, TOML reads.
func quoted(s string) string {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(s); err != nil {
		return `""`
	}
	return strings.TrimSpace(b.String())
}
