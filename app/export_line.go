package app

import (
	"errors"

	"weighbeam/home"
)

// line is one line of a JSON-lines export: exactly one of its parts.
type line struct {
	Household   *home.Household   `json:"household,omitempty"`
	Calibration *home.Calibration `json:"calibration,omitempty"`
	Reading     *home.Reading     `json:"reading,omitempty"`
	Check       *home.HomeCheck   `json:"check,omitempty"`
}

func (l line) valid() error {
	parts := 0
	for _, there := range []bool{l.Household != nil, l.Calibration != nil, l.Reading != nil, l.Check != nil} {
		if there {
			parts++
		}
	}
	switch {
	case parts != 1:
		return errors.New("a line holds one household, one calibration, one reading or one check")
	case l.Reading != nil:
		*l.Reading = l.Reading.Normal()
		return l.Reading.Valid()
	case l.Check != nil:
		return l.Check.Valid()
	case l.Calibration != nil:
		return l.Calibration.Valid()
	}
	return l.Household.Valid()
}
