// Package unit holds the quantities that the rest of the program reckons in.
//
// A lathe mixes inches and millimetres: the screw may have 8 threads per inch,
// the drawing may call for a pitch of 1.25 mm, the cross-slide dial may read
// thousandths on the diameter. Mixing them up is how parts are scrapped, so no
// length, angle, speed or force travels through this program as a bare number.
// Each quantity has a type of its own, and each type has one canonical unit:
//
//	Length     millimetre            Angle      radian
//	Force      newton                Time       second
//	Velocity   millimetre/second     Rotation   revolution/minute
//	Stiffness  newton/millimetre     Frequency  hertz
//	Stress     newton/millimetre^2   Power      watt
//	Torque     newton millimetre     Density    tonne/millimetre^3
//
// Millimetre, newton, second and tonne form a consistent set: a stiffness in
// N/mm and a mass in tonnes give a frequency in Hz with no factor in between.
//
// One inch is exactly 25.4 mm, so a screw of 8 threads per inch has a lead of
// exactly 127/40 mm. Leads and gear ratios are kept as exact fractions (Ratio):
// whether a train is right or wrong by 125 parts in a million is decided by
// whole numbers, never by rounding.
//
// A length is read as a machinist writes it: 12.7mm, 0.5in, 1/2", 1-3/8in,
// .040", 40 thou. A number without a unit means the system that the caller
// names; it is never guessed. Values remember nothing about how they were
// written: printing in millimetres or inches is always asked for explicitly.
package unit
