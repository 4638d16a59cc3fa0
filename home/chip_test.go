package home

import "testing"

// 985112004567890 has a maker's code before a national number of 12 digits, as ISO
// 11784 asks; 2^38-1 = 274877906943 is the largest that its 38 bits hold.
func TestChipNumber_AsWritten(t *testing.T) {
	for text, want := range map[string]float64{
		"985112004567890": 985112004567890, " 985 112 004 567 890 ": 985112004567890, "276.098-100_123456": 276098100123456, "999274877906943": 999274877906943,
	} {
		if got, err := ChipNumber(text); err != nil || got != want {
			t.Errorf("%q: %.0f, %v", text, got, err)
		}
	}
	for _, text := range []string{"", "98511200456789", "9851120045678901", "985112OO4567890", "999274877906944", "000112004567890", "-85112004567890", "985,112004567890"} {
		if got, err := ChipNumber(text); err == nil {
			t.Errorf("%q: %.0f", text, got)
		}
	}
}

func TestHousehold_Chipped(t *testing.T) {
	h := Household{Cats: []Cat{{ID: "fig"}, {ID: "moss", Chip: "985 112 004 567 890"}}}
	if c, ok := h.Chipped(985112004567890); !ok || c.ID != "moss" {
		t.Errorf("found %+v", c)
	}
	if c, ok := h.Chipped(276000000000123); ok {
		t.Errorf("found %+v", c)
	}
}

func TestTag_Gate(t *testing.T) {
	for v, ok := range map[float64]bool{985112004567890: true, 0: false, 985112004567890.5: false, 1e15: false, 42: false} {
		if err := Tag.Gate(v); (err == nil) != ok {
			t.Errorf("%.1f: %v", v, err)
		}
	}
}
