package plan

import (
	"thrum/thread"
	"thrum/unit"
)

// Schema is the version of the Plan's written form. Decode upgrades every
// earlier one.
const Schema = 1

// Plan is the complete set-up for one thread. JSON fields carry their unit as a
// suffix: _mm, _rad, _rpm, _hz, _s, _n.
type Plan struct {
	Schema      int          `json:"schema"`
	Engine      string       `json:"engine"` // version of the program that made it
	Request     Request      `json:"request"`
	Thread      ThreadFacts  `json:"thread"`
	Limits      LimitTable   `json:"limits"`
	Wires       *WirePlan    `json:"wires,omitempty"`
	Size        SizeCheck    `json:"size"`
	Hazards     []Hazard     `json:"hazards"`
	Stopping    Stopping     `json:"stopping"`
	Gears       []GearChoice `json:"gears"`
	Dial        DialRule     `json:"dial"`
	Work        Work         `json:"work"`
	Tool        Tool         `json:"tool"`
	Swing       Swing        `json:"compound"`
	Speed       Speed        `json:"speed"`
	Routine     Routine      `json:"routine"`
	Passes      []Pass       `json:"passes"`
	Bend        *Bend        `json:"bend,omitempty"`
	Lines       []KnownLine  `json:"known_lines"`
	CarryOver   []float64    `json:"carry_over,omitempty"` // by pass: what is left of the waves of the one before
	Vibration   *Vibration   `json:"vibration,omitempty"`
	Finish      []Step       `json:"finish"`
	Reasons     []Reason     `json:"reasons"`
	Assumptions []Assumption `json:"assumptions"`

	Spec thread.Thread `json:"-"` // the thread itself, for drawings; Decode restores it
}

// Blocked returns the hazards that forbid this set-up; empty when it may be cut.
func (p *Plan) Blocked() []Hazard {
	var b []Hazard
	for _, h := range p.Hazards {
		if h.Level == Forbidden {
			b = append(b, h)
		}
	}
	return b
}

// ThreadFacts describe the thread in words and figures.
type ThreadFacts struct {
	Designation string      `json:"designation"`
	Words       string      `json:"words"` // "external, right hand, single start"
	Form        string      `json:"form"`
	Source      string      `json:"source"`
	Family      string      `json:"family"`
	Class       string      `json:"class,omitempty"`
	Internal    bool        `json:"internal"`
	LeftHand    bool        `json:"left_hand"`
	Starts      int         `json:"starts"`
	Nominal     unit.Length `json:"nominal_mm"`
	Pitch       unit.Length `json:"pitch_mm"`
	PitchExact  unit.Ratio  `json:"pitch_exact_mm"`
	PerInch     unit.Ratio  `json:"threads_per_inch"`
	Lead        unit.Length `json:"lead_mm"`
	LeadExact   unit.Ratio  `json:"lead_exact_mm"`
	LeadAngle   unit.Angle  `json:"lead_angle_rad"`
	Taper       unit.Ratio  `json:"taper_on_diameter"`
	Engagement  unit.Length `json:"engagement_mm"`
}

// Limit is a pair of limits of size with the size to aim at. A limit that the
// standard does not give is left out.
type Limit struct {
	Min    unit.Length `json:"min_mm,omitempty"`
	Max    unit.Length `json:"max_mm,omitempty"`
	Target unit.Length `json:"target_mm,omitempty"`
	Why    string      `json:"why,omitempty"`
}

// MemberLimits are the limits of one member of the pair.
type MemberLimits struct {
	Major Limit `json:"major"`
	Pitch Limit `json:"pitch"`
	Minor Limit `json:"minor"`
}

// LimitTable holds the limits of the member that is being cut.
type LimitTable struct {
	External  *MemberLimits `json:"external,omitempty"`
	Internal  *MemberLimits `json:"internal,omitempty"`
	Deviation unit.Length   `json:"deviation_mm"`
	Plating   unit.Length   `json:"plating_mm,omitempty"`
}

// Member returns whichever of the two members is being cut.
func (t LimitTable) Member() *MemberLimits {
	if t.External != nil {
		return t.External
	}
	return t.Internal
}

// WireSize is a reading over wires for the limits of pitch diameter.
type WireSize struct {
	Min    unit.Length `json:"min_mm"`
	Max    unit.Length `json:"max_mm"`
	Target unit.Length `json:"target_mm,omitempty"`
}

// WirePlan says which wires to use and what to read over them.
type WirePlan struct {
	Best       unit.Length `json:"best_mm"`
	Use        unit.Length `json:"use_mm"`
	Least      unit.Length `json:"least_mm"`
	Greatest   unit.Length `json:"greatest_mm"`
	Over       WireSize    `json:"over"`
	UsualOver  WireSize    `json:"over_usual_formula"` // without lead correction, for comparison
	SeatsBelow unit.Length `json:"seats_below_depth_mm"`
	Note       string      `json:"note,omitempty"`
}

