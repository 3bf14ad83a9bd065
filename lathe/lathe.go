package lathe

import "thrum/unit"

// Hand is the hand of a thread or of a leadscrew. Its numbers are those of a
// thread's hand: right is 0, left is 1.
type Hand int

// A right-hand thread is cut towards the headstock with the spindle forward.
const (
	Right Hand = iota
	Left
)

// String prints "right" or "left".
func (h Hand) String() string {
	if h == Left {
		return "left"
	}
	return "right"
}

// Lathe is one lathe as its owner described it. Parse makes it; it is a value to
// be read and never changes afterwards. The toml tag of each field is its key in
// the file (docs/lathe-file.md); a field that the file does not give is zero, and
// where zero could be taken for a figure the comment says what it means.
type Lathe struct {
	Name  string      `toml:"name,required"`
	Units unit.System `toml:"units,required"` // system of every length that is written without a unit, and of the sheet

	Bed        Bed         `toml:"bed,required"`
	Leadscrew  Leadscrew   `toml:"leadscrew,required"`
	Drive      Drive       `toml:"drive"`
	Gears      *Gears      `toml:"gears"`   // nil: no change gears; the train is fixed
	Banjo      *Banjo      `toml:"banjo"`   // nil only when Gears is nil
	Present    *Present    `toml:"present"` // wheels mounted now; nil when not told
	Gearbox    *Gearbox    `toml:"gearbox"` // nil: the train drives the leadscrew itself
	Carriage   Carriage    `toml:"carriage"`
	DialWheels []DialWheel `toml:"threading_dial"` // empty: no threading dial
	CrossSlide Slide       `toml:"cross_slide,required"`
	Compound   Compound    `toml:"compound,required"`
	Spindle    Spindle     `toml:"spindle,required"`
	Motor      Motor       `toml:"motor,required"`
	BackGear   *BackGear   `toml:"back_gear"`
	Speeds     []Speed     `toml:"speed,required"`
	Brake      Brake       `toml:"brake"`
	Chuck      Chuck       `toml:"chuck"`
	Faceplate  Faceplate   `toml:"faceplate"`
	Tailstock  Tailstock   `toml:"tailstock"`
	Rests      Rests       `toml:"rests"`
	Stiffness  Stiffness   `toml:"stiffness"`

	text string // the file itself
}

// Bed holds the capacity of the lathe.
type Bed struct {
	Swing          unit.Length `toml:"swing,required"`           // largest diameter over the bed
	SwingOverCross unit.Length `toml:"swing_over_cross_slide"`   // largest diameter over the cross slide
	Centres        unit.Length `toml:"between_centres,required"` // greatest distance between centres
}

// Leadscrew is the screw that the half nuts close on.
type Leadscrew struct {
	TPI        unit.Ratio  `toml:"tpi,ratio"`   // as written; zero when the lead was written instead
	Lead       unit.Ratio  `toml:"lead,length"` // advance per turn in millimetres, exact; always set
	Starts     int         `toml:"starts"`      // at least 1
	Hand       Hand        `toml:"hand"`        //
	Electronic bool        `toml:"electronic"`  // driven by its own motor in step with the spindle: any lead, no wheels
	Error      unit.Length `toml:"error_per_300mm"`
}

// Pitch returns the distance between neighbouring threads of the screw in
// millimetres: the half nuts can close at whole multiples of it.
func (s Leadscrew) Pitch() unit.Ratio {
	p, err := s.Lead.Quo(unit.Whole(int64(max(s.Starts, 1))))
	if err != nil { // Parse bounds both, so this is a broken invariant
		panic(err)
	}
	return p
}

// System tells whether the screw is an inch screw or a metric one: inch when
// its pitch is a whole or half number of threads per inch.
func (s Leadscrew) System() unit.System {
	tpi, err := unit.MustRatio(254, 5).Quo(s.Pitch()) // twice the threads per inch
	if err == nil && tpi.IsWhole() {
		return unit.Inches
	}
	return unit.Metric
}

