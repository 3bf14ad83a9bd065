package render

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"thrum/gauge"
	"thrum/lathe"
	"thrum/thread"
	"thrum/unit"
)

// Verdict writes what a reading means: the pitch diameter with its uncertainty,
// where it stands, and what is still to come off on a dial when one is given.
func Verdict(w io.Writer, th thread.Thread, r gauge.Reading, v *gauge.Verdict, dial *lathe.Dial, sys unit.System, o TextOptions) error {
	t := &text{w: bufio.NewWriter(w), bold: o.Bold, sys: sys}
	t.line("%s", t.strong(th.Designation))
	reading := t.len(r.Mean())
	if n := len(r.Repeats); n > 0 {
		reading += fmt.Sprintf(", mean of %d,", n)
	}
	if r.Wire > 0 {
		reading += " over " + t.len(r.Wire)
	}
	t.fact("reading", strings.TrimSuffix(reading, ","))
	t.fact("pitch diameter", fmt.Sprintf("%s ± %s (95 %%)", t.strong(t.len(v.Pitch)), t.len(v.Expanded)))
	if v.Functional != v.Pitch && v.Functional > 0 {
		t.fact("functional", t.len(v.Functional)+" with lead and flank errors")
	}
	t.fact("limits", fmt.Sprintf("%s to %s", t.orDash(v.Limits.Min), t.orDash(v.Limits.Max)))
	t.fact("claimable", fmt.Sprintf("%s to %s", t.orDash(v.Accept.Min), t.orDash(v.Accept.Max)))
	t.fact("chance inside", fmt.Sprintf("%.1f in 100", v.Conforms*100))
	t.fact("verdict", t.strong(v.Words))
	if v.TakeOff.Middle > 0 {
		t.fact("take off", fmt.Sprintf("%s on the pitch diameter to the middle of the limits (%s to %s): %s deeper",
			t.len(v.TakeOff.Middle), number(v.TakeOff.AtLeast, sys), number(v.TakeOff.AtMost, sys), t.len(gauge.Radial(v.TakeOff.Middle))))
		if dial != nil {
			t.fact("on the dial", t.strong(dial.Reading(dial.Round(gauge.Radial(v.TakeOff.Middle))).Text)+" further in on the cross slide")
		}
	}
	t.line("")
	t.line("%-40s%16s%14s", "uncertainty from", "given", "share (um)")
	for _, c := range v.Budget {
		mark := ""
		if c.Assumed {
			mark = "  assumed"
		}
		t.line("%-40s%16s%14.2f%s", c.Name, c.Given, c.Share.MM()*1000, mark)
	}
	for _, n := range v.Notes {
		t.item("  ·", n.Text)
	}
	return t.w.Flush()
}

// candidatesShown is how many threads an identification lists.
const candidatesShown = 6

// worthShowing is the least probability of a candidate that is listed.
const worthShowing = 0.0005

// Candidates writes which standard threads the readings may come from, and the one
// further measurement that would tell the first two apart.
func Candidates(w io.Writer, found []thread.Candidate, sys unit.System, o TextOptions) error {
	t := &text{w: bufio.NewWriter(w), bold: o.Bold, sys: sys}
	if len(found) == 0 {
		t.line("no standard thread fits these readings within their error; measure again, or it is a special")
		return t.w.Flush()
	}
	for i, c := range found[:min(len(found), candidatesShown)] {
		if i > 0 && c.Probability < worthShowing {
			break
		}
		pitch := c.Row.Pitch.Length().Format(unit.Metric, 3)
		if tpi := c.Row.TPI(); c.Row.System == unit.Inches {
			pitch = tpi.String() + " to the inch"
		}
		t.line("%6.1f %%  %s  %s, %s, %s", c.Probability*100, t.strong(fmt.Sprintf("%-22s", c.Row.Designation)), t.len(c.Row.Nominal), pitch, c.Row.Series)
		t.item("         ", c.Why)
	}
	if len(found) > 1 {
		if s := thread.Separate(found[0].Thread, found[1].Thread); s.Measure != "" {
			t.line("")
			t.fact("to tell the first two apart", "")
			t.item("  ·", s.Measure)
			t.item("  ·", found[0].Row.Designation+": "+s.First)
			t.item("  ·", found[1].Row.Designation+": "+s.Second)
		}
	}
	return t.w.Flush()
}
