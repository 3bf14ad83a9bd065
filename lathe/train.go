package lathe

import (
	"fmt"
	"math"
	"strings"

	"thrum/unit"
)

// Wheel is a wheel of a train, drawn as a circle. The screw wheel's axis is the
// origin, x runs to the right and y up as one looks at the wheels.
type Wheel struct {
	Teeth  int
	Place  string      // "stud", "banjo 1 driven", "banjo 1 driving", "banjo 1 idler", "screw"
	Shaft  int         // 0 the stud, then the banjo studs, last the screw
	Plane  int         // from 1; wheels of one plane lie in line
	X, Y   unit.Length // axis
	Radius unit.Length // pitch radius: half of module x teeth
	Tip    unit.Length // outside radius
}

// Shaft is a shaft of a train, drawn as a circle.
type Shaft struct {
	Name   string // "stud", "banjo 1", "screw"
	X, Y   unit.Length
	Radius unit.Length // of the shaft with its bush
}

// Train is one way of gearing the leadscrew to the spindle.
type Train struct {
	Wheels       []Wheel    // from the stud to the screw; empty on a lathe without change gears
	Shafts       []Shaft    //
	Stages       int        // meshes that change the ratio: 1 for a simple train, 2 and 3 for compound ones
	Idlers       int        //
	Ratio        unit.Ratio // turns of the last wheel for one turn of the first, exact
	Position     *Position  // gearbox position; nil without a gearbox
	Lead         unit.Ratio // lead cut in millimetres, exact
	LeadErrorPPM float64    // (cut - wanted) / wanted x 1e6; 0 from CheckTrain
	Exact        bool       // the lead cut is the lead wanted
	Hand         Hand       // hand that is cut
	Tumbler      string     // tumbler position for it, as engraved; empty without a tumbler
	Swing        unit.Angle // angle between the banjo's slot and the line from screw to stud
	Moved        int        // wheels to be put on or moved, coming from the present set-up

	chain chain
}

// Teeth returns the train mesh by mesh, driver first, idlers twice.
func (t Train) Teeth() []int { return t.chain.wheels() }

// String names the wheels from stud to screw: "24 stud, 80 idler, 48 screw; levers B 4".
func (t Train) String() string {
	var parts []string
	for _, w := range t.Wheels {
		parts = append(parts, fmt.Sprintf("%d %s", w.Teeth, w.Place))
	}
	s := strings.Join(parts, ", ")
	if t.Position != nil {
		if s != "" {
			s += "; "
		}
		s += "levers " + t.Position.Levers
	}
	return s
}

// PitchDiameterEffect returns the growth of the functional pitch diameter of a
// screw (the shrinkage of that of a nut) that the lead error causes over a length
// of engagement:
//
//	dE = dp cot(a),  dp = engagement x |lead error|
//
// Units: lengths in mm; a is the flank angle, half of the included angle of a
// symmetrical thread. Valid for small errors. The factor is 1.7321 for 60 degree
// threads and 3.8667 for 29 degree ones.
func (t Train) PitchDiameterEffect(engagement unit.Length, flank unit.Angle) unit.Length {
	return engagement * unit.Length(math.Abs(t.LeadErrorPPM)*1e-6/flank.Tan())
}

// Reason is why a train cannot be set up.
type Reason string

// What may stand in the way of a train.
const (
	WrongCount       Reason = "the wheels do not pair up"
	NoSuchWheel      Reason = "no such wheel"
	WheelUsedTwice   Reason = "not enough wheels of that size"
	NoChangeGears    Reason = "this lathe has no change gears"
	NoSuchLever      Reason = "no such gearbox position"
	TooFewStuds      Reason = "too few banjo studs"
	TooFewBushes     Reason = "too few keyed bushes"
	TooFewPlanes     Reason = "no room for two wheels side by side"
	TooLargeForStud  Reason = "wheel too large for the stud"
	TooLargeForScrew Reason = "wheel too large for the screw"
	SlotTooShort     Reason = "slot too short"
	SlotTooFar       Reason = "slot begins too far out"
	NoReach          Reason = "wheels do not reach"
	SwingStops       Reason = "banjo does not swing that far"
	WheelHitsShaft   Reason = "wheel hits shaft"
	WheelHitsWheel   Reason = "wheel hits wheel"
	WrongHand        Reason = "cuts the other hand"
	NoRatio          Reason = "no wheels make this lead"
)

