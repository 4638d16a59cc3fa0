package manual

import (
	"fmt"
	"math"
	"regexp"

	"weighbeam/home"
)

// kgPer is the size of the units a weight may be typed in; the pound is exact
// by definition.
var kgPer = map[string]float64{"kg": 1, "lb": 0.45359237}

// noteDifference is kept with a weight, to show how it came about.
const noteDifference = "difference of %s and %s %s, step %.3g %s"

// asDifference reads such a note: with, without, unit and step as they were typed.
var asDifference = regexp.MustCompile(`^difference of (.+) and (.+) (kg|lb), step (\S+) (?:kg|lb)$`)

// heaviest is the most a bathroom scale shows, kg.
const heaviest = 300

func (f *form) weight() {
	own, with, without := f.get("weight") != "", f.get("with") != "", f.get("without") != ""
	if !own && !with && !without {
		return
	}
	if kgPer[f.get("unit")] == 0 {
		f.fail("unit", msgUnit)
		return
	}
	switch {
	case own && (with || without):
		f.fail("weight", msgTwoWays)
	case own:
		f.onItsOwn()
	case !with:
		f.fail("with", msgOther)
	case !without:
		f.fail("without", msgOther)
	default:
		f.byDifference()
	}
}

func (f *form) onItsOwn() {
	n, ok := f.mass("weight")
	step, stepOK := f.step(n.Step)
	kg := n.Value * kgPer[f.get("unit")]
	switch {
	case !ok || !stepOK:
	case home.Weight.Gate(kg) != nil && kg > 1:
		f.fail("weight", msgTogether)
	case home.Weight.Gate(kg) != nil:
		f.fail("weight", msgTooLittle)
	default:
		f.weighed(kg, roundedSD(step)*kgPer[f.get("unit")], "")
	}
}

func (f *form) byDifference() {
	with, ok1 := f.mass("with")
	without, ok2 := f.mass("without")
	step, ok3 := f.step(math.Min(with.Step, without.Step))
	if !ok1 || !ok2 || !ok3 {
		return
	}
	unit := f.get("unit")
	mass, sd := difference(with.Value, without.Value, step)
	kg := mass * kgPer[unit]
	switch {
	case with.Value*kgPer[unit] > heaviest:
		f.fail("with", msgPerson)
	case mass <= 0:
		f.fail("with", msgOrder)
	case home.Weight.Gate(kg) != nil:
		f.fail("with", msgDifference)
	default:
		f.weighed(kg, sd*kgPer[unit], fmt.Sprintf(noteDifference, f.get("with"), f.get("without"), unit, step, unit))
	}
}

// mass reads a field in the unit chosen.
func (f *form) mass(field string) (typedNumber, bool) {
	n, wrong := parseMass(f.get(field), f.get("unit"))
	if wrong != "" {
		f.fail(field, wrong)
	}
	return n, wrong == ""
}

// step is the scale's step in the unit chosen: as typed, or as the digits of
// the weight show where the field is empty.
func (f *form) step(shown float64) (float64, bool) {
	if f.get("step") == "" {
		return shown, true
	}
	n, wrong := parseMass(f.get("step"), f.get("unit"))
	switch {
	case wrong != "":
		f.fail("step", wrong)
	case n.Value < 0.001 || n.Value > 1:
		f.fail("step", msgStep)
	default:
		return n.Value, true
	}
	return 0, false
}

// weighed keeps a weight to the milligram: finer digits come from subtracting
// in binary, not from a scale.
func (f *form) weighed(kg, sd float64, note string) {
	f.add(home.Reading{Quantity: home.Weight, Value: math.Round(kg*1e6) / 1e6, SD: sd, Note: note})
}
