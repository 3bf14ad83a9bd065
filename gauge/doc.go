// Package gauge says how a cut thread is measured and what a reading means.
//
// A thread fits by its flanks, and the diameter that says where the flanks are,
// the pitch diameter, cannot be touched with a plain micrometer. So three wires
// are laid into the grooves, two on one side and one on the other, and measured
// over. From the reading, the wire and the thread's form follows the pitch
// diameter. ForThread does that the way a set-up sheet needs it: which wires, what
// they read at the limits, and from which depth of cut on a reading counts at all.
//
// The handbooks' formulas take the groove as if it ran straight around. It runs
// uphill, and a straight wire leaning in a winding groove rides a little higher
// than they say: nothing to speak of on a fine single-start thread, a few
// hundredths on a multi-start Acme. Flanks.SeatOf finds the place where the wire
// really comes to rest, at any lead angle and with unequal flanks, and gives both
// formulas beside it. It assumes flanks that are straight in the plane of the axis,
// as a tool set at centre height cuts them, hard wires and no measuring force.
//
// One reading is not a verdict. The micrometer, the wires, the flank angle and the
// temperature each have their error; Judge adds them up (GUM) and compares with the
// limits by the rule of ISO 14253-1: what is called inside is inside with 95 %
// probability, and what cannot be known is said to be unknown. When metal is left
// it says how much.
//
// The mating thread feels more than the pitch diameter: errors of lead and flank
// angle make a screw seem larger and a nut smaller. Functional reckons with them
// when they are known. MeansFor lists the other ways of finding out, from gauges to
// the mating part, and what each of them cannot tell.
//
// Do not trust it for square threads (nothing wedges between square flanks), for
// steep flanks at a large lead angle (a straight wire rides on the crests: it says
// so), or to better than a micrometre or two on a lathe: measuring force presses
// the wires in, and no figure for that could be confirmed, so none is applied.
package gauge
