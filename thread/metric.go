package thread

import (
	"fmt"
	"strings"

	"thrum/unit"
)

// The ISO metric threads: M, and MJ with the large controlled root radius.
const (
	MetricFamily  Family = "M"
	MetricJFamily Family = "MJ"
)

func metricFamily() family {
	return family{
		info: FamilyInfo{
			Name: MetricFamily, What: "ISO metric general purpose threads, 60°", Standard: "ISO 68-1, 261, 262, 965-1",
			Examples: []string{
				"M10", "M10x1.25", "M10x1.5-6g", "M10 x 1.25 LH - 4g6g", "M8x1-6H-LH", "M12-5g6g-S", "M20xPh3P1.5-6H",
				"M20xPh3P1.5 (2 STARTS)-7g6g", "M10x1.6-6g SPECIAL",
			},
		},
		claims: func(c *callout) bool { return metricStart().MatchString(c.fold) && !strings.HasPrefix(c.fold, "MJ") },
		parse:  parseMetric,
		series: metricSeries,
	}
}

func metricJFamily() family {
	return family{
		info: FamilyInfo{
			Name: MetricJFamily, What: "ISO metric threads with a controlled root radius, 60°", Standard: "ISO 5855-1",
			Examples: []string{"MJ6x1-4h6h", "MJ10x1.25-4H5H"},
		},
		claims: func(c *callout) bool { return strings.HasPrefix(c.fold, "MJ") && metricStart().MatchString(c.fold) },
		parse:  parseMetric,
	}
}

// metricThread is a metric callout taken to pieces.
type metricThread struct {
	j          bool // MJ
	d, p       unit.Ratio
	series     string // "coarse", "fine"; empty for a special
	side       Side
	pitchGrade int  // of the pitch diameter
	pitchPos   byte // 'g', 'H', ...
	crestGrade int  // of the major diameter of a screw, of the minor of a nut
	crestPos   byte
	group      byte // 'S', 'N', 'L' as written; 0 when not said
	le         float64
	computed   bool    // a figure below comes from the formula
	nFrom, nTo float64 // range of normal engagement, mm
}

var (
	metricStart = lazy(`^MJ?\s*[0-9]`)
	metricForm  = lazy(`^M(J?)\s*` + mmPattern + `(?:\s*(?:X|-)\s*(?:(?:PH|L)\s*` + mmPattern + `\s*-?\s*P\s*` + mmPattern + `|` + mmPattern + `))?` +
		`(?:(?:\s*-\s*|\s+)` + metricClass + `(?:\s*/\s*` + metricClass + `)?)?(?:\s*-\s*([SNL]))?(?:\s*-?\s*\(` + mmPattern + `\))?$`)
)

// startsOf is the way in which trapezoidal threads write several starts.
var startsOf = lazy(`^M\s*` + mmPattern + `\s*X\s*` + mmPattern + `\s*\(\s*P\s*` + mmPattern + `\s*\)`)

const (
	mmPattern   = `([0-9]*\.?[0-9]+)`
	metricClass = `([1-9][A-Z](?:[1-9][A-Z])?)`
)

func parseMetric(c *callout) (Thread, error) {
	m := metricForm().FindStringSubmatchIndex(c.fold)
	if m == nil {
		if s := startsOf().FindStringSubmatch(c.fold); s != nil {
			return Thread{}, c.errorf("for several starts write lead and pitch: M"+s[1]+"xPh"+s[2]+"P"+s[3], "names lead and pitch as other threads do")
		}
		return Thread{}, c.errorf("write M10x1.5-6g, M10 x 1.25 - 4g6g, M8x1-6H-LH or M20xPh3P1.5-6H", "cannot be read as a metric thread")
	}
	part := func(i int) string { // matched in upper case, taken as written: 6g and 6G differ
		if m[2*i] < 0 {
			return ""
		}
		return c.text[m[2*i]:m[2*i+1]]
	}
	t := metricThread{j: part(1) != ""}
	if err := t.readSize(c, part(2), part(3), part(4), part(5)); err != nil {
		return Thread{}, err
	}
	if c.le == "" {
		c.le = part(9)
	}
	if err := t.readGroup(c, part(8)); err != nil {
		return Thread{}, err
	}
	if err := t.readClass(c, part(6), part(7)); err != nil {
		return Thread{}, err
	}
	return c.sound(t.thread(c))
}

