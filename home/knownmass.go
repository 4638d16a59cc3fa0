package home

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
)

// MassKind is a kind of thing whose mass is known, and how well.
type MassKind struct {
	ID    string
	Words string
	half  func(kg float64) float64 // half of the width that its mass lies in, kg
}

// MassKinds lists the kinds in the order in which they are offered.
func MassKinds() []MassKind {
	return []MassKind{
		// OIML R 111-1:2004, table 1: a weight of class M3 of 1 kg is right within 0.5 g, and so in proportion.
		{"weight", "a weight made for scales", func(kg float64) float64 { return 0.5e-3 * kg }},
		// Common practice, no published source: kitchen scales show grams and are right to a few.
		{"kitchen", "something weighed on a kitchen scale", func(kg float64) float64 { return math.Max(0.005, 0.005*kg) }},
		{"pack", "a sealed pack, as printed on it", packHalf},
		// Common practice, no published source: the bottle itself is 2 to 3 % of its water.
		{"water", "bottles of water, as printed on them", func(kg float64) float64 { return packHalf(kg) + 0.03*kg }},
	}
}

// packHalf is the tolerable error of a prepacked quantity: Council Directive
// 76/211/EEC, annex I, 2.4 (from memory). A half more is for the bag.
func packHalf(kg float64) float64 {
	g := kg * 1000
	for _, row := range []struct{ upTo, fixed, part float64 }{
		{50, 0, 0.09}, {100, 4.5, 0}, {200, 0, 0.045}, {300, 9, 0}, {500, 0, 0.03}, {1000, 15, 0},
	} {
		if g <= row.upTo {
			return 1.5 * (row.fixed + row.part*g) / 1000
		}
	}
	return 1.5 * 0.015 * kg
}

// KnownMass is a mass of that kind, and its standard uncertainty: half of the width
// that it lies in, over the root of 3 (JCGM 100:2008, 4.3.7).
func KnownMass(kind string, kg float64) (KnownLoad, error) {
	for _, k := range MassKinds() {
		if k.ID == kind {
			return knownWithin(kg, k.half(kg))
		}
	}
	return KnownLoad{}, fmt.Errorf("unknown kind of mass %q: use weight, kitchen, pack or water", kind)
}

func knownWithin(kg, half float64) (KnownLoad, error) {
	switch {
	case !(kg > 0) || Load.Gate(kg) != nil:
		return KnownLoad{}, fmt.Errorf("a known mass of %v kg: give more than nothing, and what a scale in a house can carry", kg)
	case !(half >= 0 && half < kg):
		return KnownLoad{}, fmt.Errorf("%v kg give or take %v kg is no known mass", kg, half)
	}
	return KnownLoad{Kg: kg, SDKg: half / math.Sqrt(3)}, nil
}

var saidMass = regexp.MustCompile(`^(?:(weight|kitchen|pack|water)\s+)?(\d{1,6}(?:[.,]\d{1,6})?)\s*(kg|g|lb|oz|l|ml)(?:\s*(?:\+-|\+/-|±)\s*(\d{1,6}(?:[.,]\d{1,6})?)\s*(kg|g|lb|oz|l|ml))?$`)

var saidUnits = map[string]float64{"kg": 1, "g": 1e-3, "lb": 0.45359237, "oz": 0.45359237 / 16, "l": 0.998, "ml": 0.998e-3} // of water at 20 °C

// ParseKnownMass reads a known mass as a person types it: "2 kg", "500 g +- 1 g",
// "pack 1 kg", "water 1.5 l". Without a kind or a tolerance it is a weight made
// for scales. The error says how to write it.
func ParseKnownMass(text string) (KnownLoad, error) {
	m := saidMass.FindStringSubmatch(strings.ToLower(strings.TrimSpace(text)))
	if m == nil {
		return KnownLoad{}, fmt.Errorf("%q is no known mass: write it as 2 kg, 500 g +- 1 g, kitchen 740 g, pack 1 kg or water 1.5 l", text)
	}
	kind, kg := m[1], saidNumber(m[2])*saidUnits[m[3]]
	switch {
	case m[4] != "":
		return knownWithin(kg, saidNumber(m[4])*saidUnits[m[5]])
	case kind == "" && strings.HasSuffix(m[3], "l"):
		kind = "water"
	case kind == "":
		kind = "weight"
	}
	return KnownMass(kind, kg)
}

func saidNumber(digits string) float64 {
	v, err := strconv.ParseFloat(strings.Replace(digits, ",", ".", 1), 64)
	if err != nil {
		return math.NaN() // the pattern lets only numbers through
	}
	return v
}
