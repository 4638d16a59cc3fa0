package home

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// Factors: the international pound is 0.45359237 kg exactly (NIST Handbook 44,
// appendix C); 36.7 Cel is 98.06 degF and 38.9 Cel is 102.02 degF by definition
// of the scales; the US fluid ounce is 29.5735295625 mL (NIST Handbook 44).
func TestConvert_KnownValues(t *testing.T) {
	for _, row := range []struct {
		v    float64
		code string
		q    Quantity
		want float64
	}{
		// Scales speak grams, pounds and ounces; weights are kilograms inside.
		{4512, "g", Weight, 4.512},
		{10, "[lb_av]", Weight, 4.5359237},
		{160, "[oz_av]", Weight, 4.5359237},
		// What is eaten and left is grams inside.
		{0.038, "kg", Deposit, 38},
		{1, "[oz_av]", Intake, 28.349523125},
		// Temperatures have another zero point, not only another step.
		{98.06, "[degF]", Temperature, 36.7},
		{102.02, "[degF]", Temperature, 38.9},
		{310.15, "K", Temperature, 37},
		{1, "[foz_us]", Drunk, 29.5735295625},
		{0.25, "L", Drunk, 250},
		{1.5, "min", Stay, 90},
		{11, "{breaths}", Breaths, 11},
	} {
		got, err := Convert(row.v, row.code, row.q)
		if err != nil || math.Abs(got-row.want) > 1e-12*math.Abs(row.want) {
			t.Errorf("%g %s as %s: got %.15g, %v, want %g", row.v, row.code, row.q, got, err, row.want)
		}
	}
}

func TestConvert_RefusesOtherDimensions(t *testing.T) {
	for _, row := range []struct {
		code string
		q    Quantity
	}{
		// A mass is no volume, a made-up unit is none, and UCUM is case-sensitive.
		{"mL", Weight}, {"stone", Weight}, {"KG", Weight}, {"", Weight}, {"kg", Temperature}, {"kg", "height"},
	} {
		if got, err := Convert(1, row.code, row.q); err == nil {
			t.Errorf("1 %s as %s: got %g", row.code, row.q, got)
		} else if row.q == Weight && !strings.Contains(err.Error(), "[lb_av]") {
			t.Errorf("%q does not say what would do", err)
		}
	}
}

// An uncertainty scales with the unit and does not shift with its zero point.
func TestConvertSD_IgnoresZeroPoints(t *testing.T) {
	got, err := ConvertSD(1.8, "[degF]", Temperature)
	if err != nil || math.Abs(got-1) > 1e-12 {
		t.Errorf("1.8 degF of uncertainty: got %g Cel, %v", got, err)
	}
}

// Converting from any unit keeps order and never loses a value that passes the gate.
func TestConvert_KeepsOrder(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		q := rapid.SampledFrom(Quantities()).Draw(rt, "quantity")
		code := rapid.SampledFrom(UnitsOf(q)).Draw(rt, "unit")
		a := rapid.Float64Range(-1000, 1000).Draw(rt, "a")
		b := rapid.Float64Range(-1000, 1000).Draw(rt, "b")
		x, err1 := Convert(a, code, q)
		y, err2 := Convert(b, code, q)
		if err1 != nil || err2 != nil {
			rt.Fatal(err1, err2)
		}
		if a < b && x > y || a > b && x < y {
			rt.Errorf("%g < %g %s, but %g and %g", a, b, code, x, y)
		}
	})
}

func TestQuantity_Gate(t *testing.T) {
	for _, row := range []struct {
		q  Quantity
		v  float64
		ok bool
	}{
		// A newborn kitten and a giant cat both pass; a gram taken for a kilogram does not.
		{Weight, 0.1, true}, {Weight, 15, true}, {Weight, 4512, false},
		// An unwell cat passes whatever it has; a Fahrenheit taken for a Celsius does not.
		{Temperature, 41.5, true}, {Temperature, 32.5, true}, {Temperature, 101.5, false},
		// Counts are whole.
		{Breaths, 11, true}, {Breaths, 11.5, false}, {Breaths, -1, false},
		{Load, math.NaN(), false}, {Load, math.Inf(1), false}, {"height", 1, false},
	} {
		if err := row.q.Gate(row.v); (err == nil) != row.ok {
			t.Errorf("%s of %g: %v", row.q, row.v, err)
		}
	}
}
