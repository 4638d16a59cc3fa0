package app

import (
	"testing"
	"time"

	"weighbeam/home"
)

// A reading of a cat, or from a scale, that is not in the household is kept and counts:
// the cat's once it lives here, the scale's for the cats of the house.
func TestApp_Strangers_Count(t *testing.T) {
	noon := time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)
	juniper := home.Cat{ID: "juniper", Name: "Juniper", WeightKg: 4.5}
	l := startLive(t, home.Household{Cats: []home.Cat{juniper}}, noon)
	said := func(source, cat string, kg float64) home.Reading {
		return home.Reading{Source: source, Quantity: home.Weight, Time: noon, Arrived: noon, Value: kg, Cat: cat, Clock: home.ByDevice}
	}
	l.say([]home.Reading{said("box-9", "", 4.52), said("feeder-9", "felix", 6)})
	later := noon.Add(2 * time.Hour)
	l.clock.Store(&later)
	l.settle()
	if got := l.watcher.Outlook("juniper").LastKg; !got.Equal(noon) {
		t.Errorf("a scale that is not in the household weighed juniper at %s", got)
	}
	if err := l.SetHousehold(t.Context(), home.Household{Cats: []home.Cat{juniper, {ID: "felix", Name: "Felix"}}}); err != nil {
		t.Fatal(err)
	}
	l.settle()
	if got := l.watcher.Outlook("felix"); !got.LastKg.Equal(noon) {
		t.Errorf("of felix is known: %+v", got)
	}
}
