package mqtt

import (
	"slices"
	"testing"
)

// A spare filter that a broker refuses leaves the others, another does not.
func TestRefusals(t *testing.T) {
	wanted := []Filter{{Topic: "home/#"}, {Topic: "garage/scale", Spare: true}, {Topic: "attic/scale", Spare: true}}
	spare, err := refusals(map[string]byte{"home/#": 1, "garage/scale": refused, "attic/scale": 1}, wanted)
	if err != nil || !slices.Equal(spare, []string{"garage/scale"}) {
		t.Errorf("%v, %v", spare, err)
	}
	if _, err := refusals(map[string]byte{"home/#": refused, "garage/scale": 1, "attic/scale": 1}, wanted); err == nil {
		t.Error("nothing is said of home/#")
	}
	// What takes over for one that is not spare is not.
	if got := disjoint([]Filter{{Topic: "home/#"}, {Topic: "#", Spare: true}}); len(got) != 1 || got[0].Spare {
		t.Errorf("%+v", got)
	}
}
