// Package chart draws one measured quantity over time: every reading as a faint
// mark shaped by its source, the smoothed level with its band, the usual range,
// and when a change began.
//
// It guarantees that the same picture gives the same bytes, that the SVG needs
// no script, no font file and no style attribute (so it may be served under a
// strict content security policy), that it follows the reader's light or dark
// preference, and that a reading beyond the frame is pinned to its edge rather
// than left out. A gap in the data is a gap in the line.
//
// The layout is gonum.org/v1/plot's; only the writing of the SVG is done here,
// because colours that follow the reader need classes and not fixed values.
package chart
