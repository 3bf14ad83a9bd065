package web

import (
	"context"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"thrum/plan"
	"thrum/store"
	"thrum/thread"
	"thrum/unit"
)

// airRoutes lists the addresses of the ten air passes.
func (s *Server) airRoutes(m *http.ServeMux) {
	m.HandleFunc("GET /lathes/{name}/air", s.airShow)
	m.HandleFunc("POST /lathes/{name}/air", s.airKeep)
}

const (
	airQuantity = "air-pass"
	airFields   = 10
	mostLate    = 60 // seconds that a delay may have
)

// airDetail says how one air pass was read.
type airDetail struct {
	Set      string  `json:"set"` // the same for all passes that were read together
	Operator string  `json:"operator,omitempty"`
	RPM      float64 `json:"rpm"`
	Lead     float64 `json:"lead_mm"`
	Past     float64 `json:"past_mm"` // beyond the mark; negative: short of it
	Missed   bool    `json:"missed,omitempty"`
}

// airSet are air passes that were read together.
type airSet struct {
	At       time.Time
	Operator string
	Timing   plan.Timing
	Delays   []string
}

// airSets returns the sets of a lathe, newest first.
func (l library) airSets(ctx context.Context, lathe string) ([]airSet, error) {
	if l.store == nil || lathe == "" {
		return nil, nil
	}
	rows, err := l.store.Measurements(ctx, store.About{Lathe: lathe})
	if err != nil {
		return nil, err
	}
	var order []string
	delays := map[string][]unit.Time{}
	sets := map[string]*airSet{}
	for _, m := range rows {
		var d airDetail
		if m.Quantity != airQuantity || json.Unmarshal([]byte(m.Detail), &d) != nil {
			continue
		}
		if sets[d.Set] == nil {
			order = append(order, d.Set)
			sets[d.Set] = &airSet{At: m.CreatedAt, Operator: d.Operator}
		}
		late, words := unit.Time(m.Value), fmt.Sprintf("%.2f s", m.Value)
		if d.Missed {
			late, words = plan.Missed, "missed"
		}
		delays[d.Set] = append(delays[d.Set], late)
		sets[d.Set].Delays = append(sets[d.Set].Delays, words)
	}
	var out []airSet
	for _, id := range slices.Backward(order) {
		t, err := plan.TimingFromAirPasses(delays[id])
		if err != nil {
			continue // fewer than three: kept, and of no use
		}
		sets[id].Timing = t
		out = append(out, *sets[id])
	}
	return out, nil
}

// timing is the newest measured timing at a lathe; nil when none was measured.
func (l library) timing(ctx context.Context, lathe string) (*plan.Timing, error) {
	sets, err := l.airSets(ctx, lathe)
	if err != nil || len(sets) == 0 {
		return nil, err
	}
	return &sets[0].Timing, nil
}

type airPage struct {
	frame
	Name, Entry           string
	Operator, Thread, RPM control
	Readings              []control
	Sets                  []airSet
	Says                  []string // what the newest set can say
	Faults                []fault
}

func (s *Server) airShow(w http.ResponseWriter, r *http.Request) {
	if s.keeps(w, r) {
		s.showAir(w, r, http.StatusOK, nil, nil)
	}
}

func (s *Server) showAir(w http.ResponseWriter, r *http.Request, status int, typed url.Values, faults []fault) {
	name := r.PathValue("name")
	page := airPage{frame: s.frame(r, "Ten air passes on "+name, "lathes"), Name: name, Faults: faults}
	if text, err := s.library.lathe(r.Context(), name); err != nil || text == "" {
		s.fail(w, r, http.StatusNotFound, "No lathe is called "+short(name, 80)+" here", "The list of all is in the menu above.")
		return
	}
	var err error
	if page.Sets, err = s.library.airSets(r.Context(), name); err != nil {
		s.broken(w, r, err)
		return
	}
	if len(page.Sets) > 0 {
		page.Says = airWords(page.Sets[0].Timing)
	}
	row, err := s.config.Store.Stamp(store.Row{})
	if err != nil {
		s.broken(w, r, err)
		return
	}
	page.Entry = row.ID
	field := func(name, label, hint string) control {
		c := control{Name: name, Label: label, Kind: "text", Hint: hint, Value: typed.Get(name)}
		for _, f := range faults {
			if f.Field == name {
				c.Faults = append(c.Faults, f)
			}
		}
		return c
	}
	page.Operator = field("operator", "Who", "the spread is one person’s")
	page.Thread = field("thread", "Thread the gears are set for", "1/2-13 UNC, M10x1.5")
	page.RPM = field("rpm", "Spindle, rpm", "the speed at which you cut")
	for i := range airFields {
		page.Readings = append(page.Readings, field(fmt.Sprintf("r%d", i+1), fmt.Sprintf("Pass %d", i+1), ""))
	}
	s.show(w, r, status, "air", page)
}

