package carry

import (
	"errors"
	"time"

	"weighbeam/home"
)

// line is one line of a JSON-lines export: exactly one of its parts.
type line struct {
	Household   *home.Household   `json:"household,omitempty"`
	Calibration *home.Calibration `json:"calibration,omitempty"`
	Reading     *home.Reading     `json:"reading,omitempty"`
	Photo       *home.PhotoFile   `json:"photo,omitempty"`
	Check       *home.HomeCheck   `json:"check,omitempty"`
	Care        *home.Care        `json:"care,omitempty"`
	Correction  *home.Correction  `json:"correction,omitempty"`
	Naming      *home.Naming      `json:"naming,omitempty"`
	Reaction    *home.Reaction    `json:"reaction,omitempty"`
}

func (l line) valid() error {
	n := 0
	for _, there := range []bool{l.Household != nil, l.Calibration != nil, l.Reading != nil, l.Photo != nil, l.Check != nil, l.Care != nil, l.Correction != nil,
		l.Naming != nil, l.Reaction != nil} {
		if there {
			n++
		}
	}
	switch {
	case n != 1:
		return errors.New("a line holds one household, calibration, reading, photo, check, care, correction, naming or reaction")
	case l.Household != nil:
		return l.Household.Valid()
	case l.Calibration != nil:
		return l.Calibration.Valid()
	case l.Photo != nil:
		return l.Photo.Valid()
	case l.Check != nil:
		return l.Check.Valid()
	case l.Care != nil:
		return l.Care.Valid()
	case l.Correction != nil:
		return l.Correction.Valid()
	case l.Naming != nil:
		return l.Naming.Valid()
	case l.Reaction != nil:
		return l.Reaction.Valid()
	}
	*l.Reading = l.Reading.Normal()
	return l.Reading.Valid()
}

// past refuses a line of what is yet to come.
func (l line) past(now time.Time) error {
	switch {
	case l.Reading != nil:
		return past(now, l.Reading.Time, l.Reading.Arrived)
	case l.Check != nil:
		return past(now, l.Check.Time)
	}
	return nil
}
