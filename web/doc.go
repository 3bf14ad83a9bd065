// Package web is the bench page: the set-up sheet with every choice beside the
// figures that it drives.
//
// A sheet is a pure function of its address. Everything that plan.Request asks for
// stands in the query under its trade name, lengths as people write them
// (length=1in, tip-flat=.010in), so an address can be kept, sent, printed and
// compared. A figure without a unit is read in the thread's own system, whatever
// the sheet is shown in.
//
// Every page reads and submits without JavaScript: forms, links and drawings come
// from the server. Where there is JavaScript, a small element asks for the same
// address again whenever a choice changes, puts the new figures in place, marks
// what changed and from what, and says it aloud to whoever cannot see it.
//
// The server binds to this computer alone unless told otherwise. It answers only
// to names that it was given, takes no write from another site's page, runs no
// script and no style but its own, sends nothing anywhere (docs/security.md).
package web