// Drive is the path from the spindle to the stud, the shaft that carries the
// first change gear.
type Drive struct {
	StudRatio unit.Ratio `toml:"stud_ratio,ratio"` // turns of the stud for one turn of the spindle; 1 when not given
	// Cuts is the hand that is cut with the spindle forward, the tumbler in its
	// right-hand position and an even number of meshes from the stud to the screw.
	Cuts    Hand     `toml:"plain_train_cuts"`
	Tumbler *Tumbler `toml:"tumbler"` // nil: the screw always turns one way
}

// Tumbler is the reverse between spindle and stud, or any lever that reverses
// the leadscrew in step with the spindle.
type Tumbler struct {
	Right string `toml:"right,required"` // its position, as engraved, for a right-hand thread with a plain train
	Left  string `toml:"left,required"`  // its position for a left-hand thread with a plain train
}

// Gears are the change gears owned.
type Gears struct {
	Module unit.Length `toml:"module"`                // module; always set
	DP     unit.Ratio  `toml:"diametral_pitch,ratio"` // as written; zero when the module was written instead
	Owned  []int       `toml:"owned,required"`        // tooth counts, one entry a wheel: two wheels of 40 are 40, 40
}

// Banjo is the slotted arm (quadrant) that carries the studs between the stud
// and the screw. Its slot is taken as straight, pointing at the axis of the screw
// (or gearbox input), about which the arm swings.
type Banjo struct {
	Centres   unit.Length `toml:"stud_to_screw,required"` // distance from the stud's axis to the axis of the screw wheel
	SlotMin   unit.Length `toml:"slot_min,required"`      // least distance of a banjo stud from the axis of the screw wheel
	SlotMax   unit.Length `toml:"slot_max,required"`      // greatest distance
	SwingMin  unit.Angle  `toml:"swing_min"`              // angle between the slot and the line from screw to stud
	SwingMax  unit.Angle  `toml:"swing_max"`              // both zero: free to swing all round
	Tilt      unit.Angle  `toml:"stud_direction"`         // direction from screw to stud, anticlockwise from horizontal, seen at the wheel end
	Studs     int         `toml:"studs,required"`         // how many wheels or pairs it can carry
	Bushes    int         `toml:"keyed_bushes"`           // how many pairs of wheels can be locked together on it
	Planes    int         `toml:"planes"`                 // how many wheels fit side by side along the shafts; 2 when not given
	StudDia   unit.Length `toml:"stud_diameter,required"` // outside of the stud's shaft or sleeve
	ScrewDia  unit.Length `toml:"screw_diameter,required"`
	BushDia   unit.Length `toml:"bush_diameter,required"` // outside of a banjo stud with its bush
	StudMost  int         `toml:"most_teeth_on_stud"`     // largest wheel that fits on the stud; 0 when there is no limit
	ScrewMost int         `toml:"most_teeth_on_screw"`
}

// Present is the set-up mounted now: the search prefers trains that move few wheels.
type Present struct {
	Wheels []int  `toml:"wheels"` // from stud to screw, each mesh as driver, driven; an idler is written twice
	Lever  string `toml:"levers"` // gearbox position
}

// Gearbox is the quick-change box between the train and the leadscrew.
type Gearbox struct {
	// PlateTrain is the ratio of the change gears (first driver to last driven,
	// turns out per turn in) for which the positions given by tpi or lead hold.
	PlateTrain unit.Ratio `toml:"plate_train,ratio"`
	Positions  []Position `toml:"position,required"`
}

// Position is one position of the gearbox levers.
type Position struct {
	Levers   string     `toml:"levers,required"` // as engraved: "B 4"
	Ratio    unit.Ratio `toml:"ratio,ratio"`     // turns of the leadscrew for one turn of the input; always set
	TPI      unit.Ratio `toml:"tpi,ratio"`       // thread that the plate promises with PlateTrain
	Lead     unit.Ratio `toml:"lead,length"`
	Reverses bool       `toml:"reverses"` // turns the screw the other way than the other positions
}
