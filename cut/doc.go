// Package cut is the cut itself: what the tool takes off in each pass, what force
// that needs, and how much of it the springy work and tool give back.
//
// A threading tool is a form tool. In each pass it stands a little deeper, and
// with compound infeed a little further along, than before. What it removes is
// the tool's outline at its new place less everything that earlier passes took
// away (Cutter.Cut). The chip is spread over up to three edges: the leading flank, which
// faces the way the carriage travels, the nose, and the trailing flank. Straight
// infeed loads both flanks alike; a compound set at the flank angle leaves the
// whole chip to the leading edge and lets the trailing one rub.
//
// The force on each edge follows from the thickness h and width b of its chip
// (Kienzle): F = k b h^(1-m), square to the direction of cutting times a ratio.
// Multiplied by the springiness of work and tool (package shaft) it tells how far
// the tool is from where the dial says it is, pass after pass (Bend).
//
// What a material asks for (Material) comes from a table with the source of each
// figure, and a user can add his own. Forces from tables are good to about a
// quarter either way; below three hundredths of a millimetre of chip, half. Where
// a figure is recalled and was not read on a page, its source says "from memory".
package cut
