package plan

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"thrum/thread"
	"thrum/unit"
)

// Request is everything that a plan is made from. Zero values mean "choose for
// me"; the plan then says what was chosen and why. The texts of the lathe and the
// material are part of it, so that a stored plan can always be followed.
type Request struct {
	Callout  string      `json:"callout"`
	Internal bool        `json:"internal,omitempty"`  // used where the callout does not say
	Form     string      `json:"form_toml,omitempty"` // a thread that no standard names, as a form file, instead of a callout
	Units    unit.System `json:"units"`               // in which the sheet is printed

	Lathe    string `json:"lathe_toml"`
	Material string `json:"material"`                // a name or alias in the table of materials
	Own      string `json:"material_toml,omitempty"` // the user's own material, in TOML, instead of a name

	Length       unit.Length `json:"length_mm"`   // of full thread
	Stickout     unit.Length `json:"stickout_mm"` // from the chuck jaws to the end of the part
	Centre       bool        `json:"centre"`      // tailstock centre used
	Bore         unit.Length `json:"bore_mm,omitempty"`
	Plating      unit.Length `json:"plating_mm,omitempty"`           // thickness to be added afterwards, per surface
	AfterPlating bool        `json:"limits_after_plating,omitempty"` // the drawing's limits hold after plating

	Relief         unit.Length `json:"relief_mm,omitempty"`          // width of the relief, or free length beyond the thread
	ReliefDiameter unit.Length `json:"relief_diameter_mm,omitempty"` //
	OpenEnd        bool        `json:"open_end,omitempty"`           // nothing in the way beyond the thread

	ToolMaterial string      `json:"tool_material,omitempty"` // "hss" (default) or "carbide"
	ToolProfile  string      `json:"tool_profile,omitempty"`  // "partial" (default) or "full"
	TipFlat      unit.Length `json:"tip_flat_mm,omitempty"`
	TipRadius    unit.Length `json:"tip_radius_mm,omitempty"`
	Edge         string      `json:"edge,omitempty"` // "stoned", "ground", "honed"; by tool material when empty

	BarDiameter unit.Length `json:"bar_diameter_mm,omitempty"` // of the boring bar
	BarOverhang unit.Length `json:"bar_overhang_mm,omitempty"` //

	Infeed        string      `json:"infeed,omitempty"`         // "straight", "flank", "modified", "alternating"
	Angle         unit.Angle  `json:"infeed_rad,omitempty"`     // compound from the cross-slide line, for "modified"
	FinalStraight int         `json:"final_straight,omitempty"` // last passes taken straight in, whatever the method
	MaxDepth      unit.Length `json:"max_infeed_mm,omitempty"`

	RPM       unit.Rotation `json:"rpm,omitempty"`        // a speed the lathe has; chosen when zero
	FinishRPM unit.Rotation `json:"finish_rpm,omitempty"` // for the last cutting passes
	Train     int           `json:"train,omitempty"`      // the n-th way to gear it, as the sheet numbers them; the first when zero
	Ending    string        `json:"ending,omitempty"`     // how a pass ends; chosen when empty
	Away      bool          `json:"away_from_chuck,omitempty"`
	Risk      float64       `json:"risk,omitempty"` // accepted chance that one pass of the part overruns
	Timing    *Timing       `json:"timing,omitempty"`

	Wires []unit.Length `json:"wires_mm,omitempty"` // sizes at hand

	OwnCuts     []OwnCut  `json:"own_cuts,omitempty"`     // what was seen of waves on threads cut in this set-up, to fit the rubbing of the edge to
	Rubbing     *Doubtful `json:"rubbing_n_m,omitempty"`  // of the edge, N/m, as fitted before; instead of own cuts
	KnockFree   []Knocked `json:"knock_free,omitempty"`   // heard from the work held without the centre
	KnockCentre []Knocked `json:"knock_centre,omitempty"` // heard from it with the centre
}

// Bounds of what a request may ask for; beyond them it is a slip of the pen.
const (
	longest     unit.Length = 5000 // no manual lathe threads further in one part
	defaultRisk float64     = 1e-3
)

