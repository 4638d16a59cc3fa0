package manual

import (
	"math"
	"regexp"
	"strconv"
	"strings"
)

// typedNumber is a number as a person typed it, and the smallest step that its
// digits can show: 0.1 for "71.3". The step stands in for the scale's own where
// that was not given.
type typedNumber struct{ Value, Step float64 }

var (
	decimal  = regexp.MustCompile(`^\+?(\d{1,7})(?:[.,](\d{0,6}))?$`)
	poundsOz = regexp.MustCompile(`^(\d{1,4}) ?lbs? ?(\d{1,2}(?:[.,]\d{1,3})?) ?oz$`)
)

// parseNumber reads a decimal with a point or a comma. What is wrong with it is
// said in words for the one who typed it; "" if nothing is.
func parseNumber(s string) (n typedNumber, wrong string) {
	s = strings.TrimSpace(s)
	if strings.HasPrefix(s, "-") || strings.HasPrefix(s, "−") {
		return typedNumber{}, msgNegative
	}
	m := decimal.FindStringSubmatch(s)
	if m == nil {
		return typedNumber{}, msgNumber
	}
	v, err := strconv.ParseFloat(m[1]+"."+m[2]+"0", 64)
	if err != nil {
		return typedNumber{}, msgNumber
	}
	return typedNumber{v, math.Pow10(-len(m[2]))}, ""
}

// parseMass reads a mass in unit, "kg" or "lb". In pounds it also reads
// "9 lb 14 oz".
func parseMass(s, unit string) (n typedNumber, wrong string) {
	low := strings.ToLower(strings.TrimSpace(s))
	if unit == "lb" {
		if m := poundsOz.FindStringSubmatch(low); m != nil {
			return poundsAndOunces(m[1], m[2])
		}
	}
	return parseNumber(strings.TrimSuffix(strings.TrimSpace(low), unit))
}

func poundsAndOunces(lb, oz string) (n typedNumber, wrong string) {
	pounds, wrong := parseNumber(lb)
	if wrong != "" {
		return pounds, wrong
	}
	ounces, wrong := parseNumber(oz)
	if wrong != "" || ounces.Value >= 16 {
		return ounces, msgOunces
	}
	return typedNumber{pounds.Value + ounces.Value/16, ounces.Step / 16}, ""
}
