// Package manual is the room of what people enter: the home-check form, and the
// answers to findings, and whose a visit was.
//
// It guarantees that a page says "stored" only after the store has committed;
// that nothing typed is lost, whatever is wrong with it; that sending the same
// form twice stores it once; and that a red flag is answered at once, even if
// the rest of the form cannot be read or nothing can be stored. It works
// without script.
//
// All words of this room are in templates/ and words.go.
package manual
