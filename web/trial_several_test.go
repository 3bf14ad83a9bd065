package web

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"thrum/trial"
)

// The half of the filtration-rate plan (Montgomery, from memory) typed into the page in
// drawn order gives the effects of the book.
func TestSeveralChanges(t *testing.T) {
	d := newDesk(t)
	q := url.Values{"factors": {"temperature: cold, warm\npressure\nconcentration\nstirring"}, "words": {"D=ABC"}, "seed": {"9"}}
	d.page("/trials/several?"+q.Encode(), "4 factors in 8 cuts instead of 16", "warm", "all combinations, 16 cuts", "with the number 9", "<td>BCD</td>")
	f, err := trial.NewFactorial([]string{"temperature", "pressure", "concentration", "stirring"}, []string{"D=ABC"})
	if err != nil {
		t.Fatal(err)
	}
	standard := []float64{45, 100, 45, 65, 75, 60, 80, 96}
	for i, r := range f.Draw(9) {
		q.Set("y"+strconv.Itoa(i+1), strconv.FormatFloat(standard[r.Standard-1], 'g', -1, 64))
	}
	body := d.page("/trials/several?"+q.Encode(), "What they show", "<td>&#43;19</td>", "<td>-18.5</td>", "<td>&#43;16.5</td>")
	if strings.Index(body, "&#43;16.5") < strings.Index(body, "-18.5") {
		t.Error("the largest effect is not the first")
	}
	q.Del("y3")
	if body := d.page("/trials/several?"+q.Encode(), "When every cut has its score"); strings.Contains(body, "What they show") {
		t.Error("seven scores of eight were judged")
	}
}

func TestSeveralSquare(t *testing.T) {
	d := newDesk(t)
	d.page("/trials/several", "Lay the cuts out")
	d.page("/trials/several?treatments=dry,+oil,+paste&seed=4", "3 treatments on 3 bars, 9 cuts", "place 3")
	d.page("/trials/several?treatments=dry,oil,paste&seed=4&y1=1&y2=2&y3=3&y4=4&y5=5&y6=6&y7=7&y8=8&y9=10", "What they show", "degrees of freedom")
	d.page("/trials", `href="/trials/several"`)
}

func TestSeveralFaults(t *testing.T) {
	d := newDesk(t)
	for address, want := range map[string]string{
		"factors=speed":                                "2 to 8 factors",
		"factors=a,b,c&words=D%3DAB":                   "does not set C",
		"factors=a,b,c,d,e&words=D%3DAB,E%3DAB":        "two factors together",
		"factors=a,b&treatments=x,y,z":                 "fill in one of the two",
		"treatments=x,y":                               "3 to 12 treatments",
		"treatments=x,y,x":                             "named twice",
		"factors=a,b&seed=-3":                          "is not a whole number",
		"factors=a,b&y1=tall&y2=1&y3=1&y4=1":           "is not a number",
		"factors=%3Cscript%3Ealert(1)%3C/script%3E,b,": "2 factors in 4 cuts",
	} {
		status, _, body := d.ask("GET", "/trials/several?"+address, nil)
		if !strings.Contains(body, want) || strings.Contains(body, "<script>alert") || (status != http.StatusUnprocessableEntity && !strings.Contains(address, "script")) {
			t.Errorf("%s: %d, no %q", address, status, want)
		}
	}
}
