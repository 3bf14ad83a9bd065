package thread

import (
	"fmt"
	"math"
	"strings"

	"thrum/unit"
)

// The Unified inch threads: UN and UNR (flat or round root), and UNJ, whose
// screws have a large controlled root radius and whose minor diameters are
// larger to clear it.
const (
	UnifiedFamily  Family = "UN"
	UnifiedJFamily Family = "UNJ"
)

func unifiedFamily() family {
	return family{
		info: FamilyInfo{
			Name: UnifiedFamily, What: "Unified inch threads, 60°: UNC, UNF, UNEF, UN, UNS; UNR with a rounded root", Standard: "ASME B1.1",
			Examples: []string{
				"1/2-13 UNC-2A", "1/2-13 UNC-2A-LH", "#10-32 UNF-2B", ".500-13 UNC 2A", "1-1/8-16 UN-2A", "3/4-16 UNRF-3A",
				"1.125-16 UN-2A SPECIAL, LE .75", ".300-32 UNS-2A", "3/4-16 UNF-2A (2 STARTS)", "1/2-13",
			},
		},
		claims: func(c *callout) bool { return unifiedWord().MatchString(c.fold) },
		parse:  parseUnified,
		series: unifiedSeries,
	}
}

// bareUnified is the last entry of the dispatch: 1/2-13, without a word, is a
// Unified thread when no other family wants it. It names no family of its own.
func bareUnified() family {
	return family{claims: func(c *callout) bool { return unifiedForm().MatchString(c.fold) }, parse: parseUnified}
}

func unifiedJFamily() family {
	return family{
		info: FamilyInfo{
			Name: UnifiedJFamily, What: "Unified inch threads with a controlled root radius, 60°: UNJC, UNJF, UNJEF, UNJ, UNJS", Standard: "ASME B1.15",
			Examples: []string{"1/4-28 UNJF-3A", "3/8-24 UNJF-3B", "1/2-28 UNJEF-3A-LH"},
		},
		claims: func(c *callout) bool { return strings.Contains(c.fold, "UNJ") },
		parse:  parseUnified,
	}
}

// unifiedThread is a Unified callout taken to pieces.
type unifiedThread struct {
	size     unit.Ratio // inches
	tpi      unit.Ratio // threads per inch
	root     byte       // 'R', 'J' or 0
	series   string     // "UNC", "UNF", "UNEF", "UN" or "UNS"
	grade    byte       // '1', '2', '3'
	side     Side
	standard bool    // size and pitch are in the tables
	le       float64 // length of engagement asked for, inches; 0: the table's own
	leByName bool    // SPECIAL, LE: reckon with le even inside the table's range

	formulaOnly bool // leave the tabulated exceptions aside, to list where table and formula disagree
}

var (
	unifiedWord = lazy(`(?:^|[^A-Z])UN[A-Z]*\b`)
	// Size and series alone.
	unifiedShort = lazy(`^` + inchSize + `\s*-?\s*(UN[RJ]?(?:EF|C|F))` + unifiedClass + `$`)
	unifiedForm  = lazy(`^` + inchSize + `\s*[-X]\s*` + tpiOrLead + `\s*-?\s*(UN[RJ]?(?:EF|C|F|S)?)?` + unifiedClass + `$`)
)

// tpiOrLead matches 13, 4.5, 4 1/2, 4-1/2, or a pitch and lead: .0625P-.1250L.
const (
	tpiOrLead    = `(?:([0-9]+(?:\.[0-9]+|[ -]1/2)?)(?:\s*TPI)?|([0-9]*\.[0-9]+)P\s*-\s*([0-9]*\.[0-9]+)L)`
	unifiedClass = `(?:\s*-?\s*([1-9])\s?([AB])?(?:\s*/\s*([1-9])\s?([AB]))?)?`
)

func parseUnified(c *callout) (Thread, error) {
	u, err := readUnified(c)
	if err != nil {
		return Thread{}, err
	}
	return c.sound(u.thread(c))
}

