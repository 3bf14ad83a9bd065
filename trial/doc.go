// Package trial plans comparisons cut on one lathe and says what they show: does
// a centre reduce the marks, is a fresh edge better, was it the speed?
//
// A trial changes one thing (the factor) between two arms, the baseline and the
// changed one, and holds the rest. Before cutting, DrawRuns draws the run order
// and the blind codes, and Reach says the best that the plan can ever show: three
// bars against three can never reach 5 %, because one of only 20 ways of dealing
// them out is the one that was seen. After cutting, Analyze gives three answers
// that are never merged:
//
//   - seen: did people, not knowing which was which, prefer one arm (votes)?
//   - measured: did the score move, by how much, within what interval?
//   - caused: was it the factor? That depends on the design, not on the figures:
//     on whether the order was drawn by lot, and on what else changed with it.
//
// The test deals the scores out again in every way that the draw could have come
// out, within the blocks, and counts how often the difference is at least as
// large. It assumes no bell curve. The interval is the set of shifts that this
// test does not reject. Up to MaxExact ways are counted one by one; beyond that a
// random sample of them, with its error stated.
//
// Do not trust it where one bar was measured many times and each measurement was
// entered as a bar: those are repeats of a measurement, and the bars are what
// limits the answer. Conditions that nobody wrote down cannot be checked.
//
// Words come from the ladder in data/ladder.csv and from nowhere else.
package trial
