package web

import (
	"crypto/rand"
	"encoding/binary"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"

	"thrum/store"
	"thrum/trial"
	"thrum/unit"
)

type trialNewPage struct {
	frame
	Asked, Ready string
	What         []control // the question and the one thing that changes
	Score        []control
	Layout       []control
	More         []control
	Open         bool
	Watch        string
	Hold         []string
	Faults       []fault
	Words        string // the design in words
	Reach        trial.Reach
	Reached      bool
	Size         string // how many samples would show the margin
	Offers       []offerLine
	Votes        []votesLine
}

type offerLine struct {
	Words, Best, Can string
	Cuts             int
	Link             string
	Chosen           bool
}

type votesLine struct {
	Share string
	Votes int
}

// trialNew is the form on which a trial is settled. It says what the plan can reach
// before anything is cut; nothing is kept yet.
func (s *Server) trialNew(w http.ResponseWriter, r *http.Request) {
	if !s.keeps(w, r) {
		return
	}
	q := tidy(ready(r.URL.Query()))
	set, err := settledOf(q)
	var faults []fault
	if r.URL.Query().Has("design") { // an empty form has no faults yet
		var rest error
		if faults, rest = faultsOf(err); rest != nil {
			s.broken(w, r, rest)
			return
		}
	}
	s.trialNewShow(w, r, http.StatusOK, q, set, faults)
}

// ready fills the form from a ready-made question; what was typed stays.
func ready(q url.Values) url.Values {
	out := url.Values{}
	for k, v := range q {
		out[k] = v
	}
	for _, x := range trial.Questions() {
		if x.ID != q.Get("ready") {
			continue
		}
		for k, v := range map[string]string{
			"question": x.Asks, "factor": x.Factor.Name, "baseline": x.Factor.Baseline, "changed": x.Factor.Changed, "score": x.Score, "better": string(x.Better),
			"hold": strings.Join(x.Hold, "; "), "same": strings.Join(x.Same, "; "),
		} {
			if !q.Has(k) {
				out.Set(k, v)
			}
		}
	}
	return out
}

func watchOf(q url.Values) string {
	for _, x := range trial.Questions() {
		if x.ID == q.Get("ready") {
			return x.Watch
		}
	}
	return ""
}

// settledOf reads the form. The design is filled in as far as it can be read, also
// when there are faults.
func settledOf(q url.Values) (trial.Settled, error) {
	in := reader{q: q}
	set := trial.Settled{
		Question: strings.TrimSpace(q.Get("question")), ScoreIs: strings.TrimSpace(q.Get("score")), Better: trial.Direction(q.Get("better")),
		Factor: trial.Factor{Name: strings.TrimSpace(q.Get("factor")), Baseline: strings.TrimSpace(q.Get("baseline")), Changed: strings.TrimSpace(q.Get("changed"))},
		Hold:   in.list("hold", 20), Same: in.list("same", 20), Others: in.list("others", 10), Watch: watchOf(q), Repeats: strings.TrimSpace(q.Get("repeats")),
		Design: trial.Design{Kind: trial.Kind(q.Get("design")), Blocks: 1, A: 1, B: 1},
	}
	if set.Design.Kind == "" {
		set.Design.Kind = trial.KindPairs
	}
	whole := func(name string, otherwise int) int {
		v := strings.TrimSpace(q.Get(name))
		if v == "" {
			return otherwise
		}
		n, err := strconv.Atoi(v)
		if err != nil || n < 1 || n > 100 {
			in.bad(name, v, "is not a whole number from 1 to 100", "6 pairs, or 4 and 4, are the least that can show anything")
			return otherwise
		}
		return n
	}
	switch blocks, a, b := whole("blocks", 6), whole("a", 4), whole("b", 4); set.Design.Kind {
	case trial.KindPairs:
		set.Design.Blocks = blocks
	case trial.KindBars:
		set.Design = trial.Design{Kind: trial.KindBars, Blocks: whole("blocks", 3), A: whole("a", 2), B: whole("b", 2)}
	case trial.KindReturn:
		set.Design.A, set.Design.B = whole("a", 2), whole("b", 2)
	default:
		set.Design.A, set.Design.B = a, b
	}
	set.Margin = in.number("margin")
	set.Spread = trial.Spread{SD: in.number("spread")}
	if set.Spread.SD != 0 {
		set.Spread.DF = whole("spread-df", 0)
		if set.Spread.SD < 0 || set.Spread.DF == 0 {
			in.bad("spread", q.Get("spread"), "needs a standard deviation and the number of bars less one", "0.8 from 6 bars: 5")
		}
	}
	err := in.err()
	if _, fault := trial.Settle(set, 0); fault != nil {
		err = errors.Join(err, named(fault))
	}
	return set, err
}

