package home

import (
	"fmt"
	"strconv"
	"strings"
)

// chipDigits is how long the number of a microchip is, and mostNational the largest
// national code in it, 38 bits (ISO 11784:1996, table 1; ISO 3166 or manufacturer code
// of three digits before it).
const (
	chipDigits   = 15
	mostNational = 1<<38 - 1
)

// ChipNumber reads the number of a microchip by ISO 11784, as a practice or a reader
// writes it: 15 digits, with or without spaces, points or dashes between them.
func ChipNumber(text string) (float64, error) {
	digits := strings.Map(func(r rune) rune {
		if strings.ContainsRune(" .-_", r) {
			return -1
		}
		return r
	}, strings.TrimSpace(text))
	n, err := strconv.ParseUint(digits, 10, 64)
	switch {
	case len(digits) != chipDigits || err != nil:
		return 0, fmt.Errorf("%.40q is no number of a microchip: it has 15 digits", text)
	case n%1e12 > mostNational || n < 1e12:
		return 0, fmt.Errorf("%s is no number of a microchip: after three digits of a country or maker comes a number up to %d", digits, int64(mostNational))
	}
	return float64(n), nil // below 2^53, so nothing is rounded
}

// Chipped returns the cat whose microchip has that number.
func (h Household) Chipped(number float64) (Cat, bool) {
	for _, c := range h.Cats {
		if n, err := ChipNumber(c.Chip); err == nil && n == number {
			return c, true
		}
	}
	return Cat{}, false
}
