// Package plan is the one calculation: a drawing callout, a part, a lathe and a
// material become a complete set-up for cutting one screw thread with a
// single-point tool.
//
// Make takes a Request and returns a Plan. The Plan holds everything that the
// set-up sheet shows, in the order in which the work is done: the thread and the
// size over wires; what is dangerous about this set-up; how each pass ends and the
// room it has; levers, gears and dial lines; the blank; the tool and the compound;
// the spindle speed; zeroing, the air pass and the scratch pass; each pass as
// readings of this lathe's own dials; the final checks. The terminal, the web
// page, the printed page and the JSON are four renderings of this one value.
//
// Every figure either follows from the request, the lathe's description and the
// standards, or rests on an assumption. Reasons name what governed a figure;
// assumptions are listed apart, each with the measurement that would replace it.
// What is dangerous on the lathe at hand is not footnoted: the plan is blocked,
// says why, and what would unblock it. A blocked plan has no passes.
//
// Make is deterministic and does no input or output. Depths are measured square
// to the axis from the blank's surface; feeds along it. The tool's tip is placed
// so that the groove is half a pitch wide at the pitch diameter aimed at, whatever
// the tip's flat or radius.
package plan