// trialFields turns the names that trials use into those of the form.
var trialFields = map[string]string{
	"changed arm": "changed", "pairs": "blocks", "bars": "blocks", "cuts": "blocks", "cuts of the baseline": "a", "cuts of the changed arm": "b",
	"word": "words", "generator": "words", "generators": "words", "effect": "words",
}

func named(err error) error {
	var in *unit.InputError
	if !errors.As(err, &in) {
		return err
	}
	to := *in
	if n, ok := trialFields[in.Field]; ok {
		to.Field = n
	}
	return &to
}

func (s *Server) trialNewShow(w http.ResponseWriter, r *http.Request, status int, q url.Values, set trial.Settled, faults []fault) {
	page := trialNewPage{frame: s.frame(r, "Plan a trial", "trials"), Asked: q.Get("asked"), Ready: q.Get("ready"), Faults: faults, Watch: watchOf(q), Hold: set.Hold}
	f := form{q: q, faults: map[string][]fault{}}
	for _, x := range faults {
		f.faults[x.Field] = append(f.faults[x.Field], x)
	}
	page.What = []control{
		f.text("question", "The question", "as you would ask it aloud"),
		f.text("factor", "The one thing that changes", "support, speed, oil, edge"),
		f.text("baseline", "As it is done now", "no centre"),
		f.text("changed", "As it is to be tried", "centre"),
	}
	page.Score = []control{
		f.text("score", "What is graded or counted", "marks per turn; finish 1 to 5"),
		f.choose("better", "Better is", "not said", option{Value: "higher", Label: "more"}, option{Value: "lower", Label: "less"}),
		f.number("margin", "Smallest difference that matters", "named now, not afterwards; may be left empty"),
	}
	var kinds []option
	for _, k := range trial.Kinds() {
		kinds = append(kinds, option{Value: string(k), Label: k.Words()})
	}
	f.q = url.Values{} // what was left empty shows what is taken for it
	for k, v := range q {
		f.q[k] = v
	}
	for k, v := range map[string]string{
		"design": string(set.Design.Kind), "blocks": strconv.Itoa(set.Design.Blocks), "a": strconv.Itoa(set.Design.A), "b": strconv.Itoa(set.Design.B),
	} {
		if q.Get(k) == "" {
			f.q.Set(k, v)
		}
	}
	page.Layout = []control{f.choose("design", "How it is laid out", "", kinds...)}
	page.Layout = append(page.Layout, f.number("blocks", "Pairs, or bars", "for pairs and several threads on a bar"),
		f.number("a", "Cuts as usual (baseline)", "in all; on each bar; before and again after"), f.number("b", "Cuts with the change", "in all; on each bar"))
	page.More = []control{
		f.text("hold", "To be held and written down", "edge; oil; stick-out"), f.text("same", "Conditions that are the change itself", "under another name: centre"),
		f.text("others", "Scores looked at besides", "their p is adjusted: finish 1 to 5; taper"),
		f.number("spread", "Bar-to-bar standard deviation", "from earlier bars cut alike"), f.number("spread-df", "from how many bars, less one", "5"),
		f.text("repeats", "Repeats an earlier trial", "which one, on which day or lathe"),
	}
	for _, c := range page.More {
		page.Open = page.Open || len(c.Faults) > 0 || c.Name != "hold" && c.Name != "same" && c.Value != ""
	}
	if reach, err := set.Design.Reach(); err == nil {
		page.Reach, page.Reached, page.Words = reach, true, set.Design.Words(words(set.Factor))
	}
	page.Size = sizeWords(set)
	page.Offers = offers(q, set)
	for _, share := range []float64{.6, .7, .8, .9} {
		if n, ok := trial.VotesNeeded(share, .8); ok {
			page.Votes = append(page.Votes, votesLine{fmt.Sprintf("%.0f of 100", share*100), n})
		}
	}
	s.show(w, r, status, "trial_new", page)
}

