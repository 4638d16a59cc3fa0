package home

import (
	"fmt"
	"strings"
	"time"
)

// Care is something that was done with or for a cat and that its figures must be
// read with: a visit to the practice, a new food, a step that is no change of
// health. Keepers enter it; charts and the sheet draw it; detection reads it as
// its kind says.
type Care struct {
	ID    string // unique; the same event sent twice is one
	Cat   string
	Kind  CareKind
	From  time.Time // when it was, or began
	Until time.Time `json:",omitzero"` // when it ended; zero: at once, or it goes on
	Words string    `json:",omitempty"`
	By    string    `json:",omitempty"` // who said it, as they call themselves
	Told  time.Time // when it was entered

	StepKg float64 `json:",omitempty"` // for Step: what the scale shows more since then, kg; negative for less
	Plan   *Plan   `json:",omitempty"` // for PlanAgreed: its From and Until are those of the event
}

// CareKind is what happened.
type CareKind string

// The kinds of care, and what each is for in detection.
const (
	// VetVisit: the cat was at the practice. Readings of that day may be upset;
	// findings open before it were seen by a vet.
	VetVisit CareKind = "vet-visit"
	// Diagnosis: what the vet said, in the keeper's words. It is shown and never
	// interpreted.
	Diagnosis CareKind = "diagnosis"
	// DietChange: intake, weight and litter may move for a reason from then on;
	// usuals of eating and leaving are learned anew.
	DietChange CareKind = "diet-change"
	// MedicineStarted and MedicineStopped: breaths, drinking, weight may move for
	// a reason. Words names the medicine.
	MedicineStarted CareKind = "medicine-started"
	MedicineStopped CareKind = "medicine-stopped"
	// PlanAgreed: a weight goal agreed with the practice, in Plan. A loss inside
	// it is no finding. The newest plan that is on holds.
	PlanAgreed CareKind = "plan"
	// Pregnancy: gain from From to Until is expected, and a sudden loss at its end.
	Pregnancy CareKind = "pregnancy"
	// Step: the scale shows StepKg more from From on (until Until, where it has
	// one) for a reason that is no health: a collar, a shorn coat, an amputation.
	Step CareKind = "step"
	// Away: no scale can meet the cat from From to Until. Silence and missing
	// meals are no finding.
	Away CareKind = "away"
)

// CareKinds lists every kind of care in the order a form offers them.
func CareKinds() []CareKind {
	return []CareKind{VetVisit, Diagnosis, DietChange, MedicineStarted, MedicineStopped, PlanAgreed, Pregnancy, Step, Away}
}

// Spans reports whether an event of the kind lasts: without an end it goes on.
func (k CareKind) Spans() bool {
	return k == PlanAgreed || k == Pregnancy || k == Step || k == Away
}

// On reports whether c holds at t: from its start to its end where it lasts, at
// its start alone where it does not.
func (c Care) On(t time.Time) bool {
	if !c.Kind.Spans() {
		return t.Equal(c.From)
	}
	return !t.Before(c.From) && (c.Until.IsZero() || t.Before(c.Until))
}

// Valid returns nil if c can be stored, or what is wrong with it.
func (c Care) Valid() error {
	if c.ID == "" || len(c.ID) > 100 {
		return fmt.Errorf("an event needs an id of at most 100 bytes")
	}
	if err := ValidID("cat", c.Cat); err != nil {
		return err
	}
	if err := c.validSpan(); err != nil {
		return err
	}
	if len(c.Words) > MaxNote || len(c.By) > 200 {
		return fmt.Errorf("keep the words under %d bytes and the name under 200", MaxNote)
	}
	return c.validKind()
}

func (c Care) validSpan() error {
	switch {
	case c.From.Year() < 1970 || c.From.Year() > 2200:
		return fmt.Errorf("an event needs a time between 1970 and 2200")
	case c.Told.IsZero():
		return fmt.Errorf("an event needs the time at which it was told")
	case c.Until.IsZero():
		return nil
	case !c.Kind.Spans():
		return fmt.Errorf("%s is of one moment and has no end", c.Kind)
	case !c.Until.After(c.From):
		return fmt.Errorf("an event ends after it begins")
	}
	return nil
}

func (c Care) validKind() error {
	if c.Kind != Step && c.StepKg != 0 || c.Kind != PlanAgreed && c.Plan != nil {
		return fmt.Errorf("%s has neither a step nor a plan", c.Kind)
	}
	switch c.Kind {
	case VetVisit, Pregnancy, Away:
		return nil
	case Diagnosis, DietChange, MedicineStarted, MedicineStopped:
		if strings.TrimSpace(c.Words) == "" {
			return fmt.Errorf("say in words what the %s was", spaced(string(c.Kind)))
		}
		return nil
	case Step:
		if !(c.StepKg >= -5 && c.StepKg <= 5) || c.StepKg == 0 {
			return fmt.Errorf("a step of %g kg: give what the scale shows more or less, at most 5", c.StepKg)
		}
		return nil
	case PlanAgreed:
		if c.Plan == nil {
			return fmt.Errorf("a plan needs its target")
		}
		if !c.Plan.From.Equal(c.From) || !c.Plan.Until.Equal(c.Until) {
			return fmt.Errorf("a plan runs as long as its event")
		}
		return c.Plan.Valid()
	}
	return fmt.Errorf("unknown kind of event %q", string(c.Kind))
}

// PlanOn is the plan that holds at t: the newest agreed of those that are on, nil
// for none. care may be in any order.
func PlanOn(care []Care, t time.Time) *Plan {
	var best *Care
	for i, c := range care {
		if c.Kind != PlanAgreed || c.Plan == nil || !c.On(t) {
			continue
		}
		if best == nil || c.From.After(best.From) || c.From.Equal(best.From) && c.Told.After(best.Told) {
			best = &care[i]
		}
	}
	if best == nil {
		return nil
	}
	return best.Plan
}