// NoTrain says why a train cannot be set up, or why none can be found.
type NoTrain struct {
	Reason Reason
	Detail string
}

// Error gives the reason with its figures.
func (e *NoTrain) Error() string { return string(e.Reason) + ": " + e.Detail }

// CheckTrain tries one train: the gearbox position by its engraved letters (empty
// without a gearbox) and the wheels mesh by mesh, driver first, an idler twice. It
// returns the train laid out, or a *NoTrain that says what is in the way.
func CheckTrain(l *Lathe, levers string, wheels ...int) (*Train, error) {
	var pos *Position
	if l.Gearbox != nil || levers != "" {
		p, err := l.position(levers)
		if err != nil {
			return nil, &NoTrain{NoSuchLever, err.Error()}
		}
		pos = p
	}
	c, err := layOutWheels(l, wheels)
	if err != nil {
		return nil, err
	}
	t, err := l.train(c, pos, Right)
	if err != nil && l.Drive.Tumbler == nil {
		t, err = l.train(c, pos, Left)
	}
	if err != nil {
		return nil, err
	}
	return &t, nil
}

// layOutWheels checks that the wheels are owned and that they can be mounted.
func layOutWheels(l *Lathe, wheels []int) (chain, error) {
	if l.Gears == nil {
		return chain{}, &NoTrain{NoChangeGears, "only the gearbox changes the lead"}
	}
	c, err := chainOf(wheels)
	if err != nil {
		return c, err
	}
	if err := l.owns(&c); err != nil {
		return c, err
	}
	y := yardOf(l)
	var s spot
	if o := y.place(&c, &s); o.reason != "" {
		return c, o.explain(&c, &y)
	}
	return c, nil
}

func (l *Lathe) owns(c *chain) error {
	left := map[int]int{}
	for _, z := range l.Gears.Owned {
		left[z]++
	}
	use := func(z int16) error {
		n, owned := left[int(z)]
		if !owned {
			return &NoTrain{NoSuchWheel, fmt.Sprintf("a wheel of %d teeth is not among those owned", z)}
		}
		if n == 0 {
			return &NoTrain{WheelUsedTwice, fmt.Sprintf("the train needs one wheel of %d teeth more than are owned", z)}
		}
		left[int(z)]--
		return nil
	}
	for k := int8(0); k <= c.last; k++ {
		if k > 0 {
			if err := use(c.in[k]); err != nil {
				return err
			}
		}
		if k < c.last && !c.idler[k] {
			if err := use(c.out[k]); err != nil {
				return err
			}
		}
	}
	return nil
}

// shaftName names a shaft of a chain.
func shaftName(k, last int8) string {
	switch k {
	case 0:
		return "stud"
	case last:
		return "screw"
	}
	return fmt.Sprintf("banjo %d", k)
}

// explain words an obstacle with its figures.
func (o obstacle) explain(c *chain, y *yard) error {
	a, b := shaftName(o.a, c.last), shaftName(o.b, c.last)
	var d string
	switch o.reason {
	case TooLargeForStud, TooLargeForScrew:
		d = fmt.Sprintf("%.0f teeth; at most %.0f fit there", o.have, o.need)
	case TooFewStuds, TooFewBushes, TooFewPlanes:
		d = fmt.Sprintf("%.0f needed, %.0f there", o.need, o.have)
	case SlotTooShort:
		d = fmt.Sprintf("%s would stand %.1f mm from the screw; the slot ends at %.1f mm", a, o.have, o.need)
	case SlotTooFar:
		d = fmt.Sprintf("%s would stand %.1f mm from the screw; the slot begins at %.1f mm", a, o.have, o.need)
	case NoReach:
		d = fmt.Sprintf("the first two wheels span %.1f mm; %.1f mm is needed to bridge the gap", o.have, o.need)
		if o.have > o.need && c.last > 1 {
			d = fmt.Sprintf("the first two wheels span %.1f mm, more than the banjo can swing them apart", o.have)
		}
	case SwingStops:
		d = fmt.Sprintf("the slot would stand at %.1f° to the line from screw to stud; the banjo swings from %.1f° to %.1f°",
			o.have, math.Acos(y.cos[1])*180/math.Pi, math.Acos(y.cos[0])*180/math.Pi)
	case WheelHitsShaft:
		d = fmt.Sprintf("the %d wheel on %s and the shaft of %s are %.1f mm apart at their axes; %.1f mm is needed",
			max(c.in[o.a], c.out[o.a]), a, b, o.have, o.need)
	case WheelHitsWheel:
		d = fmt.Sprintf("wheels on %s and %s lie in one plane and are %.1f mm apart at their axes; %.1f mm is needed", a, b, o.have, o.need)
	}
	return &NoTrain{o.reason, d}
}