// SizeCheck says how the finished thread is judged.
type SizeCheck struct {
	Headline string   `json:"headline"` // "over .0450 wires: .5160 to .5207 in" is printed from Wires; this is for threads without wires
	Methods  []string `json:"methods"`
}

// Level grades a hazard.
type Level string

// A forbidden set-up is not planned; a warning needs the reader's decision; a
// caution is always shown.
const (
	Forbidden Level = "blocked"
	Warning   Level = "warning"
	Caution   Level = "caution"
)

// Hazard is something about this set-up that can hurt someone or spoil the part.
type Hazard struct {
	Level Level    `json:"level"`
	Text  string   `json:"text"`
	Cures []string `json:"cures,omitempty"`
}

// Ending is one way to end a pass, judged for this part on this lathe.
type Ending struct {
	Method  string      `json:"method"`
	Words   string      `json:"words"` // what the hands do
	Usable  bool        `json:"usable"`
	Reason  string      `json:"reason"`
	Room    unit.Length `json:"room_mm"`
	Seconds unit.Time   `json:"seconds"`
	Turns   float64     `json:"turns"`
	Risk    float64     `json:"risk"` // that at least one pass of the part overruns
	Assumed bool        `json:"assumed"`
	MaxRPM  float64     `json:"max_rpm"` // fastest spindle speed at which the room suffices; 0 when speed does not matter
}

// Stopping says how a pass ends and the room it needs and has, beyond the last
// full thread.
type Stopping struct {
	Ending
	Available     unit.Length `json:"available_mm"` // 0 when the part sets no bound
	AvailableTime unit.Time   `json:"available_seconds"`
	FloorPerPass  float64     `json:"floor_per_pass"` // no smaller chance of a missed end can be claimed, 95 %
	Carriage      float64     `json:"carriage_mm_per_s"`
	Others        []Ending    `json:"others"`
	Start         string      `json:"start"`  // how a pass begins
	Return        string      `json:"return"` // how the carriage comes back
}

// GearChoice is one way to drive the leadscrew.
type GearChoice struct {
	Levers       string      `json:"levers,omitempty"`
	Wheels       []int       `json:"wheels"`
	Words        []string    `json:"words"`
	Ratio        unit.Ratio  `json:"ratio"`
	Lead         unit.Ratio  `json:"lead_exact_mm"`
	LeadErrorPPM float64     `json:"lead_error_ppm"`
	PitchGrowth  unit.Length `json:"functional_pitch_diameter_error_mm"`
	OverThread   unit.Length `json:"lead_error_over_thread_mm"`   // what the error adds up to over the thread's own length
	OverStandard unit.Length `json:"lead_error_over_standard_mm"` // over 300 mm, on inch sheets over 12 in, as leadscrews are judged
	LeadWords    string      `json:"lead_words"`                  // all of it in words, and whether it matters
	Stages       int         `json:"stages"`
	Note         string      `json:"note,omitempty"`
	Circles      []Circle    `json:"circles,omitempty"`
}

// Circle is one wheel of a train where it sits on the banjo, centre of the first
// driver at the origin.
type Circle struct {
	X      unit.Length `json:"x_mm"`
	Y      unit.Length `json:"y_mm"`
	Radius unit.Length `json:"r_mm"`
	Teeth  int         `json:"teeth"`
	Name   string      `json:"name"`
	Shaft  int         `json:"shaft"`
}

// DialRule says where on the threading dial the half nuts may be closed.
type DialRule struct {
	Rule   string `json:"rule"`
	Detail string `json:"detail,omitempty"`
	Closed bool   `json:"keep_closed"` // no line is right: the half nuts stay closed
}

// Work describes the blank and how it is held.
type Work struct {
	Blank         Limit       `json:"blank"` // diameter of the blank, or of the bore
	Length        unit.Length `json:"thread_length_mm"`
	Stickout      unit.Length `json:"stickout_mm"`
	Centre        bool        `json:"centre"`
	ChamferAngle  unit.Angle  `json:"chamfer_rad"`
	ChamferTo     unit.Length `json:"chamfer_to_diameter_mm"`
	ReliefWidth   unit.Length `json:"relief_width_mm"`
	ReliefDia     unit.Length `json:"relief_diameter_mm"`
	ReliefCorner  unit.Length `json:"relief_corner_radius_mm"`
	Holding       []string    `json:"holding"`
	LengthOverDia float64     `json:"length_over_diameter"`
}

// Tool describes the tool and what its clearances must be.
type Tool struct {
	Material      string      `json:"material"`
	Profile       string      `json:"profile"`
	Included      unit.Angle  `json:"included_rad"`
	Flat          unit.Length `json:"tip_flat_mm"`
	Radius        unit.Length `json:"tip_radius_mm"`
	LeadingRelief unit.Angle  `json:"leading_clearance_rad"`
	TrailRelief   unit.Angle  `json:"trailing_clearance_rad"`
	Steps         []string    `json:"steps"`
}

