package trial

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"thrum/unit"
)

// Readings are repeated measurements of the same parts by one or more people.
type Readings struct {
	People []string      `json:"people"` // "" when the table names nobody
	Parts  []string      `json:"parts"`
	Values [][][]float64 `json:"readings"` // by person, by part, in the order of the table
}

// mostReadings bounds a table of readings.
const mostReadings = 20000

// ReadReadings reads a table of readings, one a line. With a first line of names the
// columns part and reading are needed and person may be there; without one, lines of
// two columns are part and reading, of three person, part and reading. Commas,
// semicolons or tabs stand between; lines that begin with # are left out.
func ReadReadings(r io.Reader) (*Readings, error) {
	raw, err := io.ReadAll(io.LimitReader(r, MaxTable+1))
	if err != nil {
		return nil, err
	}
	if len(raw) > MaxTable {
		return nil, &unit.InputError{Field: "table", Value: itoa(len(raw)) + " bytes or more", Reason: "is too large", Hint: "at most 4 MB"}
	}
	raw = bytes.TrimPrefix(raw, []byte("\ufeff"))
	c := csv.NewReader(bytes.NewReader(raw))
	c.Comment, c.TrimLeadingSpace, c.Comma = '#', true, separatorOf(raw)
	t := readingTable{columns: map[string]int{}, out: &Readings{}, cells: map[[2]int][]float64{}}
	for n := 0; ; n++ {
		rec, err := c.Read()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, lineFault(err)
		}
		if n > mostReadings {
			return nil, at(c, 0, "table", itoa(n)+" lines", "is too long", "at most 20000 readings")
		}
		if err := t.take(n == 0, rec, c); err != nil {
			return nil, err
		}
	}
	if len(t.cells) == 0 {
		return nil, &unit.InputError{Field: "table", Reason: "holds no reading", Hint: "one a line: bar 1, 8.5"}
	}
	return t.whole(), nil
}

// separatorOf is what stands between the columns: a tab or a semicolon when the first
// line has one, so that a comma can be a decimal comma.
func separatorOf(raw []byte) rune {
	for line := range bytes.Lines(raw) {
		line = bytes.TrimSpace(line)
		if len(line) == 0 || line[0] == '#' {
			continue
		}
		for _, sep := range "\t;" {
			if bytes.ContainsRune(line, sep) {
				return sep
			}
		}
		break
	}
	return ','
}

type readingTable struct {
	columns map[string]int
	out     *Readings
	cells   map[[2]int][]float64
}

// take reads one line; the first may name the columns.
func (t *readingTable) take(first bool, rec []string, c *csv.Reader) error {
	if first {
		named, err := t.head(rec, c)
		if named || err != nil {
			return err
		}
	}
	field := func(name string) string {
		if i, ok := t.columns[name]; ok && i < len(rec) {
			return strings.TrimSpace(rec[i])
		}
		return ""
	}
	text := field("reading")
	v, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || math.Abs(v) > 1e12 {
		return at(c, t.columns["reading"], "reading", text, "is not a number", "write it like 8.5")
	}
	part := field("part")
	if part == "" {
		return at(c, t.columns["part"], "part", "", "is missing", "name the part that was measured")
	}
	k := [2]int{indexIn(&t.out.People, field("person")), indexIn(&t.out.Parts, part)}
	t.cells[k] = append(t.cells[k], v)
	return nil
}

// head takes the first line for names of columns when it holds one of them.
func (t *readingTable) head(rec []string, c *csv.Reader) (named bool, err error) {
	for i, h := range rec {
		switch h = strings.ToLower(strings.TrimSpace(h)); h {
		case "person", "part", "reading":
			named = true
			t.columns[h] = i
		}
	}
	if named {
		for _, need := range []string{"part", "reading"} {
			if _, ok := t.columns[need]; !ok {
				return true, at(c, 0, "table", strings.Join(rec, ","), "has no column "+need, "columns part and reading are needed, person when there are several")
			}
		}
		return true, nil
	}
	switch len(rec) {
	case 2:
		t.columns = map[string]int{"part": 0, "reading": 1}
	case 3:
		t.columns = map[string]int{"person": 0, "part": 1, "reading": 2}
	default:
		return false, at(c, 0, "table", strings.Join(rec, ","), "has neither two nor three columns", "part and reading, or person, part and reading")
	}
	return false, nil
}

func (t *readingTable) whole() *Readings {
	r := t.out
	r.Values = make([][][]float64, len(r.People))
	for p := range r.People {
		r.Values[p] = make([][]float64, len(r.Parts))
		for q := range r.Parts {
			r.Values[p][q] = t.cells[[2]int{p, q}]
		}
	}
	return r
}

func indexIn(list *[]string, name string) int {
	for i, n := range *list {
		if n == name {
			return i
		}
	}
	*list = append(*list, name)
	return len(*list) - 1
}

