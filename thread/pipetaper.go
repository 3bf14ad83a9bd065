package thread

import (
	_ "embed"
	"fmt"
	"strings"
	"sync"

	"thrum/unit"
)

// TaperPipeFamily is the pipe thread of ISO 7-1 that seals on itself: R, a taper
// external thread; Rc, a taper internal one; Rp, a parallel internal one (BSPT).
const TaperPipeFamily Family = "R"

// taperPipeForm is the form of ISO 7-1 clause 4.2: 55 degrees between flanks that
// are inclined alike to the normal to the AXIS, on a cone of 1 in 16, so that the
// height of the triangle is a little less than that of the parallel form.
//
//	H = 0.960237 P   h = 0.640327 P   r = 0.137278 P
var taperPipeForm = func() Form {
	f := roundedForm("55° taper pipe", "ISO 7-1 clause 4.2", 27.5*unit.Degree, 2.0/3)
	f.H, f.CrestRadius, f.RootRadius = 0.960237, 0.137278, 0.137278
	return f
}()

// pipeTaper is the taper of pipe threads on the diameter, 1 in 16.
var pipeTaper = unit.MustRatio(1, 16)

//go:embed data/pipe-taper.csv
var pipeTaperText string

type pipeTaperRow struct {
	pipeRow
	plane, tExt, tInt, useful, usefulMax, usefulMin, fitting, tPar unit.Length
}

var pipeTaperTable = sync.OnceValue(func() []pipeTaperRow {
	var out []pipeTaperRow
	for _, f := range readTable(pipeTaperText) {
		base, ok := pipeNearest(number(f[0]))
		if !ok {
			panic("thread: taper pipe size without a parallel one: " + f[0])
		}
		mm := func(i int) unit.Length { return number(f[i]).Length() }
		out = append(out, pipeTaperRow{base, mm(1), mm(2), mm(3), mm(4), mm(5), mm(6), mm(7), mm(8)})
	}
	return out
})

func pipeTaperSeries() []SeriesRow {
	var out []SeriesRow
	for _, r := range pipeTaperTable() {
		out = append(out, SeriesRow{
			Family: TaperPipeFamily, Series: "R", Designation: "R " + r.size,
			Nominal: r.major, Pitch: r.exactPitch(), System: unit.Metric,
		})
	}
	return out
}

var (
	pipeTaperClaim = lazy(`^R[PC]? ?[0-9]|\bBSPT\b`)
	pipeTaperFirst = lazy(`^(?:R[PC]?|BSPT) ?` + pipeSize + `(?: ?- ?([0-9]+)(?: TPI)?)?[ -]*(.*)$`)
	pipeTaperAfter = lazy(`^` + pipeSize + `(?: ?- ?([0-9]+)(?: TPI)?)?[ -]*BSPT[ -]*(.*)$`)
)

func taperPipeFamily() family {
	return family{
		info: FamilyInfo{
			Name: TaperPipeFamily, What: "Pipe threads that seal on the thread, 55°: R and Rc taper, Rp parallel", Standard: "ISO 7-1",
			Examples: []string{"R 1/2", "Rp 1/2", "Rc 1/2", "1/2 BSPT"},
		},
		claims: func(c *callout) bool { return pipeTaperClaim().MatchString(c.fold) },
		parse:  parseTaperPipe,
		series: pipeTaperSeries,
	}
}

