package home

import (
	"fmt"
	"time"
)

// Plan is a weight goal that a practice agreed for one cat. A loss inside it is
// no finding; one that is too fast for it is.
type Plan struct {
	From       time.Time
	Until      time.Time // zero: until the target is reached
	TargetKg   float64
	MostPerWk  float64 // percent of body weight a week that may be lost; 0 means MostPlanned
	AgreedWith string
}

// MostPlanned is the greatest pace of a planned loss, percent of body weight a
// week (AAHA weight management guidelines 2014, as quoted by a university).
const MostPlanned = 2.0

// Valid returns nil if p can be used, or what is wrong with it.
func (p Plan) Valid() error {
	switch {
	case p.From.IsZero():
		return fmt.Errorf("a plan needs the day it starts")
	case !p.Until.IsZero() && !p.Until.After(p.From):
		return fmt.Errorf("a plan ends after it starts")
	case !(p.MostPerWk >= 0 && p.MostPerWk <= 5):
		return fmt.Errorf("a pace of %v %% a week is no plan: give 0.5 to %g", p.MostPerWk, MostPlanned)
	}
	return Weight.Gate(p.TargetKg)
}

// Most is the greatest pace of p, percent a week.
func (p Plan) Most() float64 {
	if p.MostPerWk > 0 {
		return p.MostPerWk
	}
	return MostPlanned
}

// On reports whether p is in force at t.
func (p Plan) On(t time.Time) bool {
	return !t.Before(p.From) && (p.Until.IsZero() || t.Before(p.Until))
}
