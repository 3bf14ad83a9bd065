// Package shaft treats the work in the lathe as an elastic bar: how far it bends
// away from the tool, and how it rings.
//
// A slender part is pushed off the tool by the cut, springs back afterwards, and
// comes out thicker where it gave way: a taper when it stands free out of the
// chuck, a barrel between centres. The same springiness sets the frequencies at
// which the part can chatter.
//
// The model is a straight round bar in lengths of constant diameter, bored or
// solid (Section), held at the headstock and, if there is a centre, at the
// tailstock. A chuck is a spring against sideways movement and a spring against
// tilting; a centre is a spring against sideways movement only; steadies may
// stand in between. Each length bends as a Timoshenko beam: bending and shear,
// mass and rotary inertia of the cross-section. What the tool, its post and the
// saddle give is added to what the work gives.
//
//	y(x) = f(x,a) F      deflection at x under a force F at a (Bar.Deflection)
//	Phi(w, a)            the same for a force that swings w times a second (Bar.Receptance)
//
// Positions are measured from the face of the chuck (or the headstock centre)
// towards the tailstock.
//
// Not in the model: the spindle as a separate shaft, jaws that slip, work out of
// round, unequal stiffness of a three-jaw chuck round the clock, oil films, and
// damping from first principles. Joint stiffness is the weak point: figures found
// in print scatter by three to one. Measure with an indicator and a spring
// balance, or knock the part and listen; the built-in figures are marked as what
// they are. Where the bar is shorter than about its diameter beam theory itself
// is no longer good.
package shaft