// GaugeFinding is what readings say about the way of measuring. Figures are in the
// units of the readings.
type GaugeFinding struct {
	Readings
	Again    Spread     `json:"again"`                  // one person, one part, measured again
	Between  [2]float64 `json:"again_between"`          // where that standard deviation may lie, 95 %
	Smallest float64    `json:"smallest_difference"`    // of two single readings by one person that is more than measuring, 95 %
	Apart    Spread     `json:"from_part_to_part"`      // single readings of different parts; none with one part
	Studies  []Study    `json:"studies,omitempty"`      // with two people or more
	Anyone   float64    `json:"smallest_by_two_people"` // the same when two people measured; zero with one
	Words    string     `json:"words"`                  // from which difference on readings are told apart
	Notes    []string   `json:"notes,omitempty"`        // how sure that is, and for what it will do
}

// Judge says how far the readings can be trusted. With one person: how much measuring
// again varies. With several, every one every part equally often, people are told from
// parts and noise too.
//
// Two single readings differ by more than measuring explains when they are further
// apart than t sqrt 2 times the standard deviation of one; for several people t sqrt 2
// times both spreads together, which for many readings is the reproducibility limit of
// ISO 5725-6 (2.8, from memory).
func (r *Readings) Judge() (*GaugeFinding, error) {
	f := &GaugeFinding{Readings: *r}
	if err := f.uneven(); err != nil {
		return nil, err
	}
	var all [][]float64
	for _, person := range r.Values {
		all = append(all, person...)
	}
	var ok bool
	if f.Again, ok = Repeatability(all); !ok {
		return nil, &unit.InputError{Field: "table", Value: fmt.Sprintf("%d parts", len(r.Parts)), Reason: "has no part that was measured twice", Hint: "measure the same five bars again, without looking at the first readings"}
	}
	f.Between[0], f.Between[1] = f.Again.Between()
	f.Smallest = f.Again.Smallest()
	if !(f.Again.SD > 0) {
		f.Smallest = 0
	}
	if len(r.People) > 1 {
		return f, f.compare()
	}
	f.partToPart()
	f.word()
	return f, nil
}

// partToPart finds how much single readings of different parts vary: the parts and the
// measuring together, by one-way analysis of variance with the mean number of readings
// of a part, n0 = (N - sum n^2 / N) / (k - 1).
// Source: Searle, Casella and McCulloch, Variance Components, 3.6 (from memory).
func (f *GaugeFinding) partToPart() {
	var means []float64
	var n, squares, sum float64
	for _, p := range f.Values[0] {
		if len(p) > 0 {
			m := float64(len(p))
			means = append(means, mean(p))
			n, squares, sum = n+m, squares+m*m, sum+m*mean(p)
		}
	}
	k := float64(len(means))
	if k < 2 {
		return
	}
	between, i := 0.0, 0
	for _, p := range f.Values[0] {
		if len(p) > 0 {
			d := means[i] - sum/n
			between += float64(len(p)) * d * d
			i++
		}
	}
	noise := f.Again.SD * f.Again.SD
	part := max(0, (between/(k-1)-noise)/((n-squares/n)/(k-1)))
	f.Apart = Spread{SD: math.Sqrt(part + noise), DF: len(means) - 1}
}

// compare adds what several people show.
func (f *GaugeFinding) compare() error {
	v, err := Variances(f.Values)
	if err != nil {
		return err
	}
	f.Studies = []Study{v}
	if s, err := AverageRange(f.Values); err == nil {
		f.Studies = append(f.Studies, s)
	}
	f.Anyone = max(f.Smallest, tQuantile(.975, float64(f.Again.DF))*math.Sqrt2*v.Gauge)
	f.word()
	return nil
}

// uneven refuses several people who did not measure alike: it names the first person and
// part that lack readings.
func (f *GaugeFinding) uneven() error {
	if len(f.People) < 2 {
		return nil
	}
	want := len(f.Values[0][0])
	for p, person := range f.Values {
		for q, cell := range person {
			if len(cell) != want {
				return &unit.InputError{Field: "readings of " + f.People[p] + " on " + f.Parts[q], Value: itoa(len(cell)), Reason: fmt.Sprintf("are not %d as elsewhere", want), Hint: "everyone measures each part equally often"}
			}
		}
	}
	return nil
}

func (f *GaugeFinding) word() {
	if f.Smallest == 0 {
		f.Words = "Every part read the same again: the readings are coarser than what varies. Read one figure finer, or take half a division as what measuring leaves open."
		return
	}
	f.Words = fmt.Sprintf("Two single readings by one person that differ by less than %.3g may be the same size.", f.Smallest)
	note := func(format string, args ...any) { f.Notes = append(f.Notes, fmt.Sprintf(format, args...)) }
	if f.Again.DF < 5 {
		note("That rests on %d repeats: the spread may lie anywhere from %.3g to %.3g; five bars measured twice are the least.", f.Again.DF, f.Between[0], f.Between[1])
	}
	if len(f.Studies) == 0 {
		return
	}
	note("When two people measured, by less than %.3g.", f.Anyone)
	// 10 and 30 in 100: Measurement Systems Analysis, 4th ed., AIAG (from memory).
	switch s := f.Studies[0]; {
	case s.Percent <= 10:
		note("The measuring is good enough for these parts.")
	case s.Percent <= 30:
		note("The measuring may do for these parts, when little hangs on it.")
	default:
		note("The measuring hides these parts: mend it before comparing them.")
	}
}
