package web

import (
	"net/url"
	"regexp"
	"strings"

	"thrum/render"
)

var flagName = regexp.MustCompile(`--[a-z-]*[a-z]`)

// onPage puts the names of the page's own fields where a section's words name an
// option of the command.
func onPage(sec render.Section) render.Section {
	for i, l := range sec.Lists {
		items := make([]render.Item, len(l.Items))
		for k, it := range l.Items {
			it.Text, it.Check = inPageTerms(it.Text), inPageTerms(it.Check)
			items[k] = it
		}
		sec.Lists[i].Items = items
	}
	return sec
}

func inPageTerms(words string) string {
	words = strings.ReplaceAll(words, "take the remaining passes from a fresh plan: thrum passes --fresh-zero", "the remaining passes are then planned anew: “At the lathe” does it")
	return flagName.ReplaceAllStringFunc(words, func(o string) string {
		if label := fieldLabels[strings.TrimPrefix(o, "--")]; label != "" {
			return "“" + label + "”"
		}
		return o
	})
}

// fieldLabels are what the choices of a sheet are called on the page.
var fieldLabels = func() map[string]string {
	labels := map[string]string{}
	f := &form{q: url.Values{}}
	for _, c := range f.part().Shown {
		labels[c.Name] = c.Label
	}
	for _, g := range f.sections() {
		for _, c := range append(g.Shown, g.More...) {
			labels[c.Name] = c.Label
		}
	}
	return labels
}()
