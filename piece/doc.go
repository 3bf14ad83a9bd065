// Package piece follows one workpiece through its job at the lathe: what is to be
// done next, what was confirmed, and how to find the place again.
//
// Steps turns a plan into the list of things to confirm: first the gates (the
// set-up looked over, dials zeroed, a pass in air, a scratch pass counted), then
// one step for each pass, then the final checks. A step is confirmed with a single
// touch when the tool is back at the start position; between closing the half nuts
// and opening them nothing has to be touched. The program cannot know where the
// carriage is and never says when to open.
//
// What happens is an entry in a log that only grows: a step confirmed, a reading
// over wires, a chipped tip, the thread picked up again. Taking something back is
// one more entry. Fold reads the log from its beginning and says where the piece
// stands; the same log gives the same answer on the bench computer and on a phone
// without a network, whatever was sent twice or late.
//
// The last thing confirmed is always shown, with where the dials stood then,
// because the costliest mistake after an interruption is to wind the compound on a
// second time. When in doubt the answer is to pick the thread up again with the
// spindle at rest: Pickup lists how.
//
// Table answers a measurement without the bench: what is left on the dial against
// the reading over the wires. Planning the remaining passes anew needs the whole
// calculation and waits for the bench computer.
//
// The package takes values and returns values; the wording is the plan's own.
package piece