// plainHand returns the hand that a chain with the given number of meshes cuts
// with the tumbler, if there is one, in its right-hand position.
func (l *Lathe) plainHand(meshes int, pos *Position) Hand {
	h := l.Drive.Cuts
	if l.Drive.Tumbler != nil {
		h = Right
	}
	if meshes%2 != 0 {
		h = 1 - h
	}
	if pos != nil && pos.Reverses {
		h = 1 - h
	}
	return h
}

// train makes the Train of a chain that is known to fit.
func (l *Lathe) train(c chain, pos *Position, hand Hand) (Train, error) {
	t := Train{Position: pos, Hand: hand, Ratio: unit.Whole(1), chain: c}
	meshes := int(c.last)
	if c.last > 0 {
		pairs, idlers := c.count()
		t.Stages, t.Idlers = pairs+1, idlers
	}
	h := l.plainHand(meshes, pos)
	switch {
	case l.Drive.Tumbler != nil && h == hand:
		t.Tumbler = l.Drive.Tumbler.Right
	case l.Drive.Tumbler != nil:
		t.Tumbler = l.Drive.Tumbler.Left
	case h != hand:
		return t, &NoTrain{WrongHand, fmt.Sprintf("this train cuts %s hand, and the lathe has no tumbler reverse", h)}
	}
	for k := int8(0); k < c.last; k++ {
		r, err := t.Ratio.Mul(unit.MustRatio(int64(c.out[k]), int64(c.in[k+1])))
		if err != nil {
			return t, err
		}
		t.Ratio = r
	}
	lead, err := l.screwPerSpindle(t.Ratio)
	if err == nil && pos != nil {
		lead, err = lead.Mul(pos.Ratio)
	}
	if err != nil {
		return t, err
	}
	t.Lead = lead
	if c.last > 0 {
		l.draw(&t)
	}
	return t, nil
}

// draw works out the circles of a train.
func (l *Lathe) draw(t *Train) {
	c, y := &t.chain, yardOf(l)
	var s spot
	y.place(c, &s)
	swing := math.Acos(max(-1, min(1, s.cos)))
	t.Swing = unit.Angle(swing)
	tilt := l.Banjo.Tilt.Rad()
	at := func(k int8) (unit.Length, unit.Length) {
		r, a := s.r[k], tilt+swing
		switch k {
		case 0:
			r, a = y.centres, tilt
		case c.last:
			r = 0
		}
		return unit.Length(r * math.Cos(a)), unit.Length(r * math.Sin(a))
	}
	plane := y.levels(c)
	for k := int8(0); k <= c.last; k++ {
		px, py := at(k)
		name := shaftName(k, c.last)
		t.Shafts = append(t.Shafts, Shaft{name, px, py, unit.Length(y.shaft(k, c.last))})
		wheel := func(z int16, place string, plane int8) {
			t.Wheels = append(t.Wheels, Wheel{
				int(z), place, int(k), int(plane) + 1, px, py,
				unit.Length(y.half * float64(z)), unit.Length(y.half*float64(z) + y.add),
			})
		}
		switch {
		case k == 0:
			wheel(c.out[0], name, 0)
		case k == c.last:
			wheel(c.in[k], name, plane[k-1])
		case c.idler[k]:
			wheel(c.in[k], name+" idler", plane[k])
		default:
			wheel(c.in[k], name+" driven", plane[k-1])
			wheel(c.out[k], name+" driving", plane[k])
		}
	}
}
