package payload

import (
	"fmt"
	"strconv"
	"strings"

	"weighbeam/home"
)

// maxNumber is the longest text that is tried as a number: no scale writes more digits.
const maxNumber = 64

// spokenUnits are the names that people and displays use for UCUM codes.
var spokenUnits = map[string]string{
	"lb": "[lb_av]", "lbs": "[lb_av]", "oz": "[oz_av]",
	"°C": "Cel", "C": "Cel", "°F": "[degF]", "F": "[degF]",
	"sec": "s",
}

// ParseNumber reads a number with an optional unit after it, as "4.512",
// "4,512 kg" or "9.9lb". A comma is a decimal comma; a number with both a comma
// and a point, or with two of either, is refused, because which of them parts
// thousands is a guess. unit is a UCUM code, "" where none was written.
func ParseNumber(s string) (v float64, unit string, err error) {
	s = strings.TrimSpace(s)
	if len(s) > maxNumber {
		return 0, "", fmt.Errorf("%d characters are no number", len(s))
	}
	end := numberEnd(s)
	digits, unit := s[:end], strings.TrimSpace(s[end:])
	if digits == "" {
		return 0, "", fmt.Errorf("%q is no number", s)
	}
	if strings.Count(digits, ",")+strings.Count(digits, ".") > 1 {
		return 0, "", fmt.Errorf("%q has more than one comma or point: write no thousands separator", digits)
	}
	v, err = strconv.ParseFloat(strings.Replace(digits, ",", ".", 1), 64)
	if err != nil {
		return 0, "", fmt.Errorf("%q is no number", digits)
	}
	if code, ok := spokenUnits[unit]; ok {
		unit = code
	}
	return v, unit, nil
}

// numberEnd is where the number that s starts with ends: sign, digits, at most
// marks and digits, and an exponent. It lets no word through ("inf", "0x1p-2").
func numberEnd(s string) int {
	i := 0
	if i < len(s) && (s[i] == '-' || s[i] == '+') {
		i++
	}
	start := i
	for i < len(s) && (isDigit(s[i]) || s[i] == '.' || s[i] == ',') {
		i++
	}
	if i == start {
		return 0
	}
	if i < len(s) && (s[i] == 'e' || s[i] == 'E') {
		j := i + 1
		if j < len(s) && (s[j] == '-' || s[j] == '+') {
			j++
		}
		for k := j; k < len(s) && isDigit(s[k]); k++ {
			i = k + 1
		}
	}
	return i
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }

// number is the decoder of a payload that is one number.
func number(b []byte, a Arrival, s home.Scale) ([]home.Reading, error) {
	v, unit, err := ParseNumber(string(b[:min(len(b), 2*maxNumber)]))
	if err != nil {
		return nil, err
	}
	return one(bare(s, v, unit), a)
}

// bare is the draft of a number that s sent; unit "" means the scale's own.
func bare(s home.Scale, v float64, unit string) draft {
	if unit == "" {
		unit = unitOf(s)
	}
	return draft{Reading: home.Reading{Source: s.ID, Quantity: s.Measures(), Value: v}, unit: unit}
}

// one finishes a payload that holds a single reading.
func one(d draft, a Arrival) ([]home.Reading, error) {
	r, err := d.finish(a)
	if err != nil {
		return nil, err
	}
	return []home.Reading{r}, nil
}
