// Package draw keeps a drawing as a list of strokes, fills and words, and writes
// that list as SVG for a screen, PDF for the printer, PNG for a video, or DXF for
// a machine that cuts the shape.
//
// Everything is placed in millimetres of paper: the origin is the top left
// corner, X runs right and Y runs down, as one reads. Angles run anticlockwise
// as seen on the paper, starting at three o'clock. What measures 100 mm in the
// list measures 100 mm on the print, so a thread can be held against it. The
// scale between part and paper is the business of whoever draws.
//
// The verbs are few: Stroke a path with a pen, Fill it with a colour, write a
// Text, place an Image, lay a Link, open and End a Group, start a Page. The
// helpers are made of these alone: Hatch, dimensions, threads, tables, charts.
//
// Lines are those of technical drawing. ISO 128 tells what a line means by its
// type and width: a wide line is an edge that can be seen, a narrow dashed line
// an edge that cannot, a narrow line of long dashes and dots an axis, and of long
// dashes and double dots a part in another position. ISO 6410 draws a thread as a
// wide line at the crests and a narrow line at the roots. ISO 129 sets the rules
// for dimensions. There is a named pen for each, so that a drawing reads
// draw.Visible, draw.Centre, draw.Thin.
//
// There is one accent colour, a few greys, and nothing else. A drawing is thus
// legible on white paper, on a dark screen and in a photocopy, and nothing can be
// told by colour alone: lines differ by dashes, marks by shape, areas by hatching
// and words.
//
// Lettering is measured with the very font that the PDF and PNG carry (DejaVu
// Sans Condensed, which has the trade's signs ⌀ ° ± ≤ ∠ ½), so that a layout can
// be made from it. In SVG text stays text: it can be searched, copied, and read
// aloud. The same list always gives the same bytes.
package draw
