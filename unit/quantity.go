package unit

import (
	"errors"
	"math"
	"strconv"
)

// Angle is a plane angle in radians.
type Angle float64

// Units of angle.
const (
	Radian Angle = 1
	Degree Angle = math.Pi / 180
)

// Degrees returns the angle in degrees.
func (a Angle) Degrees() float64 { return float64(a / Degree) }

// Rad returns the angle in radians.
func (a Angle) Rad() float64 { return float64(a) }

// Sin, Cos and Tan are the usual functions of the angle.
func (a Angle) Sin() float64 { return math.Sin(float64(a)) }

// Cos returns the cosine.
func (a Angle) Cos() float64 { return math.Cos(float64(a)) }

// Tan returns the tangent.
func (a Angle) Tan() float64 { return math.Tan(float64(a)) }

// Format prints the angle in degrees: "29.50°".
func (a Angle) Format(places int) string {
	return strconv.FormatFloat(snap(a.Degrees(), places), 'f', places, 64) + "°"
}

// Force is a force in newtons.
type Force float64

// Newton is the unit of force.
const Newton Force = 1

// N returns the force in newtons.
func (f Force) N() float64 { return float64(f) }

// PoundForce is the weight of a pound: 0.45359237 kg x 9.80665 m/s2.
const PoundForce Force = 4.4482216152605

// Format prints the force in whole newtons, or in whole pounds-force where inches are used.
func (f Force) Format(sys System) string {
	if sys == Inches {
		return strconv.FormatFloat(float64(f/PoundForce), 'f', 0, 64) + " lbf"
	}
	return strconv.FormatFloat(float64(f), 'f', 0, 64) + " N"
}

// Time is a duration in seconds, of cutting and of people, not of clocks.
type Time float64

// Second is the unit of time.
const Second Time = 1

// S returns the time in seconds.
func (t Time) S() float64 { return float64(t) }

// Velocity is a speed along a line in millimetres per second.
type Velocity float64

// Units of velocity.
const (
	MillimetrePerSecond Velocity = 1
	MetrePerMinute      Velocity = 1000.0 / 60
	FootPerMinute       Velocity = 304.8 / 60
)

// MPerMin returns the velocity in metres per minute, the unit of metric cutting speeds.
func (v Velocity) MPerMin() float64 { return float64(v / MetrePerMinute) }

// FtPerMin returns the velocity in feet per minute, the unit of inch cutting speeds.
func (v Velocity) FtPerMin() float64 { return float64(v / FootPerMinute) }

// MMPerS returns the velocity in millimetres per second.
func (v Velocity) MMPerS() float64 { return float64(v) }

// Format prints a cutting speed in m/min or ft/min.
func (v Velocity) Format(sys System, places int) string {
	if sys == Inches {
		return strconv.FormatFloat(snap(v.FtPerMin(), places), 'f', places, 64) + " ft/min"
	}
	return strconv.FormatFloat(snap(v.MPerMin(), places), 'f', places, 64) + " m/min"
}

// Travel prints the speed of a slide in mm/s or in/s, with three figures.
func (v Velocity) Travel(sys System) string {
	f, name := v.MMPerS(), " mm/s"
	if sys == Inches {
		f, name = f/25.4, " in/s"
	}
	return strconv.FormatFloat(f, 'g', 3, 64) + name
}

// Rotation is a rotational speed in revolutions per minute.
type Rotation float64

// RevPerMinute is the unit of rotational speed.
const RevPerMinute Rotation = 1

// RPM returns the speed in revolutions per minute.
func (r Rotation) RPM() float64 { return float64(r) }

// Hz returns the revolutions per second.
func (r Rotation) Hz() Frequency { return Frequency(r / 60) }

// Surface returns the surface speed at the given diameter: v = pi d n.
func (r Rotation) Surface(d Length) Velocity {
	return Velocity(math.Pi * float64(d) * float64(r) / 60)
}

// Feed returns the speed of a carriage that advances by lead each revolution.
func (r Rotation) Feed(lead Length) Velocity { return Velocity(float64(lead) * float64(r) / 60) }

// Stiffness is a force per deflection in newtons per millimetre.
type Stiffness float64

// Units of stiffness.
const (
	NewtonPerMillimetre Stiffness = 1
	NewtonPerMicrometre Stiffness = 1000
)

// NPerMM returns the stiffness in newtons per millimetre.
func (k Stiffness) NPerMM() float64 { return float64(k) }

// PoundPerThou is one pound-force per thousandth of an inch: 1000 lbf/in.
const PoundPerThou = Stiffness(PoundForce) / Stiffness(Thou)

// Format prints the stiffness in N/um or lbf/thou, to three figures.
func (k Stiffness) Format(sys System) string {
	if sys == Inches {
		return strconv.FormatFloat(float64(k/PoundPerThou), 'g', 3, 64) + " lbf/thou"
	}
	return strconv.FormatFloat(float64(k/NewtonPerMicrometre), 'g', 3, 64) + " N/um"
}

// AngularStiffness is a moment per rotation in newton millimetres per radian.
type AngularStiffness float64

// NewtonMetrePerRadian is the usual unit of a joint's angular stiffness.
const NewtonMetrePerRadian AngularStiffness = 1000

// NMMPerRad returns the angular stiffness in newton millimetres per radian.
func (k AngularStiffness) NMMPerRad() float64 { return float64(k) }

// Frequency is a frequency in hertz.
type Frequency float64

// Hertz is the unit of frequency.
const Hertz Frequency = 1

// Hz returns the frequency in hertz.
func (f Frequency) Hz() float64 { return float64(f) }

// Stress is a stress, a modulus or a specific cutting force in newtons per square millimetre.
type Stress float64

// Units of stress.
const (
	Megapascal Stress = 1
	Gigapascal Stress = 1000
)

// MPa returns the stress in newtons per square millimetre.
func (s Stress) MPa() float64 { return float64(s) }

// Power is a power in watts.
type Power float64

// Units of power.
const (
	Watt       Power = 1
	Kilowatt   Power = 1000
	Horsepower Power = 745.6998715822702 // 550 ft lbf/s
)

// W returns the power in watts.
func (p Power) W() float64 { return float64(p) }

// Torque is a moment in newton millimetres.
type Torque float64

// NewtonMetre is the usual unit of torque.
const NewtonMetre Torque = 1000

// NM returns the torque in newton metres.
func (t Torque) NM() float64 { return float64(t) / 1000 }

// Density is a density in tonnes per cubic millimetre.
type Density float64

// KilogramPerCubicMetre is the usual unit of density.
const KilogramPerCubicMetre Density = 1e-12

// KgPerM3 returns the density in kilograms per cubic metre.
func (d Density) KgPerM3() float64 { return float64(d / KilogramPerCubicMetre) }

// Area is an area in square millimetres.
type Area float64

// SquareMillimetre is the unit of area.
const SquareMillimetre Area = 1

// MM2 returns the area in square millimetres.
func (a Area) MM2() float64 { return float64(a) }

func asInput(err error, target **InputError) bool { return errors.As(err, target) }
