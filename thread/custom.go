package thread

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"thrum/unit"
)

// CustomFamily is any thread that a form file describes.
const CustomFamily Family = "custom"

// formKeys are the keys of a form file. docs/threads-other.md explains them.
var formKeys = []string{
	"name", "source", "side", "hand", "starts", "diameter", "pitch", "tpi", "angle", "leading_flank", "trailing_flank",
	"depth", "crest_flat", "root_flat", "crest_radius", "root_radius", "root_radius_min", "root_corner",
	"taper", "gauge_length", "engagement",
	"limits.major.min", "limits.major.max", "limits.pitch.min", "limits.pitch.max", "limits.minor.min", "limits.minor.max",
}

// FromTOML reads a form file: a thread that no standard names, described by its
// own figures. name is used in error messages, which give line and key; all
// faults are reported together (errors.Join).
//
//	name     = "Thury 0"     # goes into the designation
//	diameter = "6mm"         # outside diameter of the screw; for a nut, of the screw that fits
//	pitch    = "1mm"         # or tpi = "26"
//	angle    = 47.5          # between the flanks, in degrees; or leading_flank and trailing_flank
//	depth    = 0.6           # a number is a fraction of the pitch, a text a length: "0.6mm"
//	root_radius  = 0.2       # optional, as are crest_radius, crest_flat, root_flat, root_corner, root_radius_min
//	side     = "external"    # or "internal"
//	hand     = "right"       # or "left"
//	starts   = 1
//	taper    = "1/16"        # on the diameter; then gauge_length, from the small end to where diameter holds
//	source   = "drawing 17-204"
//
//	[limits.pitch]           # and limits.major, limits.minor; each may be left out
//	min = "5.32mm"
//	max = "5.40mm"
//
// What is left out follows from the rest: flats from angle and depth, with crest
// and root alike; limits from the basic sizes, one-sided, with a remark.
func FromTOML(name string, r io.Reader) (Thread, error) {
	f, err := readFormFile(name, r)
	if err != nil {
		return Thread{}, err
	}
	f.unknownKeys()
	title, source := f.text("name"), f.text("source")
	t := Thread{Callout: title, Family: CustomFamily, Form: Form{Name: title, Source: source}}
	f.size(&t)
	f.form(&t)
	if len(f.faults) == 0 {
		f.basic(&t)
		f.limits(&t)
	}
	if len(f.faults) > 0 {
		slices.SortStableFunc(f.faults, func(a, b error) int { return faultLine(a) - faultLine(b) })
		return Thread{}, errors.Join(f.faults...)
	}
	t.Designation = customDesignation(t)
	if source != "" {
		t.Notes = append(t.Notes, Note{Text: "Figures from the form file " + name + ".", Source: source})
	} else {
		t.Notes = append(t.Notes, Note{Text: "Figures from the form file " + name + ", which names no source.", Assumed: true})
	}
	return t, nil
}

// faultLine sorts faults in the order of the file; those without a line come last.
func faultLine(err error) int {
	var in *unit.InputError
	var line int
	if errors.As(err, &in) {
		if _, rest, ok := strings.Cut(in.Field, ":"); ok {
			if n, _ := fmt.Sscanf(rest, "%d:", &line); n == 1 {
				return line
			}
		}
	}
	return math.MaxInt32
}

func (f *formFile) unknownKeys() {
	for k, v := range f.values {
		if slices.Contains(formKeys, k) {
			continue
		}
		best, least := "", len(k)
		for _, known := range formKeys {
			if d := distance(k, known); d < least {
				best, least = known, d
			}
		}
		hint := "keys: " + strings.Join(formKeys[:8], ", ") + " ..."
		if best != "" && least <= 1+len(k)/3 {
			hint = "perhaps " + best
		}
		f.fault(v, "is not a key of a form file", hint)
	}
}

// need faults the absence of a key that a thread cannot do without.
func (f *formFile) need(key, hint string) {
	if _, ok := f.values[key]; !ok {
		f.fault(formValue{key: key}, "is missing", hint)
	}
}