// readSize reads diameter and pitch, or lead and pitch, and finds the series.
func (t *metricThread) readSize(c *callout, d, lead, leadPitch, pitch string) error {
	var err error
	if t.d, err = unit.ParseRatio(d); err != nil || t.d.Float() < 0.25 || t.d.Float() > 2000 || t.d.Den() > 1e6 {
		return c.errorf("", "diameter %s mm is not between 0.25 and 2000 mm", d)
	}
	if lead != "" {
		pitch = leadPitch
	}
	row, listed := metricTable()[t.d]
	if pitch == "" {
		switch {
		case !listed:
			return c.errorf(metricNeighbours(t.d), "M%s is no standard diameter and no pitch is given", numberText(t.d))
		case row.coarse.IsZero():
			return c.errorf("write one of "+row.names(t.d), "M%s has no coarse pitch, so the pitch must be given", numberText(t.d))
		}
		t.p, t.series = row.coarse, "coarse"
		return nil
	}
	if t.p, err = unit.ParseRatio(pitch); err != nil || t.p.Float() < 0.05 || t.p.Float() > 50 || t.p.Den() > 1e6 {
		return c.errorf("", "pitch %s mm is not between 0.05 and 50 mm", pitch)
	}
	if t.d.Float() < 1.6*t.p.Float() {
		return c.errorf(fmt.Sprintf("at most %.3g mm on this diameter", t.d.Float()/1.6), "a pitch of %s mm is too coarse for a diameter of %s mm: hardly a core would be left", pitch, d)
	}
	if err := t.readLead(c, lead); err != nil {
		return err
	}
	t.series = row.series(t.p)
	if t.series == "" && !c.special {
		text := strings.TrimSpace(c.raw)
		hint := `write "` + text + ` special" to use it anyway`
		if !listed {
			return c.errorf(metricNeighbours(t.d)+"; "+hint, "M%s is no standard diameter", numberText(t.d))
		}
		return c.errorf(hint, "no standard pitch %s for M%s (%s)", numberText(t.p), numberText(t.d), row)
	}
	if t.series == "" {
		c.note("ISO 261", "A special diameter or pitch: where the tables of ISO 965-1 have no value, its formulas are used.")
	}
	return nil
}

// readLead turns a lead into a number of starts.
func (t *metricThread) readLead(c *callout, lead string) error {
	if lead == "" {
		return nil
	}
	asked, err := unit.ParseRatio(lead)
	l := asked
	if err == nil {
		l, err = l.Quo(t.p)
	}
	if err != nil || !l.IsWhole() || l.Num() < 1 || l.Num() > MaxStarts {
		return c.errorf("lead = starts x pitch: Ph3P1.5"+nearLeads(asked, t.p, "mm"), "a lead of %s mm is not 1 to %d times the pitch %s mm", lead, MaxStarts, numberText(t.p))
	}
	if c.starts != 0 && int64(c.starts) != l.Num() {
		return c.errorf("leave one of them out", "a lead of %s and a pitch of %s make %d starts, not %d", lead, numberText(t.p), l.Num(), c.starts)
	}
	c.starts = int(l.Num())
	return nil
}

// readGroup reads the group of engagement, S, N or L, or finds it from a length.
func (t *metricThread) readGroup(c *callout, group string) error {
	t.nFrom, t.nTo = metricEngagement(t.d, t.p)
	if group != "" {
		t.group = strings.ToUpper(group)[0]
	}
	le, ok, err := c.engagement(unit.Metric)
	if err != nil || !ok {
		return err
	}
	t.le = roundEven(le.MM(), 4)
	if t.le <= 0 || t.le > 5000 {
		return c.errorf("write LE 20", "length of engagement %q is out of reach", c.le)
	}
	if found := t.groupOf(t.le); group == "" {
		t.group = found
	} else if found != t.group {
		return c.errorf("leave one of them out", "an engagement of %s mm is group %c (N is over %s up to %s mm), not %c",
			c.le, found, mmText(t.nFrom), mmText(t.nTo), t.group)
	}
	return nil
}

func (t *metricThread) groupOf(le float64) byte {
	switch {
	case le <= t.nFrom:
		return 'S'
	case le > t.nTo:
		return 'L'
	}
	return 'N'
}

