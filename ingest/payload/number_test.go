package payload

import "testing"

func TestParseNumber(t *testing.T) {
	tests := []struct {
		text string
		v    float64
		unit string
		ok   bool
	}{
		{"4.512", 4.512, "", true},
		{"  -0.5 ", -0.5, "", true},
		{"+4", 4, "", true},
		// a decimal comma
		{"4,512", 4.512, "", true},
		// units as people write them, apart or not
		{"4.5kg", 4.5, "kg", true},
		{"9,9 lb", 9.9, "[lb_av]", true},
		{"4512 g", 4512, "g", true},
		// exponents, and units that begin like one
		{"4512e-3", 4.512, "", true},
		{"1e", 1, "e", true},
		// thousands: a guess of a factor of a thousand, so refused
		{"4.512,5", 0, "", false},
		{"1,234,567", 0, "", false},
		// words and other bases that strconv would take
		{"inf", 0, "", false},
		{"NaN", 0, "", false},
		{"0x1p-2", 0, "x1p-2", true}, // a zero in a unit that no quantity knows
		{"", 0, "", false},
		{".", 0, "", false},
		{"-", 0, "", false},
		{"kg", 0, "", false},
	}
	for _, tt := range tests {
		v, unit, err := ParseNumber(tt.text)
		if (err == nil) != tt.ok || err == nil && (v != tt.v || unit != tt.unit) {
			t.Errorf("%q: %v %q %v, want %v %q %v", tt.text, v, unit, err, tt.v, tt.unit, tt.ok)
		}
	}
}
