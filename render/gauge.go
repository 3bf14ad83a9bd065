package render

import (
	"bufio"
	"fmt"
	"io"

	"thrum/trial"
)

// Gauge writes what repeated readings say about the way of measuring.
func Gauge(w io.Writer, f *trial.GaugeFinding) error {
	t := &text{w: bufio.NewWriter(w)}
	t.line("%s", GaugeSize(f))
	for _, r := range GaugeRows(f) {
		t.fact(r.Label, r.Text)
	}
	for _, s := range f.Studies {
		t.line("%s", s.Method)
		for _, r := range StudyRows(s) {
			t.line("  %-22s %s", r.Label, r.Text)
		}
	}
	t.line("")
	t.line("%s", f.Words)
	for _, n := range f.Notes {
		t.item("  ·", n)
	}
	return t.w.Flush()
}

// GaugeSize says how many people measured how many parts.
func GaugeSize(f *trial.GaugeFinding) string {
	n := 0
	for _, person := range f.Values {
		for _, cell := range person {
			n += len(cell)
		}
	}
	people := "one person"
	if len(f.People) > 1 {
		people = fmt.Sprintf("%d people", len(f.People))
	}
	return fmt.Sprintf("%s, %d parts, %d readings", people, len(f.Parts), n)
}

// GaugeRows are the figures for one person.
func GaugeRows(f *trial.GaugeFinding) []Value {
	rows := []Value{
		{Key: "again", Label: "measured again", Text: fmt.Sprintf("standard deviation %.3g, on %d degrees of freedom; 95 %% from %.3g to %.3g", f.Again.SD, f.Again.DF, f.Between[0], f.Between[1])},
		{Key: "smallest", Label: "told apart from", Text: fmt.Sprintf("%.3g on, two single readings", f.Smallest)},
	}
	if f.Anyone > 0 {
		rows = append(rows, Value{Key: "anyone", Label: "by two people", Text: fmt.Sprintf("from %.3g on", f.Anyone)})
	}
	if f.Apart.DF > 0 {
		rows = append(rows, Value{Key: "apart", Label: "part to part", Text: fmt.Sprintf("standard deviation %.3g of single readings, measuring included, on %d degrees of freedom", f.Apart.SD, f.Apart.DF)})
	}
	return rows
}

// StudyRows are the figures of one way of reckoning with several people.
func StudyRows(s trial.Study) []Value {
	rows := []Value{
		{Key: "again", Label: "one person again", Text: fmt.Sprintf("%.4g", s.Repeatability)},
		{Key: "people", Label: "between people", Text: fmt.Sprintf("%.4g", s.Appraiser)},
		{Key: "gauge", Label: "both", Text: fmt.Sprintf("%.4g (%.3g %% of all that varies)", s.Gauge, s.Percent)},
		{Key: "parts", Label: "between parts", Text: fmt.Sprintf("%.4g", s.Part)},
		{Key: "sizes", Label: "sizes told apart", Text: fmt.Sprint(s.Categories)},
	}
	if s.Pooled {
		rows = append(rows, Value{Key: "pooled", Label: "people with parts", Text: "do not interact; taken as noise"})
	}
	return rows
}
