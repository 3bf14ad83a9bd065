// Package lathe knows one lathe: its leadscrew, wheels, gearbox, dials, speeds and
// stops, read from a file that its owner writes (docs/lathe-file.md).
//
// From that it works out what a machinist would otherwise look up, count or try:
//
//   - Trains finds the change gears and gearbox positions for a lead. The lead cut
//     is the product of exact fractions,
//
//     lead = screw lead x stud ratio x drivers/driven x gearbox ratio
//
//     so a train is either exact or off by a known number of parts in a million,
//     never "about right". Every train is laid out on the banjo and tried for reach
//     and clearance before it is offered.
//
//   - Rules says on which lines of the threading dial, as engraved, the half nuts
//     may be closed again. The tool falls into the old groove when the carriage has
//     been shifted against the screw by a whole number of leads of the thread.
//
//   - IndexMethods gives the ways from one start of a multi-start thread to the
//     next, with figures, and what each shuts out.
//
//   - Dial.Reading and Protractor.Reading turn travels and angles into what this
//     lathe's collars and scales show, direct or on the diameter, whatever their
//     zero means.
//
//   - Hazards and CanReverse tell what the lathe's build makes dangerous, such as
//     reversing against a screwed-on chuck.
//
// Wheels are taken as true circles on shafts that stand where the file says; the
// banjo's slot as straight and pointing at the screw. A train that is offered has a
// millimetre of clearance by these figures, but guards, oil pipes and the tumbler
// plate are not known: turn every new train by hand before switching on.
package lathe
