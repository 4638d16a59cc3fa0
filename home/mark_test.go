package home

import (
	"encoding/json"
	"testing"
	"time"
)

// A household has another mark once anything about it is another, and the same one as
// it comes back from where it is kept.
func TestHousehold_Mark(t *testing.T) {
	whole := func() Household {
		return Household{
			Cats:     []Cat{{ID: "plum", Name: "Plum", Born: time.Date(2014, 5, 2, 0, 0, 0, 0, time.UTC), Chip: "27"}},
			Scales:   []Scale{{ID: "box-1", Kind: LitterBox, Topic: "a", Payload: "number", Unit: "g", Cats: []string{"plum"}}},
			Contacts: []Contact{{ID: "ada", Way: ByTopic, To: "b"}},
			Practice: "Mill Lane", Phone: "1", Units: "kg", Zone: "UTC", QuietFrom: "22:00", QuietTo: "07:00",
		}
	}
	seen := map[string]int{whole().Mark(): -1}
	for i, change := range []func(*Household){
		func(h *Household) { h.Cats[0].Name = "Plummy" },
		func(h *Household) { h.Cats[0].BornYear = true },
		func(h *Household) { h.Cats = nil },
		func(h *Household) { h.Scales[0].Cats = nil },
		func(h *Household) { h.Scales[0].TagTopic = "c" },
		func(h *Household) { h.Contacts[0].After = time.Hour },
		func(h *Household) { h.Contacts = append(h.Contacts, h.Contacts[0]) },
		func(h *Household) { h.Practice, h.Phone = "Mill", "Lane 1" },
		func(h *Household) { h.Phone = "2" },
		func(h *Household) { h.Units = "lb" },
		func(h *Household) { h.Zone = "Europe/Vienna" },
		func(h *Household) { h.QuietFrom, h.QuietTo = h.QuietTo, h.QuietFrom },
	} {
		h := whole()
		change(&h)
		if other, same := seen[h.Mark()]; same {
			t.Errorf("changes %d and %d have one mark", i, other)
		}
		seen[h.Mark()] = i
	}
	text, err := json.Marshal(whole())
	if err != nil {
		t.Fatal(err)
	}
	var kept Household
	if err := json.Unmarshal(text, &kept); err != nil || kept.Mark() != whole().Mark() {
		t.Errorf("kept and read again it has another mark: %+v, %v", kept, err)
	}
	if (Household{Cats: []Cat{}}).Mark() != (Household{}).Mark() {
		t.Error("an empty list is not none")
	}
}
