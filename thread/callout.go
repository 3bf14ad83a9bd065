package thread

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"unicode"
	"unicode/utf8"

	"thrum/unit"
)

// callout is a callout made uniform, with the remarks that every family shares
// taken out of it. What is left for the family is in text and fold: ASCII only,
// one kind of dash (-), the sign x for "by", decimal points, single spaces.
type callout struct {
	raw      string // as typed, for errors
	text     string // case kept: 6g and 6G differ
	fold     string // text in upper case, byte for byte
	prefer   Side
	side     Side // from the words EXTERNAL, INTERNAL; see sideSaid
	sideSaid bool
	hand     Hand
	starts   int    // 0 when not said
	special  bool   // SPECIAL was written
	le       string // length of engagement as written after LE; empty when not said
	notes    []Note
}

// lazy compiles a pattern when it is first needed, since a command that reads
// one callout needs few of them.
func lazy(pattern string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(pattern) })
}

var (
	handRemark = lazy(`(?i)(^|[^A-Z])(LH|RH|(?:LEFT|RIGHT)(?:[ -]?HAND(?:ED)?)?)([^A-Z0-9]|$)`)
	// A count of starts, in brackets or not: (2 START), 2 STARTS, TWO-START, DOUBLE START.
	startRemark   = lazy(`(?i)\(?\s*\b([0-9]{1,3}|SINGLE|ONE|DOUBLE|TWO|TRIPLE|THREE|QUADRUPLE|FOUR|FIVE|SIX|SEVEN|EIGHT)[ -]?STARTS?\b\s*\)?`)
	specialRemark = lazy(`(?i)\b(?:SPECIAL|SPL)\b\.?`)
	leRemark      = lazy(`(?i)\b(?:LE|LENGTH OF ENGAGEMENT|ENGAGEMENT)\b\s*[=:]?\s*([0-9./ -]*[0-9](?:\s*(?:MM|IN|"))?)`)
	sideRemark    = lazy(`(?i)\b(EXTERNAL|INTERNAL|EXT|INT)\b\.?`)
	threadRemark  = lazy(`(?i)\b(?:SCREW )?(?:THREADS?|THDS?)\b\.?`)
	emptyRemark   = lazy(`\(\s*\)`)
	doubledDash   = lazy(`-(?:\s*-)+`)
)

var countWords = map[string]int{
	"SINGLE": 1, "ONE": 1, "DOUBLE": 2, "TWO": 2, "TRIPLE": 3, "THREE": 3,
	"QUADRUPLE": 4, "FOUR": 4, "FIVE": 5, "SIX": 6, "SEVEN": 7, "EIGHT": 8,
}

// uniform maps the signs that drawings, word processors and keyboards use.
var uniform = strings.NewReplacer(
	"×", "x", "✕", "x", "*", "x", "╳", "x", "–", "-", "—", "-", "−", "-", "‐", "-", "‑", "-",
	"“", `"`, "”", `"`, "″", `"`, "''", `"`, "’’", `"`, "⁄", "/", "Ø", "", "ø", "", "⌀", "", "∅", "",
	"½", " 1/2", "¼", " 1/4", "¾", " 3/4", "⅛", " 1/8", "⅜", " 3/8", "⅝", " 5/8", "⅞", " 7/8",
	"°", " deg ", "µ", "u", "μ", "u",
	"\u00a0", " ", "\u2007", " ", "\u2009", " ", "\u202f", " ", "\u2002", " ", "\u2003", " ",
)

