package web

import (
	"fmt"
	"html/template"
	"math"
	"net/http"
	"net/url"
	"strings"

	"thrum/draw"
	"thrum/plan"
	"thrum/render"
	"thrum/unit"
	"thrum/vibe"
)

type compareFinishPage struct {
	frame
	Letters  []string
	Rows     []compareRow
	Words    []string
	Pictures []picture
	Back     template.URL
}

// compareFinish sets what vibrates in two or more set-ups side by side.
func (s *Server) compareFinish(w http.ResponseWriter, r *http.Request) {
	page := compareFinishPage{frame: s.frame(r, "What vibrates, side by side", "compare")}
	keep := url.Values{}
	var studies []*plan.Study
	for _, letter := range compareLetters {
		q, err := url.ParseQuery(strings.TrimSpace(r.URL.Query().Get(letter)))
		if err != nil || len(q) == 0 {
			continue
		}
		q = tidy(q)
		keep.Set(letter, q.Encode())
		st, _, err := s.study(r, q)
		if err != nil {
			s.broken(w, r, err)
			return
		}
		if st == nil || st.Plan.Vibration == nil {
			page.Words = append(page.Words, "Set-up "+strings.ToUpper(letter)+" cannot be cut as it is; its sheet says why.")
			continue
		}
		page.Letters, studies = append(page.Letters, strings.ToUpper(letter)), append(studies, st)
	}
	page.Back = template.URL("/compare?" + keep.Encode()) // #nosec: made by url.Values.Encode
	if len(studies) > 0 {
		page.fill(studies)
	} else {
		page.Words = append(page.Words, "There is nothing to compare.")
	}
	s.show(w, r, http.StatusOK, "compare_finish", page)
}

func (page *compareFinishPage) fill(studies []*plan.Study) {
	rows := map[string]int{}
	for i, st := range studies {
		for _, v := range render.Finish(st.Plan).Figures {
			text := v.Text
			if v.Note != "" && v.Key != "vibration.centre" {
				text += " (" + v.Note + ")"
			}
			at, ok := rows[v.Key]
			if !ok {
				at = len(page.Rows)
				rows[v.Key] = at
				row := compareRow{Label: v.Label, Cells: make([]string, len(studies))}
				for k := range row.Cells {
					row.Cells[k] = "–"
				}
				page.Rows = append(page.Rows, row)
			}
			page.Rows[at].Cells[i] = text
		}
	}
	first := studies[0].Plan.Vibration.Assessment
	for i, st := range studies[1:] {
		c := vibe.SideBySide(first, st.Plan.Vibration.Assessment, "set-up "+page.Letters[0], "set-up "+page.Letters[i+1])
		page.Words = append(page.Words, capital(c.Why)+".")
	}
	l := speedsTogether(page.Letters, studies).List(screen)
	page.Pictures = []picture{{"together", "Speed against carry-over", svg(l, "together")}}
}

func capital(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// speedsTogether draws the carry-over of each set-up over spindle speed.
func speedsTogether(letters []string, studies []*plan.Study) render.Drawing {
	lo, hi := math.Inf(1), 0.0
	for _, st := range studies {
		for _, step := range st.Plan.Speed.Steps {
			lo, hi = min(lo, step.RPM.RPM()), max(hi, step.RPM.RPM())
		}
	}
	const n = 40
	var speeds []unit.Rotation
	for i := range n {
		speeds = append(speeds, unit.Rotation(lo*math.Pow(hi/lo, float64(i)/(n-1))))
	}
	c := draw.Chart{X: draw.Axis{Title: "spindle speed, rpm", Log: true}, Limits: []draw.Limit{{Name: "above 1: waves grow", At: 1}}}
	most := 0.0
	for i, st := range studies {
		a := st.Plan.Vibration.Assessment
		line := draw.Series{Name: letters[i], Accent: i == 0, Line: []draw.Line{draw.Continuous, draw.ShortDash, draw.LongDash, draw.LongDashDot}[i%4]}
		for _, p := range a.SpeedCurve(speeds) {
			line.X, line.Y = append(line.X, p.Speed.RPM()), append(line.Y, p.CarryOver.Likely)
			most = max(most, p.CarryOver.Likely)
		}
		c.Series = append(c.Series, line)
		for _, p := range a.SpeedCurve([]unit.Rotation{st.Plan.Speed.RPM}) {
			c.Series = append(c.Series, draw.Series{X: []float64{p.Speed.RPM()}, Y: []float64{p.CarryOver.Likely}, Dots: true, Accent: i == 0, Mark: []draw.Mark{draw.Disc, draw.Ring, draw.Square, draw.Triangle}[i%4]})
		}
	}
	c.Y = draw.Axis{Title: "a pass leaves, times the last", Max: max(1.3, 1.05*most)}
	return render.Drawing{
		ID: "together", Title: "Speed against carry-over",
		Desc: fmt.Sprintf("Likely carry-over of the liveliest pass over spindle speed for set-ups %s; a dot marks the speed of each sheet.", strings.Join(letters, ", ")),
		Draw: func(l *draw.List, b draw.Box) { c.Draw(l, b) },
	}
}