// size reads everything but the form.
func (f *formFile) size(t *Thread) {
	f.need("name", `name = "Thury 0"`)
	f.need("diameter", `diameter = "6mm"`)
	if d, ok := f.length("diameter", 0.2, 5000); ok {
		t.Nominal = d.Length()
	}
	t.System = unit.Metric
	_, byTPI := f.values["tpi"]
	v, byPitch := f.values["pitch"]
	switch {
	case byTPI && byPitch:
		f.fault(v, "is given together with tpi", "give one of them")
	case byTPI:
		t.System = unit.Inches
		t.Pitch = f.tpi()
	case byPitch:
		t.Pitch, _ = f.length("pitch", 0.02, 500)
		if strings.ContainsAny(v.text, `i"″'`) {
			t.System = unit.Inches
		}
	default:
		f.need("pitch", `pitch = "1mm", or tpi = "26"`)
	}
	if p := t.Pitch.Float(); p > 0 && t.Nominal > 0 && 2*p > 3*t.Nominal.MM() {
		f.fault(v, "is too coarse for the diameter", "")
	}
	t.Starts = 1
	if n, ok := f.number("starts", 1, MaxStarts); ok {
		t.Starts = int(n)
		if float64(t.Starts) != n {
			f.fault(f.values["starts"], "is not a whole number", "")
		}
	}
	if f.choice("side", "external", "internal") == "internal" {
		t.Side = Internal
	}
	if f.choice("hand", "right", "left") == "left" {
		t.Hand = Left
	}
	t.Engagement = t.Nominal
	if l, ok := f.length("engagement", 0.1, 5000); ok {
		t.Engagement = l.Length()
	}
	f.taper(t)
}

func (f *formFile) tpi() unit.Ratio {
	v := f.values["tpi"]
	if v.other != "" {
		f.fault(v, "is not a number", `tpi = "11 1/2"`)
		return unit.Ratio{}
	}
	n, err := unit.ParseRatio(v.text)
	if err != nil || !(n.Float() >= 0.1 && n.Float() <= 1000) {
		f.fault(v, "is not a number of threads per inch between 0.1 and 1000", `tpi = "11 1/2"`)
		return unit.Ratio{}
	}
	p, err := perInch(n)
	if err != nil {
		f.fault(v, err.Error(), "")
	}
	return p
}

func (f *formFile) taper(t *Thread) {
	s := f.text("taper")
	if s == "" {
		if v, ok := f.values["gauge_length"]; ok && f.values["taper"].key == "" {
			f.fault(v, "is given without a taper", `taper = "1/16"`)
		}
		return
	}
	r, err := unit.ParseRatio(strings.Replace(s, ":", "/", 1))
	if err != nil || r.Sign() <= 0 || r.Float() > 1 {
		f.fault(f.values["taper"], "is not a taper on the diameter", `write "1/16"`)
		return
	}
	t.Taper, t.Gauge = r, &TaperGauge{}
	if l, ok := f.length("gauge_length", 0, 5000); ok {
		t.Gauge.Plane = l.Length()
	}
}

// form reads the profile and completes it: across one pitch, the flat of the
// crest, the two flanks and the flat of the root make one pitch,
//
//	crest + root + depth (tan a + tan b) = 1
func (f *formFile) form(t *Thread) {
	pitch := t.Pitch.Float()
	g := &t.Form
	f.flanks(g)
	f.need("depth", `depth = 0.6 (of the pitch), or depth = "0.6mm"`)
	depth, ok := f.perPitch("depth", pitch, 3)
	if ok && depth <= 0 {
		f.fault(f.values["depth"], "is not a depth", "")
	}
	g.Depth = depth
	slope := g.Leading.Tan() + g.Trailing.Tan()
	if slope > 1e-9 {
		g.H = 1 / slope
	}
	rest := 1 - depth*slope
	if ok && rest < -1e-9 {
		f.fault(f.values["depth"], fmt.Sprintf("is more than flanks of %s can reach in one pitch (%.5g of the pitch)", g.Included().Format(1), 1/slope), "")
		return
	}
	crest, hasCrest := f.perPitch("crest_flat", pitch, 1)
	root, hasRoot := f.perPitch("root_flat", pitch, 1)
	switch {
	case hasCrest && hasRoot && math.Abs(crest+root-rest) > 0.01:
		f.fault(f.values["root_flat"], fmt.Sprintf("does not fit: flats and flanks make %.4g pitches together", crest+root+depth*slope), "leave root_flat out")
	case hasCrest && !hasRoot:
		root = rest - crest
	case hasRoot && !hasCrest:
		crest = rest - root
	case !hasCrest && !hasRoot:
		crest, root = rest/2, rest/2
	}
	if crest < -1e-9 || root < -1e-9 {
		key := "crest_flat"
		if !hasCrest {
			key = "root_flat"
		}
		f.fault(f.values[key], "leaves no room for the other flat", "")
	}
	g.CrestFlat, g.RootFlat = max(crest, 0), max(root, 0)
	g.CrestRadius, _ = f.perPitch("crest_radius", pitch, 1)
	g.RootRadius, _ = f.perPitch("root_radius", pitch, 1)
	g.RootRadiusLo, _ = f.perPitch("root_radius_min", pitch, 1)
	g.RootCorner, _ = f.perPitch("root_corner", pitch, 1)
	if g.RootRadius > 0 && g.RootCorner > 0 {
		f.fault(f.values["root_corner"], "is given together with root_radius", "root_radius rounds the whole root, root_corner the corners of a flat one")
	}
}

