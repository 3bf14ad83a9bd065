package render

import (
	"fmt"
	"math"

	"thrum/draw"
	"thrum/trial"
	"thrum/unit"
)

// effectsShown is how many effects the drawing has room for.
const effectsShown = 15

// EffectsFigure draws the effects of a factorial as bars from nothing, the largest
// first, with the limits within which one effect is noise, and beyond which one
// stands out among all.
func EffectsFigure(x *trial.Effects, width unit.Length) *draw.List {
	const row = 8
	shown := x.Effects[:min(len(x.Effects), effectsShown)]
	l := draw.New(draw.Size{W: width, H: unit.Length(len(shown))*row + 16}, "Effects, the largest first")
	l.Meta.Desc = x.Words
	name := draw.Style{Size: 4.2, Bold: true, Rise: draw.Half}
	figure := draw.Style{Size: 3.8, Rise: draw.Half, Knock: true}
	left := unit.Length(0)
	most := x.All
	for _, e := range shown {
		left = max(left, name.Width(e.Word))
		most = max(most, math.Abs(e.Size))
	}
	if most == 0 {
		most = 1
	}
	x0, x1 := left+18, width-18
	mid, half := (x0+x1)/2, (x1-x0)/2
	at := func(v float64) unit.Length { return mid + half*unit.Length(v/most) }
	foot := unit.Length(len(shown)) * row
	for _, limit := range []struct {
		at  float64
		pen draw.Pen
	}{{x.Margin, draw.Hidden}, {x.All, draw.Thin}} {
		if limit.at == 0 {
			continue
		}
		for _, v := range []float64{-limit.at, limit.at} {
			l.Stroke(draw.Segment(draw.Pt{X: at(v)}, draw.Pt{X: at(v), Y: foot}), limit.pen)
		}
	}
	for i, e := range shown {
		y := unit.Length(i)*row + row/2
		l.Text(draw.Pt{X: 0, Y: y}, e.Word, name)
		colour := draw.Grey
		if e.Standing == trial.StandsOut || e.Standing == trial.Perhaps {
			colour = draw.Accent
		}
		a, b := min(at(0), at(e.Size)), max(at(0), at(e.Size))
		l.Fill(draw.Rect(draw.Box{X: a, Y: y - 2.2, W: b - a, H: 4.4}), colour)
		st, to := figure, b+1.5
		if e.Size < 0 {
			st.Anchor, to = draw.End, a-1.5
		}
		l.Text(draw.Pt{X: to, Y: y}, fmt.Sprintf("%+.3g", e.Size), st)
	}
	l.Stroke(draw.Segment(draw.Pt{X: at(0), Y: 0}, draw.Pt{X: at(0), Y: foot}), draw.Visible)
	key := draw.Style{Size: 3.6, Rise: draw.Cap, Colour: draw.Grey}
	if x.Margin > 0 {
		l.Text(draw.Pt{Y: foot + 3}, fmt.Sprintf("dashed ±%.3g: one effect within it is noise", x.Margin), key)
		l.Text(draw.Pt{Y: foot + 9}, fmt.Sprintf("line ±%.3g: beyond it one stands out among all", x.All), key)
	}
	return l
}
