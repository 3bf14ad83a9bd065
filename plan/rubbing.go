package plan

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"thrum/unit"
	"thrum/vibe"
)

// OwnCut is what was seen of waves on a thread that was cut in this set-up: at this
// speed each pass left Growth times the waves of the last. It is read from the height
// of the marks, or from the level of the tone, where 6 dB a pass is a factor of two.
type OwnCut struct {
	RPM    unit.Rotation `json:"rpm"`
	Growth float64       `json:"growth"`
}

const mostOwnCuts = 20

// ParseOwnCuts reads "200: 1.4, 115: 0.8": speeds with what each pass left of the last.
func ParseOwnCuts(text string) ([]OwnCut, error) {
	var out []OwnCut
	for part := range strings.FieldsFuncSeq(text, func(r rune) bool { return r == ',' || r == ';' || r == '\n' }) {
		if strings.TrimSpace(part) == "" {
			continue
		}
		rpm, growth, ok := strings.Cut(part, ":")
		n, err1 := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(strings.TrimSpace(rpm), "rpm")), 64)
		g, err2 := strconv.ParseFloat(strings.TrimSpace(strings.TrimPrefix(strings.TrimSpace(growth), "x")), 64)
		if !ok || err1 != nil || err2 != nil {
			return nil, &unit.InputError{
				Field: "own cuts", Value: strings.TrimSpace(part), Reason: "is not a speed with what each pass left of the last", Hint: `write "200: 1.4, 115: 0.8": rev/min, and the factor from pass to pass`,
			}
		}
		out = append(out, OwnCut{unit.Rotation(n), g})
	}
	return out, checkOwnCuts(out)
}

// FormatOwnCuts writes what ParseOwnCuts reads.
func FormatOwnCuts(cuts []OwnCut) string {
	var out []string
	for _, c := range cuts {
		out = append(out, fmt.Sprintf("%g: %g", c.RPM.RPM(), c.Growth))
	}
	return strings.Join(out, ", ")
}

func checkOwnCuts(cuts []OwnCut) error {
	if len(cuts) > mostOwnCuts {
		return &unit.InputError{Field: "own cuts", Value: fmt.Sprint(len(cuts)), Reason: fmt.Sprintf("are more than %d", mostOwnCuts), Hint: "give one for each speed"}
	}
	for _, c := range cuts {
		if !(c.RPM >= 1 && c.RPM <= 10000) || !(c.Growth >= 0.01 && c.Growth <= 100) || math.IsNaN(c.Growth) {
			return &unit.InputError{
				Field: "own cuts", Value: fmt.Sprintf("%g: %g", c.RPM.RPM(), c.Growth), Reason: "is not a speed with what each pass left of the last",
				Hint: "1 to 10000 rev/min, and a factor from 0.01 to 100",
			}
		}
	}
	return nil
}

// mostRubbing is the largest rubbing of an edge that is taken, N/m.
const mostRubbing = 1e8

// ParseRubbing reads low, likely and high in N/m: "7e4, 1.1e5, 1.8e5"; one figure stands
// for all three.
func ParseRubbing(text string) (*Doubtful, error) {
	var f []float64
	for _, part := range strings.FieldsFunc(text, func(r rune) bool { return r == ',' || r == ';' || r == ' ' }) {
		v, err := strconv.ParseFloat(part, 64)
		if err != nil {
			f = nil
			break
		}
		f = append(f, v)
	}
	if len(f) == 1 {
		f = []float64{f[0], f[0], f[0]}
	}
	if len(f) != 3 {
		return nil, &unit.InputError{Field: "rubbing", Value: text, Reason: "is not low, likely and high", Hint: `write "7e4, 1.1e5, 1.8e5", in N/m`}
	}
	d := &Doubtful{f[0], f[1], f[2]}
	return d, Request{Rubbing: d}.checkRubbing()
}

func (r Request) checkRubbing() error {
	d := r.Rubbing
	switch {
	case d == nil:
		return nil
	case len(r.OwnCuts) > 0:
		return &unit.InputError{Field: "rubbing", Value: formatRubbing(*d), Reason: "is given together with own cuts", Hint: "give one or the other"}
	case !(d.Low > 0 && d.Low <= d.Likely && d.Likely <= d.High && d.High <= mostRubbing):
		return &unit.InputError{Field: "rubbing", Value: formatRubbing(*d), Reason: "is not low, likely and high in N/m", Hint: `in print 3e4 to 6e5: write "7e4, 1.1e5, 1.8e5"`}
	}
	return nil
}

// formatRubbing writes what ParseRubbing reads.
func formatRubbing(d Doubtful) string { return fmt.Sprintf("%.6g,%.6g,%.6g", d.Low, d.Likely, d.High) }

// keepFitted puts what was fitted to own cuts into a request for another set-up, to
// which the cuts themselves do not belong.
func (b *builder) keepFitted(r *Request) {
	if len(r.OwnCuts) == 0 {
		return
	}
	p := b.rubbing
	d, err := ParseRubbing(fmt.Sprintf("%.6g,%.6g,%.6g", 1000*p.Low.NPerMM(), 1000*p.Likely.NPerMM(), 1000*p.High.NPerMM()))
	if err == nil {
		r.OwnCuts, r.Rubbing = nil, d
	}
}

// process is the rubbing of the edge: fitted from the request's own cuts, else that of
// the material's file, else what is found in print.
func (b *builder) process(in vibe.Input) (vibe.Process, error) {
	r := b.mat.Rubbing
	p := vibe.Process{Low: r.Low, Likely: r.Likely, High: r.High}
	if d := b.req.Rubbing; d != nil {
		return vibe.Process{Low: unit.Stiffness(d.Low / 1000), Likely: unit.Stiffness(d.Likely / 1000), High: unit.Stiffness(d.High / 1000)}, nil
	}
	if len(b.req.OwnCuts) == 0 {
		if p != (vibe.Process{}) {
			b.reason("vibration", "the material's file", "rubbing of the edge %s, fitted from earlier cuts", rubbingWords(p, b.req.Units))
		}
		return p, nil
	}
	in.Process, in.Other, in.Steps, in.Starters = p, nil, nil, nil
	a, err := vibe.Assess(in)
	if err != nil {
		return p, err
	}
	var cuts []vibe.OwnCut
	for _, c := range b.req.OwnCuts {
		cuts = append(cuts, vibe.OwnCut{Speed: c.RPM, Growth: c.Growth})
	}
	f, err := a.FitProcess(cuts)
	if err != nil {
		return p, err
	}
	text := "rubbing of the edge " + rubbingWords(f.Process, b.req.Units) + ", fitted to what was seen of your own cuts (" + FormatOwnCuts(b.req.OwnCuts) + ")"
	if f.Unbounded {
		text += "; they leave it open on one side: a cut at another speed would close it"
	}
	b.reason("vibration", "see docs/vibration.md", "%s; in a material file: rubbing_n_m = \"%.2g, %.2g, %.2g\"", text, 1000*f.Low.NPerMM(), 1000*f.Likely.NPerMM(), 1000*f.High.NPerMM())
	return f.Process, nil
}

// rubbingWords prints the rubbing of an edge in N/m, on inch sheets in lbf/in.
func rubbingWords(p vibe.Process, sys unit.System) string {
	scale, name := unit.Stiffness(0.001), "N/m"
	if sys == unit.Inches {
		scale, name = unit.PoundPerThou/1000, "lbf/in"
	}
	return fmt.Sprintf("%.2g %s (%.2g to %.2g)", float64(p.Likely/scale), name, float64(p.Low/scale), float64(p.High/scale))
}