// airWords says what a set of air passes can tell, and what it cannot.
func airWords(t plan.Timing) []string {
	lo, hi := t.SpreadRange()
	stops := t.Passes - t.Lapses
	return []string{
		fmt.Sprintf("On average %.2f s after the mark, with a spread (standard deviation) of %.2f s from pass to pass.", t.Mean.S(), t.Spread.S()),
		fmt.Sprintf("%d stops say this much about the spread: with 95 %% confidence it lies between %.2f and %.2f s. That doubt is carried through every risk.", stops, lo.S(), hi.S()),
		fmt.Sprintf("%d of %d were missed. From %d passes no chance of a miss below %.0f in 100 can be claimed: room alone does not make up for a pass that is not ended at all.", t.Lapses, t.Passes, t.Passes, math.Ceil(100*t.Floor())),
		fmt.Sprintf("A part of fifteen passes then needs room for %.2f s after the mark if one part in a thousand may overrun. Without measuring, %.2f s would be assumed.", t.RoomFor(0.001, 15).S(), plan.AssumedTiming().RoomFor(0.001, 15).S()),
	}
}

// airKeep reads the form and keeps the set.
func (s *Server) airKeep(w http.ResponseWriter, r *http.Request) {
	if !s.keeps(w, r) || !s.sent(w, r) {
		return
	}
	f := r.PostForm
	in := reader{q: f}
	sys, lead := in.leadOf(f.Get("thread"))
	rpm := in.number("rpm")
	if rpm <= 0 || rpm > 10000 {
		in.bad("rpm", f.Get("rpm"), "is not a spindle speed", "write the rpm at which the passes were made")
	}
	operator := strings.TrimSpace(f.Get("operator"))
	if len(operator) > mostName {
		in.bad("operator", operator, "is too long", "a name will do")
	}
	var set []airDetail
	for i := range airFields {
		name := "r" + strconv.Itoa(i+1)
		d := airDetail{Set: f.Get("id"), Operator: operator, RPM: rpm, Lead: lead.MM()}
		switch text := strings.TrimSpace(f.Get(name)); {
		case text == "":
			continue
		case strings.EqualFold(text, "miss"), strings.EqualFold(text, "missed"):
			d.Missed = true
		default:
			d.Past = in.signed(name, text, sys).MM()
		}
		set = append(set, d)
	}
	if len(set) < 3 && len(in.faults) == 0 {
		in.bad("r1", "", "fewer than three passes tell nothing about the spread", "make ten")
	}
	faults, rest := faultsOf(in.err())
	var err error
	if rest == nil && len(faults) == 0 {
		err = s.addAir(r, set)
	}
	if c := store.CodeOf(err); c == store.Invalid || c == store.Conflict {
		faults, err = []fault{{Field: "r1", Reason: err.Error()}}, nil
	}
	switch {
	case err != nil || rest != nil:
		s.broken(w, r, fmt.Errorf("air passes: %w %w", err, rest))
	case len(faults) > 0:
		s.showAir(w, r, http.StatusUnprocessableEntity, f, faults)
	default:
		http.Redirect(w, r, "/lathes/"+url.PathEscape(r.PathValue("name"))+"/air#said", http.StatusSeeOther)
	}
}

// addAir keeps the passes of a set, each under an id made from the set's: sent
// twice they are kept once.
func (s *Server) addAir(r *http.Request, set []airDetail) error {
	st := s.pieceStore(r)
	for i, d := range set {
		detail, err := json.Marshal(d)
		if err != nil {
			return err
		}
		late := 0.0
		if !d.Missed {
			late = d.Past / (d.Lead * d.RPM / 60)
		}
		if math.Abs(late) > mostLate {
			return &store.Error{Code: store.Invalid, Err: fmt.Errorf("pass %d would be %.0f s late: check reading, thread and rpm", i+1, late)}
		}
		m := store.Measurement{About: store.About{Lathe: r.PathValue("name")}, Quantity: airQuantity, Value: late, Unit: "s", Detail: string(detail)}
		if len(d.Set) == 36 {
			m.ID = fmt.Sprintf("%s%02x", d.Set[:34], i)
		}
		if _, err := st.AddMeasurement(r.Context(), m); err != nil {
			return err
		}
	}
	return nil
}

// leadOf reads the thread that the gears are set for.
func (in *reader) leadOf(callout string) (sys unit.System, lead unit.Length) {
	callout = strings.TrimSpace(callout)
	in.note("thread", func() error {
		if callout == "" || len(callout) > thread.MaxCallout {
			return &unit.InputError{Value: short(callout, 80), Reason: "is no thread", Hint: "write the thread the gears are set for, like 1/2-13 UNC"}
		}
		th, err := thread.Parse(callout, thread.External)
		if err == nil {
			sys, lead = th.System, th.Lead().Length()
		}
		return err
	})
	return sys, lead
}

// signed reads a length that may lie to either side of the mark.
func (in *reader) signed(name, text string, sys unit.System) unit.Length {
	text, minus := strings.CutPrefix(strings.Replace(text, "−", "-", 1), "-")
	var l unit.Length
	in.note(name, func() (err error) {
		if v, zero := strconv.ParseFloat(text, 64); zero == nil && v == 0 {
			return nil // exactly at the mark
		}
		l, err = unit.ParseLength(strings.TrimPrefix(text, "+"), sys)
		return err
	})
	if minus {
		return -l
	}
	return l
}
