package home

import (
	"fmt"
	"slices"
	"strings"
)

type dimension int

const (
	mass dimension = iota
	volume
	duration
	temperature
	count
	share
)

// unit converts to its dimension's base (kg, mL, s, Celsius, one, %) as v*scale+shift.
type unit struct {
	dim          dimension
	scale, shift float64
}

// units holds the UCUM codes understood, case-sensitive as UCUM asks. The
// factors are exact by definition: the avoirdupois pound is 0.45359237 kg and
// its ounce a sixteenth of that (UCUM 2.1, tables of customary units).
var units = map[string]unit{
	"kg": {mass, 1, 0}, "g": {mass, 1e-3, 0}, "mg": {mass, 1e-6, 0},
	"[lb_av]": {mass, 0.45359237, 0}, "[oz_av]": {mass, 0.45359237 / 16, 0},
	"mL": {volume, 1, 0}, "ml": {volume, 1, 0}, "L": {volume, 1e3, 0}, "l": {volume, 1e3, 0},
	"[foz_us]": {volume, 29.5735295625, 0},
	"s":        {duration, 1, 0}, "min": {duration, 60, 0}, "h": {duration, 3600, 0}, "ms": {duration, 1e-3, 0},
	"Cel": {temperature, 1, 0}, "K": {temperature, 1, -273.15}, "[degF]": {temperature, 5.0 / 9, -160.0 / 9},
	"%":       {share, 1, 0},
	"{count}": {count, 1, 0}, "1": {count, 1, 0}, "{breaths}": {count, 1, 0}, "{beats}": {count, 1, 0},
}

// Convert turns v in the UCUM unit code into q's own unit. A unit of another
// dimension is an error that lists the units that would do.
func Convert(v float64, code string, q Quantity) (float64, error) {
	t := q.trait()
	if t == nil {
		return 0, fmt.Errorf("unknown quantity %q", string(q))
	}
	u, ok := units[code]
	if !ok || u.dim != t.dim {
		return 0, fmt.Errorf("%s cannot be in %q: use one of %s", q, code, strings.Join(UnitsOf(q), ", "))
	}
	own := units[t.unit]
	return (v*u.scale + u.shift - own.shift) / own.scale, nil
}

// ConvertSD turns a standard uncertainty in the UCUM unit code into q's own
// unit: the scale counts, an offset between zero points does not.
func ConvertSD(sd float64, code string, q Quantity) (float64, error) {
	zero, err := Convert(0, code, q)
	if err != nil {
		return 0, err
	}
	one, err := Convert(sd, code, q)
	return one - zero, err
}

// UnitsOf lists the UCUM codes a reading of q may come in, sorted.
func UnitsOf(q Quantity) []string {
	t := q.trait()
	if t == nil {
		return nil
	}
	var codes []string
	for code, u := range units {
		if u.dim == t.dim {
			codes = append(codes, code)
		}
	}
	slices.Sort(codes)
	return codes
}