// readUnified takes a callout to pieces and checks them.
func readUnified(c *callout) (u unifiedThread, err error) {
	m := unifiedForm().FindStringSubmatch(c.fold)
	if m == nil {
		m, err = withoutPitch(c)
	}
	if err != nil {
		return u, err
	}
	if m == nil {
		return u, c.errorf("write size-threads per inch, series and class: 1/2-13 UNC-2A, #10-32 UNF-2B, 1-1/8-16 UN-3A",
			"cannot be read as a Unified thread")
	}
	if err = u.readPitch(c, m[2], m[3], m[4]); err != nil {
		return u, err
	}
	if err = u.readSize(c, m[1]); err != nil {
		return u, err
	}
	if err = u.readSeries(c, m[5]); err != nil {
		return u, err
	}
	if err = u.readClass(c, m[6:10]); err != nil {
		return u, err
	}
	return u, u.readEngagement(c)
}

// withoutPitch reads 1/2 UNC-2A: size and series are enough where the series has
// one pitch for a size. It returns what unifiedForm would have matched.
func withoutPitch(c *callout) ([]string, error) {
	m := unifiedShort().FindStringSubmatch(c.fold)
	if m == nil {
		return nil, nil
	}
	size, err := readInches(m[1])
	if err != nil {
		return nil, c.errorf("write 1/2-13 UNC-2A", "size %q cannot be read", m[1])
	}
	number, isNumber := size, false
	if n, err := numbered(m[1]); err == nil {
		number, isNumber = n, true
	}
	var found []unifiedEntry
	for _, e := range unifiedTable() {
		if e.series == "UN"+strings.TrimLeft(m[2][2:], "RJ") && (e.size == size || isNumber && e.size == number) {
			found = append(found, e)
		}
	}
	switch len(found) {
	case 0:
		return nil, c.errorf("give the threads per inch: 1/2-13 UNC-2A", "the series %s has no size %s", m[2], m[1])
	case 1:
		tpi := numberText(found[0].tpi)
		c.note("ASME B1.1", "The callout gives no threads per inch; %s has %s at this size.", m[2], tpi)
		return append([]string{"", unifiedSizeText(found[0].size), tpi, "", ""}, m[2:]...), nil
	}
	return nil, c.errorf(fmt.Sprintf("write #%s-%s or %s-%s", m[1], numberText(found[0].tpi), m[1], numberText(found[1].tpi)),
		"size %s may be number %s or %s inches", m[1], m[1], m[1])
}

// readPitch reads threads per inch, or a pitch and a lead in inches.
func (u *unifiedThread) readPitch(c *callout, tpi, pitch, lead string) error {
	bad := func() error {
		return c.errorf("write 13, 4.5 or .0625P-.1250L", "threads per inch cannot be read or are not between 1 and 200")
	}
	var err error
	if pitch != "" {
		p, err1 := unit.ParseRatio(pitch)
		l, err2 := unit.ParseRatio(lead)
		if err1 != nil || err2 != nil || p.Sign() <= 0 {
			return bad()
		}
		n, err3 := l.Quo(p)
		if err3 != nil || !n.IsWhole() || n.Num() < 1 || n.Num() > MaxStarts {
			return c.errorf("lead = starts x pitch"+nearLeads(l, p, "in"), "a lead of %s in is not 1 to %d times the pitch %s in", lead, MaxStarts, pitch)
		}
		if c.starts != 0 && int64(c.starts) != n.Num() {
			return c.errorf("leave one of them out", "a lead of %s and a pitch of %s make %d starts, not %d", lead, pitch, n.Num(), c.starts)
		}
		c.starts = int(n.Num())
		u.tpi, err = p.Inv()
	} else {
		u.tpi, err = unit.ParseRatio(tpi)
	}
	if err != nil || u.tpi.Cmp(unit.Whole(1)) < 0 || u.tpi.Cmp(unit.Whole(200)) > 0 || u.tpi.Den() > 1e6 {
		return bad()
	}
	return nil
}

