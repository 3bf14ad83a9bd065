package thread

import (
	_ "embed"
	"fmt"
	"strings"
	"sync"

	"thrum/unit"
)

// PipeFamily is the parallel pipe thread of ISO 228-1 (G, BSPP): 55 degrees, for
// joints that are sealed elsewhere.
const PipeFamily Family = "G"

// pipeForm is the parallel pipe form, ISO 228-1 clause 4: the Whitworth form.
var pipeForm = roundedForm("55° parallel pipe (Whitworth)", "ISO 228-1 clause 4", 27.5*unit.Degree, 2.0/3)

//go:embed data/pipe-parallel.csv
var pipeText string

type pipeRow struct {
	size                string
	bore, tpi           unit.Ratio
	major, pitch, minor unit.Length
	td2, tD1            unit.Length // class A and internal pitch diameter; internal minor diameter
}

var pipeTable = sync.OnceValue(func() []pipeRow {
	var out []pipeRow
	for _, f := range readTable(pipeText) {
		mm := func(i int) unit.Length { return number(f[i]).Length() }
		out = append(out, pipeRow{f[0], number(f[0]), number(f[1]), mm(2), mm(3), mm(4), mm(5), mm(6)})
	}
	return out
})

func (r pipeRow) exactPitch() unit.Ratio {
	p, err := perInch(r.tpi)
	if err != nil {
		panic(err)
	}
	return p
}

func pipeSeries() []SeriesRow {
	var out []SeriesRow
	for _, r := range pipeTable() {
		out = append(out, SeriesRow{
			Family: PipeFamily, Series: "G", Designation: "G " + r.size,
			Nominal: r.major, Pitch: r.exactPitch(), System: unit.Metric,
		})
	}
	return out
}

// pipeSize matches the size of a pipe thread: 1/2, 1 1/4, 1-1/4, 2.
const pipeSize = `([0-9]+[ -][0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]+)(?:"| ?IN\.?)?`

var (
	pipeClaim = lazy(`^G ?[0-9]|\bBSPP\b|\bBSPF\b|\bBSP\b`)
	pipeFirst = lazy(`^(?:G|BSPP?|BSPF) ?` + pipeSize + `(?: ?- ?([0-9]+)(?: TPI)?)?[ -]*(.*)$`)
	pipeAfter = lazy(`^` + pipeSize + `(?: ?- ?([0-9]+)(?: TPI)?)?[ -]*BSP[PF]?[ -]*(.*)$`)
)

func pipeFamily() family {
	return family{
		info: FamilyInfo{
			Name: PipeFamily, What: "Parallel pipe threads, 55°, sealed elsewhere", Standard: "ISO 228-1",
			Examples: []string{"G 1/2 A", "G1/2B", "G 1/2", "1/2 BSPP"},
		},
		claims: func(c *callout) bool { return pipeClaim().MatchString(c.fold) },
		parse:  parsePipe,
		series: pipeSeries,
	}
}

// pipeCallout reads size, an optional number of threads per inch that must be the
// standard's, and what follows.
func pipeCallout(c *callout, m []string) (pipeRow, error) {
	if m == nil {
		return pipeRow{}, c.errorf("write G 1/2 A, R 1/2 or Rp 1/2", "cannot be read as a pipe thread")
	}
	size, err := unit.ParseRatio(m[1])
	if err != nil {
		return pipeRow{}, c.errorf("write G 1/2", "size %q is not a number", m[1])
	}
	row, ok := pipeNearest(size)
	if !ok {
		return pipeRow{}, c.errorf("the nearest is "+row.size, "%s is not a size of pipe thread", mixed(size))
	}
	if m[2] != "" && m[2] != mixed(row.tpi) {
		return pipeRow{}, c.errorf("leave the threads per inch out", "a %s pipe thread has %s threads per inch, not %s", row.size, mixed(row.tpi), m[2])
	}
	return row, nil
}

func pipeNearest(size unit.Ratio) (best pipeRow, exact bool) {
	gap := -1.0
	for _, r := range pipeTable() {
		g := r.bore.Float() - size.Float()
		if g < 0 {
			g = -g
		}
		if gap < 0 || g < gap {
			best, gap = r, g
		}
	}
	return best, best.bore == size
}

func parsePipe(c *callout) (Thread, error) {
	m := pipeFirst().FindStringSubmatch(c.fold)
	if m == nil {
		m = pipeAfter().FindStringSubmatch(c.fold)
	}
	row, err := pipeCallout(c, m)
	if err != nil {
		return Thread{}, err
	}
	class := strings.Trim(m[3], " -")
	var said *Side
	switch s := External; class {
	case "A", "B":
		said = &s
	case "":
	default:
		return Thread{}, c.errorf("external threads are class A or B; internal threads have no class", "%q is not a class of ISO 228-1", class)
	}
	if said == nil && !c.sideSaid && strings.HasPrefix(c.fold, "G") {
		s := Internal // the standard gives a class letter to external threads only
		said = &s
		c.assume("Without A or B behind it, G %s is an internal thread; write G %s A or B for an external one.", row.size, row.size)
	}
	side, err := c.pickSide(said)
	if err != nil {
		return Thread{}, err
	}
	if side == External && class == "" {
		class = "A"
		c.assume("No class is given; class A, the closer one, is assumed (B has twice its tolerance on the pitch diameter).")
	}
	t := c.thread(PipeFamily)
	t.Series, t.Class, t.Side, t.System = "G", class, side, unit.Metric
	t.Nominal, t.Pitch, t.Form, t.Engagement = row.major, row.exactPitch(), pipeForm, row.major
	t.Basic = Diameters{row.major, row.pitch, row.minor}
	t.Limits = pipeLimits(row, side, class)
	t.Designation = strings.TrimSpace(fmt.Sprintf("G %s %s", row.size, class))
	if t.Hand == Left {
		t.Designation += "-LH"
	}
	t.Designation += startsSuffix(t)
	t.Notes = append(t.Notes, Note{Text: "The joint is sealed outside the thread; crests may be truncated within the limits.", Source: "ISO 228-1 clauses 1 and 4"})
	return c.settled(t)
}

// pipeLimits are the limits of ISO 228-1 table 1: the basic sizes are the greatest
// of the external thread and the least of the internal one.
func pipeLimits(r pipeRow, side Side, class string) Limits {
	if side == Internal {
		return Limits{
			Major: Band{Min: r.major},
			Pitch: mmBand(r.pitch.MM(), (r.pitch + r.td2).MM()),
			Minor: mmBand(r.minor.MM(), (r.minor + r.tD1).MM()),
		}
	}
	tol := r.td2
	if class == "B" {
		tol = 2 * r.td2
	}
	return Limits{
		Major: mmBand((r.major - 2*r.td2).MM(), r.major.MM()),
		Pitch: mmBand((r.pitch - tol).MM(), r.pitch.MM()),
		Minor: Band{Max: r.minor},
	}
}
