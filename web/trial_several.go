package web

import (
	"fmt"
	"html/template"
	"math/rand/v2"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"thrum/render"
	"thrum/trial"
)

type severalPage struct {
	frame
	What     []control
	Faults   []fault
	Offers   []severalOffer
	Letters  []letterLine
	Aliases  []trial.Aliased
	Summary  string
	Seed     string
	Runs     []severalRun
	Bars     []severalBar // of a square
	Places   []int
	Effects  *trial.Effects
	Square   *trial.SquareFinding
	Means    []meanLine
	Picture  template.HTML
	Answered bool
}

type severalOffer struct {
	Words, Link string
	Chosen      bool
}

type letterLine struct{ Letter, Name, Low, High string }

type severalRun struct {
	Run    int
	Levels []string
	Result control
}

type severalBar struct {
	Bar    int
	Places []severalPlace
}

type severalPlace struct {
	Treatment string
	Result    control
}

type meanLine struct{ Name, Mean string }

// level is one factor of the form: its name and what its two levels are called.
type level struct{ name, low, high string }

// severalShow lays out several changes at once and reads their results. Nothing is
// kept: the address holds all of it.
func (s *Server) severalShow(w http.ResponseWriter, r *http.Request) {
	q := tidy(r.URL.Query())
	page := severalPage{frame: s.frame(r, "Several changes at once", "trials")}
	in := reader{q: q}
	page.Seed = q.Get("seed")
	if page.Seed == "" {
		page.Seed = strconv.FormatUint(uint64(rand.Uint32()), 10)
	}
	seed, err := strconv.ParseUint(page.Seed, 10, 64)
	if err != nil {
		in.bad("seed", page.Seed, "is not a whole number", "any number from 0 up, such as one thrown with dice")
	}
	switch levels, treatments := levelsOf(q.Get("factors")), treatmentsOf(q.Get("treatments")); {
	case len(levels) > 0 && len(treatments) > 0:
		in.bad("treatments", q.Get("treatments"), "stand beside factors", "fill in one of the two")
	case len(levels) > 0:
		page.combined(&in, levels, seed)
	case len(treatments) > 0:
		page.latin(&in, treatments, seed)
	}
	var rest error
	if page.Faults, rest = faultsOf(in.err()); rest != nil {
		s.broken(w, r, rest)
		return
	}
	f := form{q: q, faults: map[string][]fault{}}
	for _, x := range page.Faults {
		f.faults[x.Field] = append(f.faults[x.Field], x)
	}
	factors := f.text("factors", "Factors, each at two levels", "one a line: speed: 60 rpm, 180 rpm")
	factors.Kind = "area"
	page.What = []control{
		factors,
		f.text("words", "To save cuts: letters set by others", "D=ABC; empty cuts all combinations"),
		f.text("treatments", "Or treatments of a Latin square", "dry, oil, paste"),
	}
	status := http.StatusOK
	if len(page.Faults) > 0 {
		status = http.StatusUnprocessableEntity
	}
	s.show(w, r, status, "trial_several", page)
}

// levelsOf reads one factor a line, or names alone separated by commas.
func levelsOf(text string) []level {
	lines := strings.FieldsFunc(text, func(c rune) bool { return c == '\n' || c == '\r' || c == ';' })
	if len(lines) == 1 && !strings.Contains(text, ":") {
		lines = strings.Split(text, ",")
	}
	var out []level
	for _, line := range lines {
		name, both, _ := strings.Cut(line, ":")
		low, high, two := strings.Cut(both, ",")
		l := level{strings.TrimSpace(name), strings.TrimSpace(low), strings.TrimSpace(high)}
		if !two || l.low == "" || l.high == "" {
			l.low, l.high = "low", "high"
		}
		if l.name != "" {
			out = append(out, l)
		}
	}
	return out
}

func treatmentsOf(text string) []string {
	if strings.TrimSpace(text) == "" {
		return nil
	}
	var out []string
	for _, t := range strings.Split(text, ",") {
		out = append(out, strings.TrimSpace(t))
	}
	return out
}

func wordsOf(text string) []string {
	return strings.FieldsFunc(text, func(c rune) bool { return c == ',' || c == ';' || c == ' ' })
}