// words names the arms where the form does not yet.
func words(f trial.Factor) trial.Factor {
	if f.Baseline == "" {
		f.Baseline = "the baseline"
	}
	if f.Changed == "" {
		f.Changed = "the change"
	}
	return f
}

func sizeWords(set trial.Settled) string {
	switch {
	case set.Margin <= 0:
		return "Name the smallest difference that matters, and the spread from bar to bar if you know it: then the number of samples can be worked out."
	case set.Spread.SD <= 0:
		return fmt.Sprintf("To say how many samples show a difference of %.4g, the spread from bar to bar is needed: cut five or six bars alike and enter their standard deviation.", set.Margin)
	}
	n, ok := trial.PerArm(set.Margin, set.Spread)
	if !ok {
		return "So small a difference against so large a spread cannot be shown by cutting."
	}
	return fmt.Sprintf("About %d samples of each show a difference of %.4g four times in five, with a spread of %.4g from bar to bar (by the bell curve; take one or two more).", n, set.Margin, set.Spread.SD)
}

// offers lists designs with what each can reach; each leads to this form with it.
func offers(q url.Values, set trial.Settled) []offerLine {
	var out []offerLine
	for _, o := range trial.Offers() {
		to := url.Values{}
		for k, v := range q {
			to[k] = v
		}
		d := o.Design
		to.Set("design", string(d.Kind))
		to.Set("blocks", strconv.Itoa(d.Blocks))
		to.Set("a", strconv.Itoa(d.A))
		to.Set("b", strconv.Itoa(d.B))
		l := offerLine{Words: upperFirst(d.Words(words(set.Factor))), Cuts: d.Cuts(), Link: "/trials/new?" + to.Encode() + "#reach", Chosen: d == set.Design}
		switch {
		case d.Kind == trial.KindReturn:
			l.Best, l.Can = "–", "shows drift, no more"
		case o.Reach.Can:
			l.Best, l.Can = fmt.Sprintf("%.2g", o.Reach.BestP), "yes"
		default:
			l.Best, l.Can = fmt.Sprintf("%.2g", o.Reach.BestP), "never"
		}
		out = append(out, l)
	}
	return out
}

// trialSettle draws run order and codes and keeps them with the trial: from then on
// neither can be changed.
func (s *Server) trialSettle(w http.ResponseWriter, r *http.Request) {
	if !s.sent(w, r) {
		return
	}
	q := tidy(r.PostForm)
	set, err := settledOf(q)
	faults, rest := faultsOf(err)
	if rest != nil {
		s.broken(w, r, rest)
		return
	}
	if len(faults) > 0 {
		s.trialNewShow(w, r, http.StatusUnprocessableEntity, q, set, faults)
		return
	}
	var b [8]byte
	_, _ = rand.Read(b[:]) // it never fails
	drawn, err := trial.Settle(set, binary.LittleEndian.Uint64(b[:]))
	if err != nil {
		s.broken(w, r, err)
		return
	}
	id, err := s.library.keepTrial(r.Context(), drawn, q.Get("asked"))
	if store.CodeOf(err) == store.NotFound {
		s.fail(w, r, http.StatusUnprocessableEntity, "The question is no longer in the queue", "Plan the trial again from the list of trials.")
		return
	}
	if err != nil {
		s.broken(w, r, err)
		return
	}
	http.Redirect(w, r, "/trials/"+url.PathEscape(id), http.StatusSeeOther)
}
