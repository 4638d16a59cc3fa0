// Package draw makes the simple drawings of the home-check form, our own: a cat
// from above for each body condition score, the muscle along a back, and an
// outline on which a lump can be shown.
//
// It guarantees that what it returns is well-formed SVG without style or script,
// to stand in a page as it is; its colours are those of the text around it.
package draw