// combined fills the page with a factorial.
func (p *severalPage) combined(in *reader, levels []level, seed uint64) {
	var names []string
	for _, l := range levels {
		names = append(names, l.name)
	}
	f, err := trial.NewFactorial(names, wordsOf(in.q.Get("words")))
	if err != nil {
		in.faults = append(in.faults, named(err))
		return
	}
	runs := f.Draw(seed)
	p.Summary = fmt.Sprintf("%d factors in %d cuts", len(names), len(runs))
	if f.Resolution > 0 {
		p.Summary += fmt.Sprintf(" instead of %d", 1<<len(names))
	}
	p.Aliases, p.Offers = f.Aliases, combinedOffers(in.q, names)
	for i, l := range levels {
		p.Letters = append(p.Letters, letterLine{string(rune('A' + i)), l.name, l.low, l.high})
	}
	form := form{q: in.q}
	for i, r := range runs {
		line := severalRun{Run: i + 1, Result: form.number(fmt.Sprintf("y%d", i+1), fmt.Sprintf("Score of cut %d", i+1), "")}
		for k, high := range r.High {
			line.Levels = append(line.Levels, map[bool]string{true: levels[k].high, false: levels[k].low}[high])
		}
		p.Runs = append(p.Runs, line)
	}
	y, whole := resultsOf(in, len(runs))
	if !whole {
		return
	}
	if p.Effects, err = f.Read(runs, y); err != nil {
		in.faults = append(in.faults, err)
		return
	}
	p.Answered, p.Picture = true, svg(render.EffectsFigure(p.Effects, 110), "effects")
}

// combinedOffers lists the plans that are usual for so many factors, each with what it
// costs.
func combinedOffers(q url.Values, names []string) []severalOffer {
	var out []severalOffer
	for _, words := range trial.UsualWords(len(names)) {
		f, err := trial.NewFactorial(names, wordsOf(words))
		if err != nil {
			continue
		}
		to := url.Values{"factors": {q.Get("factors")}, "words": {words}}
		o := severalOffer{Words: fmt.Sprintf("all combinations, %d cuts", 1<<f.Basic), Link: "/trials/several?" + to.Encode(), Chosen: strings.Join(wordsOf(q.Get("words")), ",") == words}
		switch {
		case f.Resolution == 3:
			o.Words = fmt.Sprintf("%s: %d cuts; what a factor does cannot be told from what two others do together", words, 1<<f.Basic)
		case f.Resolution == 4:
			o.Words = fmt.Sprintf("%s: %d cuts; each factor is told from any pair of others, pairs are not told from each other", words, 1<<f.Basic)
		case f.Resolution >= 5:
			o.Words = fmt.Sprintf("%s: %d cuts; factors and pairs of them are all told apart", words, 1<<f.Basic)
		}
		out = append(out, o)
	}
	return out
}

// latin fills the page with a Latin square.
func (p *severalPage) latin(in *reader, treatments []string, seed uint64) {
	sq, err := trial.DrawSquare(treatments, seed)
	if err != nil {
		in.faults = append(in.faults, err)
		return
	}
	n := len(treatments)
	p.Summary = fmt.Sprintf("%d treatments on %d bars, %d cuts", n, n, n*n)
	form := form{q: in.q}
	for i, row := range sq.Rows {
		p.Places = append(p.Places, i+1)
		bar := severalBar{Bar: i + 1}
		for j, t := range row {
			bar.Places = append(bar.Places, severalPlace{treatments[t], form.number(fmt.Sprintf("y%d", i*n+j+1), fmt.Sprintf("Score of bar %d, place %d", i+1, j+1), "")})
		}
		p.Bars = append(p.Bars, bar)
	}
	y, whole := resultsOf(in, n*n)
	if !whole {
		return
	}
	if p.Square, err = sq.Read(y); err != nil {
		in.faults = append(in.faults, err)
		return
	}
	p.Answered = true
	for i, m := range p.Square.Means {
		p.Means = append(p.Means, meanLine{treatments[i], fmt.Sprintf("%.4g", m)})
	}
}

// resultsOf reads the scores; they are judged when all are there.
func resultsOf(in *reader, n int) (y []float64, whole bool) {
	before := len(in.faults)
	whole = true
	for i := range n {
		name := fmt.Sprintf("y%d", i+1)
		whole = whole && strings.TrimSpace(in.q.Get(name)) != ""
		y = append(y, in.number(name))
	}
	return y, whole && len(in.faults) == before
}
