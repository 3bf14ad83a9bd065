package lathe

import "thrum/unit"

// Carriage holds what closes and opens the feed.
type Carriage struct {
	HalfNuts          HalfNuts    `toml:"half_nuts"`
	Stop              bool        `toml:"stop"` // a carriage stop on the bed
	KickOut           bool        `toml:"kick_out"`
	KickOutRepeat     unit.Length `toml:"kick_out_repeatability"`
	SingleToothClutch bool        `toml:"single_tooth_clutch"`
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
	Zero     ProtractorZero `toml:"zero_means,required"`
	End      unit.Angle     `toml:"scale_end,required"` // largest figure of the scale, counted from its zero
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
	// Upstream tells that the change to this speed lies before the take-off of the
	// feed and never parts spindle, train and screw. See KeepsPhase.
	Upstream   bool         `toml:"upstream_of_feed"`
	Meshes     []Mesh       `toml:"meshes"`            // gears turning in the headstock; when empty, those of the back gear if it is in
	CoastTurns []unit.Ratio `toml:"coast_turns,ratio"` // turns of the spindle after switching off, one entry a reading
	BrakeTurns []unit.Ratio `toml:"brake_turns,ratio"` // the same with the brake
	Torque     unit.Torque  `toml:"torque"`            // greatest torque at the spindle; zero when not known
}

// Brake is a brake on the spindle.
type Brake struct {
	Kind BrakeKind `toml:"kind,required"`
}

// BrakeKind is the kind of brake.
type BrakeKind string

// The kinds of brake; electric ones stop the motor by injected current or by its inverter.
const (
	NoBrake       BrakeKind = "none"
	FootBrake     BrakeKind = "foot"
	HandBrake     BrakeKind = "hand"
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
