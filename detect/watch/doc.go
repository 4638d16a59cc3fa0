// Package watch follows the journal of the store, steps the monitors of the
// house over what is new, and commits what they find.
//
// It guarantees that a finding, the notices it owes and the position reached
// change in one transaction ([home.Decision]), so that a crash neither repeats
// nor forgets one; that stopping and starting at any moment changes nothing that
// is found; and that [House], which a replay uses as well, is pure.
package watch
