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

	Bed          Bed            `toml:"bed,required"`
	Leadscrew    Leadscrew      `toml:"leadscrew,required"`
	Drive        Drive          `toml:"drive"`
	Gears        *Gears         `toml:"gears"`   // nil: no change gears; the train is fixed
	Banjo        *Banjo         `toml:"banjo"`   // nil only when Gears is nil
	Present      *Present       `toml:"present"` // wheels mounted now; nil when not told
	Gearbox      *Gearbox       `toml:"gearbox"` // nil: the train drives the leadscrew itself
	Carriage     Carriage       `toml:"carriage"`
	DialWheels   []DialWheel    `toml:"threading_dial"` // empty: no threading dial
	CrossSlide   Slide          `toml:"cross_slide,required"`
	Compound     Compound       `toml:"compound,required"`
	Spindle      Spindle        `toml:"spindle,required"`
	Motor        Motor          `toml:"motor,required"`
	BackGear     *BackGear      `toml:"back_gear"`
	Speeds       []Speed        `toml:"speed,required"`
	Brake        Brake          `toml:"brake"`
	Chuck        Chuck          `toml:"chuck"`
	Faceplate    Faceplate      `toml:"faceplate"`
	Tailstock    Tailstock      `toml:"tailstock"`
	Rests        Rests          `toml:"rests"`
	Stiffness    Stiffness      `toml:"stiffness"`
	text, source string         // the file itself and its name
	lines        map[string]int // line of each key, for faults found later
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

// Carriage holds what closes and opens the feed.
type Carriage struct {
	HalfNuts          HalfNuts    `toml:"half_nuts"`
	Stop              bool        `toml:"stop"` // a carriage stop on the bed
	KickOut           bool        `toml:"kick_out"`
	KickOutRepeat     unit.Length `toml:"kick_out_repeatability"`
	SingleToothClutch bool        `toml:"single_tooth_clutch"`
	Handwheel         unit.Length `toml:"travel_per_handwheel_turn"`
}

// HalfNuts says how the carriage takes hold of the leadscrew.
type HalfNuts string

// The ways of taking hold.
const (
	HalfNutsLever HalfNuts = "lever"          // opened and closed by hand
	HalfNutsFixed HalfNuts = "always engaged" // a solid nut
)

// DialWheel is one wheel of the threading dial with the face that it turns.
type DialWheel struct {
	Teeth int      `toml:"teeth,required"`
	Marks []string `toml:"marks,required"` // round the face, one entry a line; "" is a line without a number
}

// Reading says what a slide's dial counts.
type Reading string

// The two ways of graduating a dial.
const (
	Direct   Reading = "direct"   // the travel of the slide
	Diameter Reading = "diameter" // twice the travel: what comes off the diameter
)

// Dial is the graduated collar of a slide.
type Dial struct {
	Reads      Reading     `toml:"reads,required"`
	Units      unit.System `toml:"units"`                    // system in which it is graduated
	Division   unit.Ratio  `toml:"division,length,required"` // what one division counts, in millimetres, exact
	Divisions  int         `toml:"divisions,required"`       // in one turn
	LostMotion unit.Length `toml:"lost_motion"`              // backlash as the dial counts it
	Zero       bool        `toml:"can_be_zeroed"`
}

// Slide is a slide moved by a screw with a dial.
type Slide struct {
	Dial   Dial        `toml:"dial,required"`
	Travel unit.Length `toml:"travel"`
}

// Compound is the top slide.
type Compound struct {
	Dial       Dial        `toml:"dial,required"`
	Travel     unit.Length `toml:"travel"`
	Protractor Protractor  `toml:"protractor"`
}

// ProtractorZero says where the compound stands when its protractor reads zero.
type ProtractorZero string

// The two habits.
const (
	ZeroCross ProtractorZero = "parallel to cross slide"
	ZeroBed   ProtractorZero = "parallel to bed"
)

// Protractor is the scale under the compound.
type Protractor struct {
	Zero     ProtractorZero `toml:"zero_means"`
	End      unit.Angle     `toml:"scale_end"` // largest figure of the scale, counted from its zero
	Division unit.Angle     `toml:"division"`
	Printed  Printed        `toml:"printed"`
}

// Printed says on which sides of its zero the protractor's scale is printed, seen from above.
type Printed string

// The sides.
const (
	BothWays          Printed = "both ways"
	ClockwiseOnly     Printed = "clockwise"
	AnticlockwiseOnly Printed = "anticlockwise"
)

// Nose is the way a chuck is held on the spindle.
type Nose string