// Validate reports every figure that cannot be planned from, all at once.
func (r Request) Validate() error {
	var faults []error
	bad := func(field, value, reason, hint string) {
		faults = append(faults, &unit.InputError{Field: field, Value: value, Reason: reason, Hint: hint})
	}
	length := func(field string, l unit.Length, required bool, hint string) {
		switch v := float64(l); {
		case math.IsNaN(v) || math.IsInf(v, 0):
			bad(field, fmt.Sprint(v), "is not a length", hint)
		case l == 0 && required:
			bad(field, "0", "is needed", hint)
		case l < 0:
			bad(field, l.String(), "is negative", hint)
		case l > longest:
			bad(field, l.String(), "is longer than any lathe", "the most is "+longest.Format(r.Units, 0))
		}
	}
	switch {
	case r.Form != "" && r.Callout != "":
		bad("thread", r.Callout, "is given together with a form file", "a thread has one or the other")
	case r.Form == "" && r.Callout == "":
		bad("thread", "", "is missing", "write the callout as on the drawing: 1/2-13 UNC-2A, M10x1.5-6g")
	}
	if r.Lathe == "" {
		bad("lathe", "", "is missing", "name a lathe file: --lathe examples/lathes/inch-bench.toml")
	}
	length("length", r.Length, true, "give the length of full thread: 1in, 25mm")
	length("stickout", r.Stickout, false, "give the distance from the chuck jaws to the end of the part")
	length("bore", r.Bore, false, "give the diameter of the hole, or leave it out")
	length("plating", r.Plating, false, "give the thickness per surface: 8um")
	length("relief", r.Relief, false, "give the width of the relief")
	length("relief diameter", r.ReliefDiameter, false, "give the diameter of the relief")
	length("tip flat", r.TipFlat, false, "give the width of the flat at the tip")
	length("tip radius", r.TipRadius, false, "give the radius of the tip")
	length("bar diameter", r.BarDiameter, false, "give the diameter of the boring bar")
	length("bar overhang", r.BarOverhang, false, "give how far the bar stands out of its holder")
	length("largest infeed", r.MaxDepth, false, "give the largest infeed of one pass")
	for _, w := range r.Wires {
		length("wire", w, true, "give the diameter of the wire")
	}
	if r.Stickout != 0 && r.Stickout < r.Length {
		bad("stickout", r.Stickout.Format(r.Units, 3), "is shorter than the thread ("+r.Length.Format(r.Units, 3)+")",
			"measure from the chuck jaws to the end of the part")
	}
	faults = append(faults, checkOwnCuts(r.OwnCuts), r.checkRubbing())
	for field, ks := range map[string][]Knocked{"knock test without the centre": r.KnockFree, "knock test with the centre": r.KnockCentre} {
		if err := checkKnocked(field, ks); err != nil {
			faults = append(faults, err)
		}
	}
	oneOf := func(field, value string, accepted ...string) {
		for _, a := range accepted {
			if value == a || value == "" {
				return
			}
		}
		hint := "write"
		for i, a := range accepted {
			if i > 0 {
				hint += " or"
			}
			hint += fmt.Sprintf(" %q", a)
		}
		bad(field, value, "is not known", hint)
	}
	if r.OpenEnd && r.Relief > 0 {
		bad("relief", r.Relief.Format(r.Units, 3), "is given together with an open end", "a relief is what stands between thread and shoulder: give one or the other")
	}
	if r.Angle > 0 && (r.Infeed == "straight" || r.Infeed == "flank") {
		bad("infeed angle", r.Angle.Format(2), "is given for "+r.Infeed+" infeed, which has its own", `leave it out, or write "modified" infeed`)
	}
	if a := float64(r.Angle); math.IsNaN(a) || a < 0 || a >= math.Pi/2 {
		bad("infeed angle", r.Angle.Format(2), "is not an angle from 0 to 90 degrees", "count it from the cross-slide line: 29 is usual for a thread of 60 degrees")
	}
	if r.FinalStraight < 0 || r.FinalStraight > 5 {
		bad("final straight passes", fmt.Sprint(r.FinalStraight), "is not a number from 0 to 5", "one to three are usual")
	}
	if r.Train < 0 || r.Train > trainsKept {
		bad("train", fmt.Sprint(r.Train), fmt.Sprintf("is not a number from 1 to %d", trainsKept), "the sheet numbers the ways to gear it")
	}
	oneOf("tool material", r.ToolMaterial, "hss", "carbide")
	oneOf("tool profile", r.ToolProfile, "partial", "full")
	oneOf("infeed", r.Infeed, "straight", "flank", "modified", "alternating")
	if r.TipFlat > 0 && r.TipRadius > 0 {
		bad("tip radius", r.TipRadius.String(), "is given together with a flat", "a tip has one or the other")
	}
	if bad := float64(r.Risk); math.IsNaN(bad) || bad < 0 || bad > 0.5 {
		faults = append(faults, &unit.InputError{
			Field: "risk", Value: fmt.Sprint(r.Risk), Reason: "is not a chance between 0 and 0.5",
			Hint: "0.001 means one part in a thousand",
		})
	}
	for _, v := range []struct {
		field string
		rpm   unit.Rotation
	}{{"spindle speed", r.RPM}, {"finishing speed", r.FinishRPM}} {
		if x := float64(v.rpm); math.IsNaN(x) || x < 0 || x > 1e5 {
			bad(v.field, fmt.Sprint(x), "is not a spindle speed", "give revolutions per minute")
		}
	}
	return errors.Join(faults...)
}

// plating describes the coating to come.
func (r Request) plating() thread.Plating {
	return thread.Plating{Thin: r.Plating, Thick: r.Plating, After: r.AfterPlating}
}

// thread reads the callout or the form file.
func (r Request) thread() (thread.Thread, error) {
	if r.Form != "" {
		return thread.FromTOML("form file", strings.NewReader(r.Form))
	}
	return thread.Parse(r.Callout, r.side())
}

// side returns the member that is cut where the callout does not say.
func (r Request) side() thread.Side {
	if r.Internal {
		return thread.Internal
	}
	return thread.External
}

// risk returns the accepted chance that one pass of the part overruns.
func (r Request) risk() float64 {
	if r.Risk == 0 {
		return defaultRisk
	}
	return r.Risk
}
