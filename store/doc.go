// Package store keeps everything the program knows in one SQLite file.
//
// It guarantees:
//   - What Append returned without an error is on disk: each transaction is
//     synced in full before it is reported (write-ahead log, synchronous=FULL).
//     The kill of the process at any moment loses nothing; for the loss of
//     power it leans on the database's full sync and on a disk that keeps its word.
//   - A reading is there once, however often it is delivered. A second reading
//     with the same identity and another value is set aside, not dropped.
//   - A finding, the notices it owes and the position of the one who found it
//     change in one transaction ([DB.Decide]).
//   - One process owns the file; a second is refused. A file written by a newer
//     version is refused, an older one is brought forward, step by step.
//
// It does not interpret readings: visits, names and findings are computed by
// others and only kept here.
package store
