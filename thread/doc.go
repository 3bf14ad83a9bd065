// Package thread knows what a thread callout on a drawing means.
//
// A callout such as 1/2-13 UNC-2A-LH says five things: how large the thread is
// (1/2 in), how far apart its ridges are (13 to the inch), which form they have
// (Unified, 60 degrees), how much the maker may be out (class 2A, an external
// thread) and which way it winds (left). Everything else is in the standard that
// the callout points to: the basic major, pitch and minor diameters, and the
// limits between which each of them must end.
//
// The pitch diameter is the one that decides whether the thread fits. It is the
// diameter of the cylinder on which ridge and groove are equally wide, so it
// tells where the flanks are; the flanks carry the load and do the fitting.
// Major and minor diameter only have to stay clear. That is why the major
// diameter of a screw has a wide tolerance and its minor diameter no lower limit.
//
// Limits are those of the part BEFORE plating. Plating builds up square to the
// flank: on a 60 degree thread each micrometre of coating makes the pitch
// diameter four micrometres larger, and the major diameter two.
//
// Tables of the standards are data files beside this package, each with its
// source in the first lines. Where a published table and its own formula
// disagree, the table governs; formulas serve sizes that no table lists.
//
// A standard's figure assumes an ordinary engagement of about one diameter, a
// part at 20 degrees and a perfect flank angle and lead. A thread with errors of
// angle or lead can be inside these limits and still not fit: judging that is
// the work of package gauge.
package thread