func (f *formFile) flanks(g *Form) {
	angle, sym := f.number("angle", 0, 160)
	lead, hasLead := f.number("leading_flank", 0, 80)
	trail, hasTrail := f.number("trailing_flank", 0, 80)
	_, anySym := f.values["angle"]
	_, anyLead := f.values["leading_flank"]
	_, anyTrail := f.values["trailing_flank"]
	switch {
	case anySym && (anyLead || anyTrail):
		f.fault(f.values["angle"], "is given together with the angle of a flank", "give angle alone, or both leading_flank and trailing_flank")
	case sym:
		g.Leading, g.Trailing = unit.Angle(angle/2)*unit.Degree, unit.Angle(angle/2)*unit.Degree
	case hasLead && hasTrail:
		g.Leading, g.Trailing = unit.Angle(lead)*unit.Degree, unit.Angle(trail)*unit.Degree
	case anyLead != anyTrail:
		key := map[bool]string{true: "trailing_flank", false: "leading_flank"}[anyLead]
		f.need(key, "give both flanks, or angle alone")
	case !anySym && !anyLead:
		f.need("angle", "angle = 60 (between the flanks, in degrees)")
	}
}

// basic fills the basic sizes: the pitch line is where ridge and groove are each
// half a pitch wide.
func (f *formFile) basic(t *Thread) {
	p := t.Pitch.Float()
	depth := t.Form.Depth * p
	line := depth / 2 // square flanks have no pitch line of their own
	if slope := t.Form.Leading.Tan() + t.Form.Trailing.Tan(); slope > 1e-9 {
		line = (0.5 - t.Form.CrestFlat) / slope * p
	}
	d := t.Nominal.MM()
	minor := d - 2*depth
	pitch := d - 2*line
	if t.Side == Internal {
		pitch = minor + 2*line
	}
	if minor <= 0 {
		f.fault(f.values["depth"], "leaves no core in a screw of this diameter", "")
		return
	}
	if line < 0 || line > depth {
		f.fault(f.values["crest_flat"], "puts the pitch line, where ridge and groove are equally wide, outside the flank", "")
	}
	t.Basic = Diameters{t.Nominal, unit.Length(pitch), unit.Length(minor)}
}

// limits reads the limits; a diameter without any has its basic size as the limit
// of most metal.
func (f *formFile) limits(t *Thread) {
	var open []string
	read := func(name string, basic unit.Length, band *Band) {
		lo, hasLo := f.length("limits."+name+".min", 0.01, 5000)
		hi, hasHi := f.length("limits."+name+".max", 0.01, 5000)
		switch {
		case hasLo && hasHi && lo.Cmp(hi) > 0:
			f.fault(f.values["limits."+name+".min"], "is above the maximum", "")
		case hasLo || hasHi:
			*band = Band{lo.Length(), hi.Length()}
		case t.Side == Internal:
			*band = Band{Min: basic}
			open = append(open, name)
		default:
			*band = Band{Max: basic}
			open = append(open, name)
		}
	}
	read("major", t.Basic.Major, &t.Limits.Major)
	read("pitch", t.Basic.Pitch, &t.Limits.Pitch)
	read("minor", t.Basic.Minor, &t.Limits.Minor)
	l := t.Limits
	if len(f.faults) == 0 && !(l.Major.Mean() > l.Pitch.Mean() && l.Pitch.Mean() > l.Minor.Mean()) {
		f.fault(formValue{key: "limits"}, "do not lie in order", "major above pitch above minor diameter")
	}
	if len(open) > 0 {
		t.Notes = append(t.Notes, Note{Text: "No limits are given for " + strings.Join(open, ", ") + ": the basic size is the limit of most metal, the other limit is open.", Assumed: true})
	}
}

func customDesignation(t Thread) string {
	p := numberText(t.Pitch) + " mm"
	if t.System == unit.Inches {
		if n, err := unit.MustRatio(127, 5).Quo(t.Pitch); err == nil {
			p = mixed(n) + " tpi"
		}
	}
	s := fmt.Sprintf("%s (%s x %s)", t.Callout, t.Nominal.Format(t.System, 3+int(t.System)), p)
	return leftSuffix(s, t) + startsSuffix(t)
}