// readClass reads 6g, 4g6g, 6H, 4H5H, or a fit 6H/6g. The case of the letter
// tells the side: small for a screw, capital for a nut.
func (t *metricThread) readClass(c *callout, first, second string) error {
	class := first
	if second != "" {
		want := c.prefer
		if c.sideSaid {
			want = c.side
		}
		if metricSide(first) == metricSide(second) {
			return c.errorf("write 6H/6g", "a fit names one class of a nut (capital letter) and one of a screw (small letter)")
		}
		if metricSide(second) == want {
			class = second
		}
		c.assume("The callout names the fit; the %s thread is taken.", want)
	}
	var said *Side
	if class != "" {
		s := metricSide(class)
		said = &s
	}
	side, err := c.pickSide(said)
	if err != nil {
		if letter := class[1:2]; c.side == External && said != nil {
			return c.errorf("write the class of a screw with a small letter: "+strings.ToLower(class),
				"says external, but %s with a capital %s is a class for nuts", class, letter)
		}
		return err
	}
	t.side = side
	if said != nil && side == Internal && second == "" && c.prefer == External && !c.sideSaid && c.text == c.fold {
		c.assume("%s in capitals is a class for nuts, so the thread is internal. If the drawing writes everything in capitals and means a screw, write %s.",
			class, strings.ToLower(class))
	}
	if class == "" {
		class = t.usualClass()
		c.assume("No class is given; %s, the usual one, is assumed.", class)
	}
	t.pitchGrade, t.pitchPos = int(class[0]-'0'), class[1]
	t.crestGrade, t.crestPos = t.pitchGrade, t.pitchPos
	switch {
	case len(class) == 4:
		t.crestGrade, t.crestPos = int(class[2]-'0'), class[3]
		if (t.crestPos >= 'a') != (side == External) {
			return c.errorf("write 4g6g or 4H5H", "class %s mixes letters of screws and nuts", class)
		}
	case side == External && t.crestGrade%2 == 1: // the major diameter has only grades 4, 6 and 8
		t.crestGrade = map[int]int{3: 4, 5: 6, 7: 6, 9: 8}[t.crestGrade]
		if t.crestGrade != 0 {
			c.assume("The major diameter has only grades 4, 6 and 8; %s is read as %s%d%c.", class, class, t.crestGrade, t.crestPos)
		}
	}
	return t.checkClass(c, class)
}

func (t *metricThread) checkClass(c *callout, class string) error {
	if t.side == External {
		if !strings.ContainsRune("efgh", rune(t.pitchPos)) || !strings.ContainsRune("efgh", rune(t.crestPos)) {
			return c.errorf("write 6g, 6h, 6f, 6e or 4g6g", "class %s: the positions of screws are e, f, g and h", class)
		}
		if t.pitchGrade < 3 || t.pitchGrade > 9 || t.crestGrade != 4 && t.crestGrade != 6 && t.crestGrade != 8 {
			return c.errorf("write 6g or 4g6g", "class %s: grades are 3 to 9 for the pitch diameter, and 4, 6 or 8 for the major diameter", class)
		}
		return nil
	}
	if !strings.ContainsRune("GH", rune(t.pitchPos)) || !strings.ContainsRune("GH", rune(t.crestPos)) {
		return c.errorf("write 6H or 6G", "class %s: the positions of nuts are G and H", class)
	}
	if min(t.pitchGrade, t.crestGrade) < 4 || max(t.pitchGrade, t.crestGrade) > 8 {
		return c.errorf("write 6H or 4H5H", "class %s: grades of nuts are 4 to 8", class)
	}
	return nil
}

func metricSide(class string) Side {
	if class[1] >= 'a' {
		return External
	}
	return Internal
}

// usualClass is the class for a medium fit (ISO 965-1, recommended classes), or
// the one that MJ threads are made to (ISO 5855-1, from memory).
func (t *metricThread) usualClass() string {
	d := t.d.Float()
	if t.j {
		switch {
		case t.side == External:
			return "4h6h"
		case d <= 5:
			return "4H6H"
		}
		return "4H5H"
	}
	external, internal := "6g", "6H"
	switch {
	case t.group == 'S':
		external, internal = "5g6g", "5H"
	case t.group == 'L':
		external, internal = "7g6g", "7H"
	case d <= 1.4:
		external, internal = "6h", "5H"
	}
	if t.side == Internal {
		return internal
	}
	return external
}
