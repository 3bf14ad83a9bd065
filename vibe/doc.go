// Package vibe tells whether vibration will spoil a thread: how much waviness
// each pass leaves of what the last one left, what would start it, and which
// spindle speed would clean it up.
//
// In plain turning each turn cuts the marks of the turn before, and there are
// lucky and unlucky speeds. A single-point thread is different: each turn
// cuts fresh metal one pitch along, and the same helix is met again by the NEXT
// PASS, in step because the leadscrew says so. If the work and the tool give
// by Phi(w) per swinging force and the cut resists by K per millimetre of edge b
// and per millimetre of chip,
//
//	h = h0 + y[n-1] - y[n],  F = K b h,  y = Phi F
//	Y[n] = T Y[n-1],   T(w) = K b Phi(w) / (1 + K b Phi(w))
//
// The carry-over |T| is what one pass leaves of the waves of the last: "each
// pass leaves 1.4 times the last". It passes 1 where Re Phi < -1/(2 K b). Since
// there is no delay inside a pass there are no lucky speeds as long as the speed
// stays the same; but a wave of k waves a turn meets the tool k rpm/60 times a
// second, so a pass at another speed meets it where |T| may be small and cuts it
// away. That takes a real cut, deeper than the marks.
//
// Each edge of the tool gives its own share: K b is a matrix over the radial
// and axial directions, made of the edge's normals (Gain). Rubbing of the edge on
// the waves adds damping C b / v that rises as the surface speed falls (Process).
// A tool side that gives aslant can couple the cutting force into the chip; then
// waves grow within one pass, and a change of speed is no cure (Holding.InPass).
// Edges that overlap the last turn bring the lobes of plain turning back (Lobes).
//
// Simulate follows the complete cut through time instead, pass after pass, with the
// surface kept along the helix; there the tool can leave the metal, passes can be of
// any depth and speed, and nothing is linear that is not. With Record it gives the
// tool's movement and the force of every step, which package internal/made turns into
// recordings and pictures of threads that were never cut.
//
// How far to trust it. The equation is ordinary mathematics and is checked
// against time integration by independent programs. No published experiment is
// known that shows pass-to-pass growth with a single-point threading tool; how much
// it weighs in practice beside entry shocks, gear-mesh ripple, built-up edge and
// rubbing is unproven. It is linear: a wave cannot grow beyond about the thickness
// of the chip, for then the tool leaves the metal. Damping is known to a factor of
// about two either way unless it was measured, stiffness of joints to a half,
// the cutting force to a quarter or a half, C to a factor of ten from end to end.
// So every answer is a range, and only a carry-over well above 1 over several
// passes is a prediction of marks.
package vibe
