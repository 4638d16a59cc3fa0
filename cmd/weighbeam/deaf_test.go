package main

import (
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

// A store that takes nothing for an hour is told over the channels, though no notice can
// be written, and what was not acknowledged is taken once it does again.
func TestServe_StoreTakesNothing_IsTold(t *testing.T) {
	t.Parallel() // it waits more than it works
	began := time.Date(2025, 3, 3, 0, 0, 0, 0, time.UTC)
	d := newTroubledDay(t, 1, home.Household{}, began)
	over := d.held(5 * time.Minute)
	defer over()
	rows := []string{"2025-03-03T00:00:00Z,hand,weight,4.5,kg"}
	if ok, why := d.once(rows); ok {
		t.Fatal("acknowledged while the store was another's: ", why)
	}
	d.set(began.Add(61 * time.Minute))
	eventually(t, "people are told", func() (bool, string) {
		told, body := d.phone.heard()
		return len(told) == 1 && strings.Contains(told[0], "takes no readings"), strings.Join(told, "\n") + body
	})
	over()
	d.hands(rows)
}