// readCallout checks, normalises and takes the remarks out of a callout.
func readCallout(s string, prefer Side) (*callout, error) {
	c := &callout{raw: s, prefer: prefer}
	t := strings.TrimSpace(s)
	if len(t) > MaxCallout {
		return nil, c.errorf("give the thread alone, such as 1/2-13 UNC-2A", "is longer than the %d bytes of any callout", MaxCallout)
	}
	if t == "" {
		return nil, c.errorf("write a callout such as 1/2-13 UNC-2A or M10x1.5-6g", "is empty")
	}
	if !utf8.ValidString(t) {
		return nil, c.errorf("", "is not text (invalid UTF-8)")
	}
	if i := strings.IndexFunc(t, unicode.IsControl); i >= 0 {
		return nil, c.errorf("", "holds a control character at byte %d", i+1)
	}
	t = uniform.Replace(t)
	for _, r := range t {
		if r > unicode.MaxASCII {
			return nil, c.errorf("", "holds the sign %q, which no thread designation uses", r)
		}
	}
	t = commas(t)
	t, err := c.remarks(t)
	if err != nil {
		return nil, err
	}
	if strings.Count(t, "-") > 1 {
		t = doubledDash().ReplaceAllString(t, "-")
	}
	t = strings.TrimRight(strings.TrimLeft(strings.Join(strings.Fields(t), " "), " -;"), " -;.")
	if t == "" {
		return nil, c.errorf("write a callout such as 1/2-13 UNC-2A or M10x1.5-6g", "names no thread")
	}
	c.text, c.fold = t, strings.ToUpper(t)
	return c, nil
}

// commas turns a comma between digits into a decimal point and any other into a space.
func commas(t string) string {
	b := []byte(t)
	digit := func(i int) bool { return i >= 0 && i < len(b) && b[i] >= '0' && b[i] <= '9' }
	for i := range b {
		if b[i] != ',' {
			continue
		}
		b[i] = ' '
		if digit(i-1) && digit(i+1) {
			b[i] = '.'
		}
	}
	return string(b)
}

// remarks takes out what may follow any designation and records it. Each pattern
// is tried only when one of its words is there: most callouts have none of them,
// and compiling a pattern takes longer than everything else.
func (c *callout) remarks(t string) (string, error) {
	upper := strings.ToUpper(t)
	has := func(words ...string) bool {
		return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(upper, w) })
	}
	if has("START") {
		if m := startRemark().FindStringSubmatch(t); m != nil {
			n, ok := countWords[strings.ToUpper(m[1])]
			if !ok {
				n, _ = strconv.Atoi(m[1])
			}
			if n < 1 || n > MaxStarts {
				return "", c.errorf("write 2 STARTS", "%s starts: a thread has 1 to %d", m[1], MaxStarts)
			}
			c.starts = n
			t = strings.Replace(t, m[0], " ", 1)
		}
	}
	if has("LE", "ENGAGEMENT") {
		if m := leRemark().FindStringSubmatchIndex(t); m != nil {
			c.le = strings.TrimSpace(t[m[2]:m[3]])
			t = t[:m[0]] + " " + t[m[1]:]
		}
	}
	if has("LH", "RH", "LEFT", "RIGHT") {
		if m := handRemark().FindStringSubmatchIndex(t); m != nil {
			if strings.ToUpper(t[m[4]:m[5]])[0] == 'L' {
				c.hand = Left
			}
			t = t[:m[4]] + " " + t[m[5]:]
		}
	}
	if has("SPECIAL", "SPL") && specialRemark().MatchString(t) {
		c.special = true
		t = specialRemark().ReplaceAllString(t, " ")
	}
	if has("EXT", "INT") {
		if m := sideRemark().FindString(t); m != "" {
			c.sideSaid = true
			if strings.ToUpper(m)[0] == 'I' {
				c.side = Internal
			}
			t = sideRemark().ReplaceAllString(t, " ")
		}
	}
	if has("THREAD", "THD") {
		t = threadRemark().ReplaceAllString(t, " ")
	}
	if has("(") {
		t = emptyRemark().ReplaceAllString(t, " ")
	}
	return t, nil
}

// MaxStarts is the largest number of starts that is read.
const MaxStarts = 20

// thread begins the Thread of a family: what the remarks have already said.
func (c *callout) thread(f Family) Thread {
	return Thread{Callout: c.raw, Family: f, Hand: c.hand, Starts: max(c.starts, 1), Notes: c.notes}
}

// pickSide settles external or internal. said is nil when the class does not
// tell; a class that contradicts the word EXTERNAL or INTERNAL is an error.
func (c *callout) pickSide(said *Side) (Side, error) {
	switch {
	case said != nil && c.sideSaid && *said != c.side:
		return 0, c.errorf("leave one of them out", "says %s, but its class is for %s threads", c.side, *said)
	case said != nil:
		return *said, nil
	case c.sideSaid:
		return c.side, nil
	}
	c.assume("The callout does not say whether the thread is external or internal; %s is assumed.", c.prefer)
	return c.prefer, nil
}