// readSize reads the size, and decides whether a bare 10 is number 10 or ten
// inches: by the table, and for special pitches by how fine the thread is.
func (u *unifiedThread) readSize(c *callout, s string) error {
	size, err := readInches(s)
	if err != nil {
		return c.errorf("write 1/2, .500, 1-1/8 or #10", "size %q cannot be read", s)
	}
	if n, err := numbered(s); err == nil {
		_, asNumber := unifiedStandard(n, u.tpi)
		_, asInches := unifiedStandard(size, u.tpi)
		switch {
		case asInches:
		case asNumber, size.Cmp(unit.Whole(6)) > 0 && u.tpi.Cmp(unit.Whole(20)) > 0:
			size = n
		case size.Cmp(unit.Whole(6)) <= 0 && u.tpi.Cmp(unit.Whole(20)) > 0:
			return c.errorf("write #"+s+" or "+s+".000", "size %s may be number %s or %s inches", s, s, s)
		}
	}
	u.size = size
	d, p := size.Float(), 1/u.tpi.Float()
	if d < 0.03 || d > 100 || size.Den() > 1e9 {
		return c.errorf("", "size %s is not between .03 and 100 inches", s)
	}
	if d < 1.6*p {
		return c.errorf(fmt.Sprintf("at least %.0f threads per inch on this diameter", math.Ceil(1.6/d)), "a pitch of %.4f in is too coarse for a diameter of %.4f in: hardly a core would be left", p, d)
	}
	return nil
}

// readSeries settles the series: what the callout says must be what the table
// has, or the thread must be called a special.
func (u *unifiedThread) readSeries(c *callout, word string) error {
	name := strings.TrimPrefix(word, "UN")
	if name != "" && (name[0] == 'R' || name[0] == 'J') {
		u.root, name = name[0], name[1:]
	}
	found, ok := unifiedStandard(u.size, u.tpi)
	u.standard = ok
	switch {
	case ok && (name == "" || "UN"+name == found):
		u.series = found
	case ok && name == "S":
		u.series = found
		c.note("ASME B1.1", "This is a standard size of the %s series, so its own limits are used, not those of a special.", found)
	case !ok && (name == "S" || c.special):
		u.series = "UNS"
		c.note("ASME B1.1", "A special diameter or pitch: limits by the formulas of the standard.")
	default:
		reason := "is no standard size of that series"
		if name == "" {
			reason = "is no standard combination of size and pitch"
		}
		return c.errorf(u.neighbours(), "%s-%s %s", unifiedSizeText(u.size), numberText(u.tpi), reason)
	}
	if u.root == 'J' && u.series == "UNS" && name == "" && !c.special {
		return c.errorf("write UNJS", "is no standard combination of size and pitch")
	}
	return nil
}

// readClass reads 2A, 2B, or the fit 2A/2B, of which the wanted side is taken.
func (u *unifiedThread) readClass(c *callout, m []string) error {
	grade, letter := m[0], m[1]
	if m[2] != "" { // a fit: both members named
		want := c.prefer
		if c.sideSaid {
			want = c.side
		}
		if letter == m[3] {
			return c.errorf("write 2A/2B", "a fit names one external (A) and one internal (B) class")
		}
		if (m[3] == "B") == (want == Internal) {
			grade, letter = m[2], m[3]
		}
		c.assume("The callout names the fit; the %s thread is taken.", want)
	}
	var said *Side
	switch letter {
	case "A":
		said = new(Side)
	case "B":
		s := Internal
		said = &s
	}
	side, err := c.pickSide(said)
	if err != nil {
		return err
	}
	u.side = side
	ab := map[Side]string{External: "A", Internal: "B"}[side]
	if grade == "" {
		grade = "2"
		if u.root == 'J' {
			grade = "3"
		}
		c.assume("No class is given; %s%s, the usual one, is assumed.", grade, ab)
	}
	u.grade = grade[0]
	if u.grade > '3' {
		return c.errorf("write 1A, 2A or 3A for a screw, 1B, 2B or 3B for a nut", "has no class %s", grade)
	}
	if u.root == 'J' && u.grade != '3' {
		return c.errorf("write 3A or 3B", "UNJ threads have only the classes 3A and 3B")
	}
	if u.root == 'R' && side == Internal {
		c.note("ASME B1.1", "UNR is a form of screws only; the nut for it has the UN form.")
		u.root = 0
	}
	return nil
}

// readEngagement reads LE .75.
func (u *unifiedThread) readEngagement(c *callout) error {
	le, ok, err := c.engagement(unit.Inches)
	if err != nil || !ok {
		return err
	}
	u.le = roundEven(le.Inches(), 6)
	u.leByName = c.special
	if u.le <= 0 || u.le > 200 {
		return c.errorf("write LE .75", "length of engagement %q is out of reach", c.le)
	}
	return nil
}
