// Package sheet holds what the two pages for a veterinary practice say, and sets
// them as a PDF.
//
// It guarantees that the PDF says what the page in the house says, since both are
// made of the same [Sheet]; that it is black on white, with text that can be
// selected and charts of lines; and that nothing is cut without saying how much.
// It fits two pages of A4 or Letter as far as a smaller type and shorter lists can
// make it fit.
package sheet
