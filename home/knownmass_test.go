package home

import (
	"math"
	"testing"
)

func TestParseKnownMass_AsTyped(t *testing.T) {
	third := 1 / math.Sqrt(3)
	for _, row := range []struct {
		text     string
		kg, half float64
	}{
		// A weight of class M3 (OIML R 111-1): 0.5 g of 1 kg.
		{"2 kg", 2, 0.001}, {"2000g", 2, 0.001}, {"1,5 KG", 1.5, 0.00075},
		// A stated tolerance goes before what the kind would say.
		{"500 g +- 1 g", 0.5, 0.001}, {"500 g ± 1 g", 0.5, 0.001}, {"pack 1 kg +/- 5 g", 1, 0.005},
		// 76/211/EEC: 15 g of 1 kg, 1.5 % above; half as much again for the bag.
		{"pack 1 kg", 1, 0.0225}, {"pack 2 kg", 2, 0.045}, {"pack 250 g", 0.25, 0.0135},
		{"kitchen 740 g", 0.74, 0.005},
		{"water 1.5 l", 1.497, 1.497 * (1.5*0.015 + 0.03)}, {"1.5 L", 1.497, 1.497 * (1.5*0.015 + 0.03)},
		// The international pound, exactly.
		{"10 lb", 4.5359237, 0.5e-3 * 4.5359237}, {"16 oz", 0.45359237, 0.5e-3 * 0.45359237},
	} {
		got, err := ParseKnownMass(row.text)
		if err != nil || math.Abs(got.Kg-row.kg) > 1e-9 || math.Abs(got.SDKg-row.half*third) > 1e-9 {
			t.Errorf("%s: got %+v, %v, want %g kg give or take %g", row.text, got, err, row.kg, row.half)
		}
	}
	for _, text := range []string{"", "2", "kg", "0 kg", "-2 kg", "two kg", "feather 2 kg", "2 kg +- 3 kg", "9999 kg", "2 kg 3 g", "2 stone"} {
		if got, err := ParseKnownMass(text); err == nil {
			t.Errorf("%q: got %+v", text, got)
		}
	}
}

func FuzzParseKnownMass(f *testing.F) {
	for _, s := range []string{"2 kg", "pack 1 kg", "500 g +- 1 g", "water 1,5 l", "0.000001 oz", "kitchen 999999 lb"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		k, err := ParseKnownMass(s)
		if err == nil && !(k.Kg > 0 && k.Kg <= 500 && k.SDKg >= 0 && k.SDKg < k.Kg) {
			t.Errorf("%q is %+v", s, k)
		}
	})
}
