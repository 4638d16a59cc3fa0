package manual

import (
	"math"
	"testing"
)

func TestParseMass_AsTyped_ReadsValueAndStep(t *testing.T) {
	for _, c := range []struct {
		typed, unit string
		value, step float64
	}{
		// A point and a comma are the same.
		{"4.52", "kg", 4.52, 0.01},
		{"4,52", "kg", 4.52, 0.01},
		// The digits show the step, also where the last is a zero.
		{"71.0", "kg", 71, 0.1},
		{"71", "kg", 71, 1},
		// Spaces and the unit itself do no harm.
		{"  4.5 kg ", "kg", 4.5, 0.1},
		{"9.9LB", "lb", 9.9, 0.1},
		// A digit point without digits after it, as a phone's keypad makes it.
		{"5.", "kg", 5, 1},
		// Pounds and ounces: 14 of 16 ounces, to the ounce.
		{"9 lb 14 oz", "lb", 9.875, 1.0 / 16},
		{"9lb 0.5oz", "lb", 9.03125, 0.1 / 16},
	} {
		got, wrong := parseMass(c.typed, c.unit)
		if wrong != "" {
			t.Errorf("%q: %s", c.typed, wrong)
			continue
		}
		if math.Abs(got.Value-c.value) > 1e-12 || math.Abs(got.Step-c.step) > 1e-12 {
			t.Errorf("%q is %v by %v, want %v by %v", c.typed, got.Value, got.Step, c.value, c.step)
		}
	}
}

func TestParseMass_OfWhatIsNoNumber_SaysWhy(t *testing.T) {
	for _, c := range []struct{ typed, unit, message string }{
		// Letters, and words that a computer takes for numbers.
		{"four", "kg", msgNumber},
		{"NaN", "kg", msgNumber},
		{"Inf", "kg", msgNumber},
		{"1e3", "kg", msgNumber},
		{"0x10", "kg", msgNumber},
		// Both a thousands mark and a decimal one: which is which is a guess.
		{"1,234.5", "kg", msgNumber},
		{"1.234,5", "kg", msgNumber},
		// The unit of the other scale.
		{"4.5 lb", "kg", msgNumber},
		// Negative, with either minus sign.
		{"-4.5", "kg", msgNegative},
		{"−4.5", "kg", msgNegative},
		// Longer than any scale is wide.
		{"123456789012", "kg", msgNumber},
		// Seventeen ounces are a pound and one.
		{"9 lb 17 oz", "lb", msgOunces},
	} {
		if _, wrong := parseMass(c.typed, c.unit); wrong != c.message {
			t.Errorf("%q in %s: %q, want %q", c.typed, c.unit, wrong, c.message)
		}
	}
}

func FuzzParseMass(f *testing.F) {
	for _, s := range []string{"4.52", "4,52", "9 lb 14 oz", "-1", "", "1e9", "٤", "4.5kg"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for _, unit := range []string{"kg", "lb"} {
			n, wrong := parseMass(s, unit)
			if wrong != "" {
				continue
			}
			if !(n.Value >= 0 && n.Value < 1e8) || !(n.Step > 0 && n.Step <= 1) {
				t.Errorf("%q is taken as %v by %v", s, n.Value, n.Step)
			}
		}
	})
}
