package photo

import (
	"math"

	"thrum/unit"
)

// Verdict says how far a reading may be relied on.
type Verdict string

// Accepted marks are reported as a number; doubtful ones are too, to be confirmed
// by a second photograph or by sound. A refused reading carries no number: that no
// regular marks were found does not say that there are none.
const (
	Accepted Verdict = "accepted"
	Doubtful Verdict = "doubtful"
	Refused  Verdict = "refused"
)

// Side is a way along the axis, as the picture shows it.
type Side string

// To the left or right where the axis lies across the picture; where it stands
// upright, left is the lower end after turning the picture clockwise.
const (
	NotTold Side = ""
	ToLeft  Side = "left"
	ToRight Side = "right"
)

// Options steer Read. The zero value is right for a first look.
type Options struct {
	Feed    Side   // which way the tool travelled in the picture; names leading and trailing flank
	Session string // a name for photographs taken in one go, same lamp, distance and exposure; needed for comparing indexes
	Low     int    // fewest marks per turn sought; 0 means 36
	High    int    // most; 0 means 520, or what the picture can show
}

// Count is a number of marks per turn with its standard uncertainty.
type Count struct{ Value, Doubt float64 }

// BandName is a part of the groove.
type BandName string

// The three parts of a groove. Which flank leads is known only where the direction
// of feed is; otherwise they are told by the side they lie on in the picture.
const (
	LeadingFlank  BandName = "leading flank"
	TrailingFlank BandName = "trailing flank"
	LeftFlank     BandName = "flank on the left of the groove"
	RightFlank    BandName = "flank on the right of the groove"
	Root          BandName = "root"
)

// Band is what one part of the groove shows by itself, over all turns.
type Band struct {
	Name     BandName
	Found    bool    // its own spectrum has a peak that would stand alone
	Marks    Count   // of that peak; zero where not Found
	Peak     float64 // height over the background of its spectrum
	Votes    float64 // share of its turns that show the marks of the whole reading
	Contrast float64 // amplitude of brightness at the marks of the whole reading, over the mean; 0 when refused
	Burnt    float64 // share of its area that is burnt out or outside the frame
}

// Fraction is the part of the marks per turn beyond a whole number, from the step of
// the marks from one turn to the next. It is far sharper than the count itself and
// does not say which whole number goes before it.
type Fraction struct {
	Value, Doubt float64 // of a turn of the mark's phase, 0 to 1
	Turns        int     // steps that went into it
}

// Index is a measure of how strongly the marks show: the amplitude of relative
// brightness on the flanks, in per cent, less what the same picture shows where
// there are no marks. It depends on the light and on the slope of the marks.
type Index struct {
	Value   float64 // per cent
	Floor   float64 // per cent, removed already
	Session string
}

// Look is the general appearance of the flanks.
type Look string

// What the flanks look like. Unclear is a proper answer.
const (
	Wavy    Look = "wavy"
	Torn    Look = "torn"
	Smooth  Look = "smooth"
	Unclear Look = "unclear"
)

// Appearance is a Look with what it was judged on.
type Appearance struct {
	Look    Look
	Reasons []string
}

// Reading is what one photograph says.
type Reading struct {
	Verdict      Verdict
	Reason       string   // one sentence, always there
	Advice       []string // how to take a better photograph
	MarksPerTurn float64  // 0 when refused
	Uncertainty  float64  // standard uncertainty of MarksPerTurn, systematic part included; 0 when refused
	Systematic   float64  // the part of it that further photographs of the same kind do not reduce
	Peak         float64  // height of the spectrum's peak over its background
	Votes        float64  // share of turns that show these marks by themselves
	Turns        int      // turns read
	Still        bool     // the marks lie at the same places in every turn
	Bands        []Band
	Fraction     *Fraction // nil where it cannot be told
	Comb         []float64 // marks per turn within two Uncertainties that fit Fraction
	Index        *Index    // nil unless accepted
	Appearance   Appearance
	Readable     float64 // most marks per turn that the picture could show
	Burnt        float64 // share of the flanks that is burnt out
	Geometry     *Geometry
	Spectrum     Spectrum
}

// Spectrum is how strongly each number of marks per turn shows, over the background.
type Spectrum struct {
	First, Step float64
	Height      []float64
}

// Count returns the marks per turn with their uncertainty; ok is false when refused.
func (r *Reading) Count() (c Count, ok bool) {
	return Count{r.MarksPerTurn, r.Uncertainty}, r.Verdict != Refused
}

// Speed is a spindle speed under cut with its standard uncertainty.
type Speed struct{ Value, Doubt unit.Rotation }

// Tone is a frequency with its standard uncertainty.
type Tone struct{ Value, Doubt unit.Frequency }

// Frequency turns marks per turn into the frequency that the tool moved at:
//
//	f = N n / 60,   (u_f/f)^2 = (u_N/N)^2 + (u_n/n)^2
//
// n is the speed of the pass that left the marks, measured under cut.
func Frequency(marks Count, speed Speed) Tone {
	f := marks.Value * float64(speed.Value) / 60
	if marks.Value == 0 || speed.Value == 0 {
		return Tone{}
	}
	rel := math.Hypot(marks.Doubt/marks.Value, float64(speed.Doubt)/float64(speed.Value))
	return Tone{unit.Frequency(f), unit.Frequency(f * rel)}
}