// The kinds of spindle nose.
const (
	NoseScrew   Nose = "screw-on"
	NoseCamLock Nose = "cam-lock"
	NoseTaper   Nose = "taper key"
	NoseBayonet Nose = "bayonet"
	NoseBolted  Nose = "bolt-on"
	NoseFlange  Nose = "flange"
)

// Spindle holds the nose and what belongs to the spindle.
type Spindle struct {
	Nose      Nose        `toml:"nose,required"`
	Thread    string      `toml:"nose_thread"` // of a screw-on nose, for the sheet
	ChuckLock bool        `toml:"chuck_lock"`  // a clamp or screw that keeps a screw-on chuck from unscrewing
	Bore      unit.Length `toml:"bore"`
	Taper     string      `toml:"taper"`
	Runout    unit.Length `toml:"runout"`
	Index     int         `toml:"index_holes"` // holes of an index plate on the spindle; 0 for none
	HandCrank bool        `toml:"hand_crank"`  // the spindle can be turned by a crank in its bore
}

// MotorKind is what turns the lathe.
type MotorKind string

// The kinds of motor.
const (
	SinglePhase MotorKind = "single-phase"
	ThreePhase  MotorKind = "three-phase"
	Inverter    MotorKind = "three-phase inverter"
	DirectMotor MotorKind = "dc"
	Treadle     MotorKind = "treadle"
	LineShaft   MotorKind = "line shaft"
)

// Motor is what turns the lathe.
type Motor struct {
	Kind       MotorKind  `toml:"kind,required"`
	Power      unit.Power `toml:"power"`            // at the motor's shaft
	Efficiency unit.Ratio `toml:"efficiency,ratio"` // of the belts and gears up to the spindle; zero when not known
	Reverses   bool       `toml:"reverses"`         // has a reversing switch or drum
}

// Mesh is a pair of wheels in mesh, driver first.
type Mesh [2]int

// Driver returns the teeth of the driving wheel.
func (m Mesh) Driver() int { return m[0] }

// Driven returns the teeth of the driven wheel.
func (m Mesh) Driven() int { return m[1] }

// BackGear is the back gear of a belt-driven headstock.
type BackGear struct {
	Meshes []Mesh `toml:"meshes,required"` // from the cone pulley to the spindle
}

// Speed is one speed of the spindle.
type Speed struct {
	RPM      unit.Rotation `toml:"rpm,required"`
	Label    string        `toml:"label,required"` // the belt or lever position as engraved
	BackGear bool          `toml:"back_gear"`
	// Upstream tells that this speed is reached from the others by a change that
	// lies before the take-off of the feed and leaves spindle, train and screw
	// connected, so that a thread in work keeps its phase.
	Upstream  bool         `toml:"upstream"`
	Meshes    []Mesh       `toml:"meshes"`            // gears turning in the headstock; back gear's when empty
	CoastTurn []unit.Ratio `toml:"coast_turns,ratio"` // measured turns of the spindle after switching off
	Torque    unit.Torque  `toml:"torque"`            // at the spindle, if known
}

// Brake is a brake on the spindle.
type Brake struct {
	Kind  BrakeKind    `toml:"kind"`
	Turns []unit.Ratio `toml:"turns,ratio"` // measured turns to a stop when braked
}

// BrakeKind is the kind of brake.
type BrakeKind string

// The kinds of brake.
const (
	NoBrake       BrakeKind = "none"
	FootBrake     BrakeKind = "foot"
	ElectricBrake BrakeKind = "electric"
)

// Chuck is the chuck that is normally used.
type Chuck struct {
	Jaws     int           `toml:"jaws"`
	Diameter unit.Length   `toml:"diameter"`
	MaxSpeed unit.Rotation `toml:"max_rpm"`
}

// Faceplate is the driving plate or faceplate used between centres.
type Faceplate struct {
	Slots int `toml:"slots"` // equally spaced slots or drive holes for the dog
}

// Tailstock is the tailstock.
type Tailstock struct {
	Taper   string      `toml:"taper"`
	Travel  unit.Length `toml:"quill_travel"`
	Quill   unit.Length `toml:"quill_diameter"`
	SetOver unit.Length `toml:"set_over"`
}

// Rests are the supports for slender work.
type Rests struct {
	Steady unit.Length `toml:"steady_to"` // largest diameter; zero when there is none
	Follow unit.Length `toml:"follow_to"`
}

// Stiffness holds measured stiffnesses; zero means not measured, and a default is used.
type Stiffness struct {
	Chuck     unit.Stiffness        `toml:"chuck"`
	ChuckTilt unit.AngularStiffness `toml:"chuck_tilt"`
	Tailstock unit.Stiffness        `toml:"tailstock"`
	Tool      unit.Stiffness        `toml:"tool"`
}