// sound refuses limits that leave no thread, which a coarse class makes of a tiny
// special, and remarks on a tolerance that is wide for the pitch.
func (c *callout) sound(t Thread) (Thread, error) {
	l := t.Limits
	if l.Pitch.Min <= 0 || l.Minor.Max <= 0 || l.Minor.Min < 0 || t.Side == External && l.Major.Min <= l.Pitch.Min || t.Side == Internal && l.Minor.Max >= l.Pitch.Max {
		return Thread{}, c.errorf("take a finer class or a coarser pitch", "the tolerance of class %s leaves no thread of this size and pitch", t.Class)
	}
	if w := l.Pitch.Width(); w > 0.3*t.Pitch.Length() {
		t.Notes = append(t.Notes, Note{Text: "The pitch diameter tolerance is more than three tenths of the pitch: flanks may hardly meet. Ask whether class and engagement are meant.", Assumed: true})
	}
	return t, nil
}

// assume adds a note that the user should confirm; note adds one that informs.
func (c *callout) assume(format string, args ...any) {
	c.notes = append(c.notes, Note{Text: fmt.Sprintf(format, args...), Assumed: true})
}

func (c *callout) note(source, format string, args ...any) {
	c.notes = append(c.notes, Note{Text: fmt.Sprintf(format, args...), Source: source})
}

// engagement reads the length of engagement in the family's system; ok is false
// when the callout gives none.
func (c *callout) engagement(sys unit.System) (l unit.Length, ok bool, err error) {
	if c.le == "" {
		return 0, false, nil
	}
	l, err = unit.ParseLength(c.le, sys)
	if err != nil || l <= 0 {
		return 0, false, c.errorf("write LE .75 or LE 20", "length of engagement %q is not a length", c.le)
	}
	return l, true, nil
}

// inchSize matches a size as inch drawings write it at the start of a
// designation: #10, No. 10, 1/2, 1-1/2, 1 1/2, .500, 1.125, 1, with or without
// an inch sign. It is a pattern for use in a family's own expression; the one
// group it opens holds the size.
const inchSize = `((?:#|NO\.? ?)?[0-9]+|[0-9]+[ -][0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]*\.[0-9]+)(?:"| ?IN\.?)?`

// readInches turns what inchSize matched into inches, exactly; numbered sizes
// are 0.060 in plus 0.013 in a number.
func readInches(s string) (unit.Ratio, error) {
	s = strings.ToUpper(strings.TrimSpace(s))
	if n, ok := strings.CutPrefix(s, "#"); ok {
		return numbered(n)
	}
	if n, ok := strings.CutPrefix(s, "NO"); ok {
		return numbered(n)
	}
	return unit.ParseRatio(s)
}

func numbered(s string) (unit.Ratio, error) {
	n, err := strconv.Atoi(strings.Trim(s, ". "))
	if err != nil || n < 0 || n > 14 {
		return unit.Ratio{}, &unit.InputError{Field: "size", Value: s, Reason: "is not a numbered size", Hint: "numbers run from 0 to 14"}
	}
	return unit.NewRatio(60+13*int64(n), 1000)
}

// nearLeads names the leads on either side that the pitch can have; nothing where the
// lead cannot be read.
func nearLeads(lead, pitch unit.Ratio, unitName string) string {
	q := lead.Float() / pitch.Float()
	if !(q > 0) || q > 1e6 {
		return ""
	}
	var near []string
	for _, n := range []float64{math.Floor(q), math.Ceil(q)} {
		if n = min(max(n, 1), MaxStarts); len(near) == 0 || near[0] != leadText(n*pitch.Float()) {
			near = append(near, leadText(n*pitch.Float()))
		}
	}
	return "; nearest: " + strings.Join(near, " or ") + " " + unitName
}

func leadText(l float64) string { return strconv.FormatFloat(l, 'g', 6, 64) }