func parseTaperPipe(c *callout) (Thread, error) {
	m := pipeTaperFirst().FindStringSubmatch(c.fold)
	if m == nil {
		m = pipeTaperAfter().FindStringSubmatch(c.fold)
	}
	base, err := pipeCallout(c, m)
	if err != nil {
		return Thread{}, err
	}
	if rest := strings.Trim(m[3], " -"); rest != "" {
		return Thread{}, c.errorf("", "threads of ISO 7-1 have no class %q", rest)
	}
	row, ok := pipeTaperFind(base)
	if !ok {
		return Thread{}, c.errorf("sizes: 1/16 1/8 1/4 3/8 1/2 3/4 1 1 1/4 1 1/2 2 2 1/2 3 4 5 6; or G "+base.size+" of ISO 228-1",
			"ISO 7-1 has no size %s", base.size)
	}
	kind, err := taperPipeKind(c)
	if err != nil {
		return Thread{}, err
	}
	t := c.thread(TaperPipeFamily)
	t.Series, t.Side, t.System = kind, Internal, unit.Metric
	t.Nominal, t.Pitch, t.Engagement = row.major, row.exactPitch(), row.useful
	t.Basic = Diameters{row.major, row.pitch, row.minor}
	switch kind {
	case "Rp":
		t.Form = pipeForm
		t.Limits = shifted(t.Basic, row.tPar)
		t.Notes = append(t.Notes, Note{Text: fmt.Sprintf("All three diameters may lie %s to either side of their basic sizes.", row.tPar), Source: "ISO 7-1 table 1"})
	default:
		fillTaperPipe(&t, row)
	}
	t.Designation = kind + " " + row.size
	if t.Hand == Left {
		t.Designation += " LH"
	}
	t.Designation += startsSuffix(t)
	t.Notes = append(t.Notes, Note{Text: "A sealing compound belongs on the thread; gas and pressure work is for licensed fitters and local codes.", Source: "ISO 7-1 clause 1"})
	return c.settled(t)
}

func pipeTaperFind(base pipeRow) (pipeTaperRow, bool) {
	for _, r := range pipeTaperTable() {
		if r.size == base.size {
			return r, true
		}
	}
	return pipeTaperRow{}, false
}

// taperPipeKind tells R, Rp and Rc apart; BSPT says neither side.
func taperPipeKind(c *callout) (string, error) {
	kind, said := "R", External
	switch {
	case strings.HasPrefix(c.fold, "RP"):
		kind, said = "Rp", Internal
	case strings.HasPrefix(c.fold, "RC"):
		kind, said = "Rc", Internal
	case strings.Contains(c.fold, "BSPT"):
		side, err := c.pickSide(nil)
		if side == Internal {
			kind = "Rc"
		}
		return kind, err
	}
	_, err := c.pickSide(&said)
	return kind, err
}

// fillTaperPipe fills the taper threads R and Rc. The standard gives the
// tolerance as a place: the gauge plane may lie tExt or tInt to either side. In
// the plane itself that is a sixteenth of it on the diameter. The gauge plane of
// an internal thread lies half a pitch behind the face, and the thread must be
// deep enough for the longest external one.
func fillTaperPipe(t *Thread, row pipeTaperRow) {
	t.Form, t.Taper = taperPipeForm, pipeTaper
	g := &TaperGauge{Plane: t.Pitch.Length() / 2, Tolerance: row.tInt, Useful: row.usefulMax}
	if t.Series == "R" {
		t.Side = External
		*g = TaperGauge{
			Plane: row.plane, Tolerance: row.tExt,
			Useful: row.useful, UsefulMin: row.usefulMin, UsefulMax: row.usefulMax, Fitting: row.fitting,
		}
	}
	t.Gauge = g
	t.Limits = shifted(t.Basic, g.Tolerance/16)
	section := func(name string, at unit.Length) {
		g.Sections = append(g.Sections, TaperSection{name, at, t.DiametersAt(at)})
	}
	if t.Side == External {
		section("small end", 0)
		section("gauge plane", g.Plane)
		section("end of useful thread", g.Useful)
		return
	}
	section("gauge plane", g.Plane)
	section("face", 0)
}

// shifted returns limits that lie the same distance to either side of the basic sizes.
func shifted(b Diameters, by unit.Length) Limits {
	band := func(d unit.Length) Band { return mmBand((d - by).MM(), (d + by).MM()) }
	return Limits{band(b.Major), band(b.Pitch), band(b.Minor)}
}