// Swing is how the compound is set.
type Swing struct {
	Method     string     `json:"method"` // "straight", "flank", "modified flank", "alternating"
	Angle      unit.Angle `json:"angle_rad"`
	ScaleReads string     `json:"scale_reads"`
	Direction  string     `json:"direction"`
	FromChuck  bool       `json:"from_chuck"` // the tool travels away from the chuck
	Reverse    bool       `json:"reverse"`    // the spindle runs backwards while cutting
}

// Speed is the spindle speed and what decided it.
type Speed struct {
	RPM       unit.Rotation `json:"rpm"`
	Setting   string        `json:"setting"`
	BackGear  bool          `json:"back_gear"`
	Surface   unit.Velocity `json:"surface_mm_per_s"`
	Low       unit.Velocity `json:"surface_low_mm_per_s"`
	High      unit.Velocity `json:"surface_high_mm_per_s"`
	Governed  string        `json:"governed_by"`
	Oil       string        `json:"oil"`
	Finish    unit.Rotation `json:"finish_rpm,omitempty"`
	FinishHow string        `json:"finish_setting,omitempty"`
	Note      string        `json:"note,omitempty"`
	Steps     []SpeedStep   `json:"steps"` // every speed of the lathe, judged for this part
}

// SpeedStep is one speed of the lathe: what it would mean for this thread.
type SpeedStep struct {
	RPM     unit.Rotation `json:"rpm"`
	Setting string        `json:"setting"`
	Surface unit.Velocity `json:"surface_mm_per_s"`
	InRange bool          `json:"in_range"` // of surface speeds for this material and tool
	Ending  string        `json:"ending"`
	Room    unit.Length   `json:"room_mm"`
	Usable  bool          `json:"usable"`  // every pass can be ended at the risk chosen
	Fastest bool          `json:"fastest"` // the fastest that is usable and not above the range
	Why     string        `json:"why"`
}

// Step is one thing to do, in order, with the check that ends it.
type Step struct {
	Do    string `json:"do"`
	Check string `json:"check,omitempty"`
}

// Routine is what comes before the first chip.
type Routine struct {
	Zero    []Step `json:"zero"`
	Air     []Step `json:"air"`
	Scratch []Step `json:"scratch"`
	Again   []Step `json:"picking_up_again"`
}

// Reading is a position of a dial, with the dial's own unit and kind.
type Reading struct {
	Text  string      `json:"text"` // "1 turn + .031"
	Turns int         `json:"turns"`
	Part  unit.Length `json:"part_mm"`  // reading beyond whole turns, in the dial's own measure
	Slide unit.Length `json:"slide_mm"` // movement of the slide
	Kind  string      `json:"kind"`     // "diameter dial" or "direct dial"
}

// Pass is one cut.
type Pass struct {
	N          int           `json:"n"`
	Depth      unit.Length   `json:"depth_mm"`  // cumulative, square to the axis
	Infeed     unit.Length   `json:"infeed_mm"` // of this pass
	Cross      Reading       `json:"cross"`
	Compound   Reading       `json:"compound"`
	GovernedBy string        `json:"governed_by"`
	Measure    bool          `json:"measure"` // stop and measure after this pass
	Spring     bool          `json:"spring,omitempty"`
	RPM        unit.Rotation `json:"rpm"`
	Area       float64       `json:"chip_area_mm2"`
	Chip       unit.Length   `json:"chip_thickness_mm"`
	Trailing   unit.Length   `json:"trailing_chip_mm"`
	Force      unit.Force    `json:"force_n"`
	Radial     unit.Force    `json:"radial_force_n"`
	Axial      unit.Force    `json:"axial_force_n"`
	Power      unit.Power    `json:"power_w"`
	Achieved   unit.Length   `json:"achieved_mm"` // depth really reached at the most yielding place
}

// Bend is what the part's yielding leaves in the thread.
type Bend struct {
	At         []unit.Length `json:"at_mm"` // from the shoulder end of the thread
	PitchError []unit.Length `json:"pitch_diameter_error_mm"`
	Taper      unit.Length   `json:"taper_mm"`
	Spring     int           `json:"spring_passes"`
	Words      string        `json:"words"`
}

// Reason names what governed a figure.
type Reason struct {
	About  string `json:"about"`
	Text   string `json:"text"`
	Source string `json:"source,omitempty"`
}

// Assumption is a figure that the user should replace by a measurement.
type Assumption struct {
	About   string `json:"about"`
	Text    string `json:"text"`
	Replace string `json:"replace,omitempty"` // how to measure it
	Harm    bool   `json:"can_hurt"`
}
