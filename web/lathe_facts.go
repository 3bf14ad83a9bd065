package web

import (
	"errors"
	"fmt"
	"strings"

	"thrum/draw"
	"thrum/lathe"
	"thrum/render"
	"thrum/unit"
)

// latheFacts is what the text of a lathe means.
type latheFacts struct {
	Name     string
	Hazards  []lathe.Hazard
	Blocks   []block // the summary
	Missing  []lathe.Measurement
	Pictures []picture
	Notes    []string // what could not be drawn, and why
}

// block is a titled part of a summary.
type block struct {
	Title string
	Lines []string
}

func factsOf(l *lathe.Lathe) *latheFacts {
	f := &latheFacts{Name: l.Name, Hazards: l.Hazards(), Blocks: blocksOf(lathe.Describe(l)), Missing: l.Missing()}
	f.trains(l)
	f.add("dials", "Cross slide and compound dials", dialPaper, func(d *draw.List, b draw.Box) { slideDials(d, b, l) })
	if len(l.DialWheels) > 0 {
		f.add("threading-dial", "Threading dial, as engraved", threadingPaper, func(d *draw.List, b draw.Box) { threadingDials(d, b, l.DialWheels) })
	} else {
		f.Notes = append(f.Notes, "No threading dial is in the text: the half nuts then stay closed, or a carriage stop and marks take its place.")
	}
	f.compound(l)
	return f
}

func (f *latheFacts) add(id, title string, size draw.Size, fn func(*draw.List, draw.Box)) {
	d := draw.New(size, title)
	fn(d, d.Size(0).Box(1))
	f.Pictures = append(f.Pictures, picture{ID: id, Title: title, SVG: svg(d, id)})
}

// trains draws the wheels for one usual thread of each system.
func (f *latheFacts) trains(l *lathe.Lathe) {
	type usual struct {
		id, words string
		lead      unit.Ratio
	}
	list := []usual{
		{"gears-inch", "1/2-13, 13 threads per inch", unit.MustRatio(127, 5*13)},
		{"gears-metric", "M10, pitch 1.5 mm", unit.MustRatio(3, 2)},
	}
	if l.Units == unit.Metric {
		list[0], list[1] = list[1], list[0]
	}
	for _, u := range list {
		trains, err := lathe.Trains(l, u.lead, lathe.Options{Keep: 1, GoodPPM: 50})
		var none *lathe.NoTrain
		switch {
		case errors.As(err, &none):
			f.Notes = append(f.Notes, fmt.Sprintf("No gears for %s: %s.", u.words, none.Error()))
		case err != nil || len(trains) == 0:
		case len(trains[0].Wheels) == 0:
			f.Notes = append(f.Notes, fmt.Sprintf("No change gears for %s: %s.", u.words, trains[0].String()))
		default:
			title := "Gears for " + u.words
			if p := trains[0].Position; p != nil {
				title += ", levers " + p.Levers
			}
			f.add(u.id, title+exactness(trains[0]), screen, func(d *draw.List, b draw.Box) { render.GearTrain(d, b, render.GearsOf(trains[0])) })
		}
	}
}

func exactness(t lathe.Train) string {
	if t.Exact {
		return "; exact"
	}
	return fmt.Sprintf("; lead off by %.0f parts in a million", t.LeadErrorPPM)
}

// compound draws the compound swung as for a 60 degree thread, with what the scale
// of this lathe then shows.
func (f *latheFacts) compound(l *lathe.Lathe) {
	const swing = 29.5 * unit.Degree // half a degree inside the flank: common practice, no source
	p := l.Compound.Protractor
	r := p.Reading(swing)
	c := render.CompoundSetting{Angle: swing, ZeroAtBed: p.Zero == lathe.ZeroBed, Words: []string{r.Text}}
	if r.Known {
		c.Reads = &r.Reads
	}
	f.add("protractor", "Compound set to 29.5° from the cross slide, and what its scale shows", screen, func(d *draw.List, b draw.Box) { render.CompoundSwing(d, b, c) })
}

// blocksOf takes a summary apart at its headings. What is dangerous and what is not
// measured yet have their own places on the page.
func blocksOf(summary string) []block {
	summary, _, _ = strings.Cut(summary, "\nDangerous on this lathe\n")
	summary, _, _ = strings.Cut(summary, "\nNot measured yet")
	var out []block
	for i, part := range strings.Split(strings.TrimSpace(summary), "\n\n") {
		b := block{}
		for j, line := range strings.Split(part, "\n") {
			if line = strings.TrimSpace(line); j > 0 {
				b.Lines = append(b.Lines, line)
			} else if b.Title = line; i == 0 { // the name, which the page has above
				b.Title = "At a glance"
			}
		}
		out = append(out, b)
	}
	return out
}
