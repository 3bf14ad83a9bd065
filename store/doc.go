// Package store keeps what a shop would not want to lose: its lathes and
// materials, the parts it threads, every plan that was ever made for them, each
// pass as it was cut, measurements, notes, photographs and recordings.
//
// Three habits follow from that.
//
// Nothing is overwritten. A lathe that is edited gets a new revision and the old
// text stays. A plan is never changed once it is kept: it carries its request,
// full copies of the lathe and material it was reckoned from, the version of the
// program and the result, so that a part can be repeated years later exactly as
// it was made. Reckoning again adds a revision. The log of passes only grows; an
// undo is one more entry in it. An edit made from an old copy is refused with a
// conflict instead of burying somebody else's.
//
// Acknowledged means on the disk. When a method that writes returns without an
// error, the database and the folder of photographs have been forced out of the
// operating system's memory: pull the plug and it is still there. Half a
// write never shows: each call is one transaction, and a photograph's bytes are
// safe before the row that names it is.
//
// Every row names who made it and when. Its id is made by whoever makes the row
// (a UUID version 7, which sorts by time), so a phone without a network can make
// rows and hand them over later, twice if need be: the second time changes
// nothing.
//
// The database is SQLite in a file, or PostgreSQL by address when several
// machines share one. Both run the same SQL text and the same tests. Photographs
// and recordings lie in a folder, or in a bucket that speaks the S3 protocol,
// under the SHA-256 of their content. Export writes all of it into one archive
// that either database reads back; docs/storage.md describes tables, folders,
// archive, backup and restore.
//
// To the store a plan is bytes with a schema number, and a lathe is a text:
// what they mean is the business of other packages.
package store
