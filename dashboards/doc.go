// Package dashboards is the room of the pages that a keeper looks at: the
// house, a cat, a finding, a scale, what was set aside, and the sheet to take
// to the practice.
//
// It guarantees that every page reads without script (one, /listen, goes on by itself with it), asks nothing of any other
// host, runs under a content security policy without exceptions, and says of
// each figure how sure it is and of each missing one why it is missing. It only
// reads, but for the page of what was set aside, where a topic is given to a scale.
//
// All words of this room are in templates/ and words.go.
package dashboards
