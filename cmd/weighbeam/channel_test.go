package main

import (
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// A channel that takes nothing for an hour is told over the other one, at once
// where what it did not take could not wait, and that it works again, too.
func TestServe_TellsOfAChannelThatFails(t *testing.T) {
	p := newPeople(t, "ada")
	data := filepath.Join(t.TempDir(), "house.db")
	settings := strings.ReplaceAll(litterHouse(t, data, p.web.URL+"/ada"), `name = "phone"`, `name = "ada"`)
	settings += "[[webhook]]\nname = \"ben\"\nleast = \"book\"\nurl = \"" + p.web.URL + "/ben\"\n"
	noon := time.Date(2025, 6, 2, 12, 0, 0, 0, time.UTC)
	h := startTimed(t, data, settings, noon)
	redFlag(t, h.url) // ada refuses it for good
	subjects := func() []string {
		var all []string
		for _, n := range h.notices() {
			if n.Channel == "ben" && n.State == "sent" {
				all = append(all, n.Subject)
			}
		}
		slices.Sort(all)
		return all
	}
	eventually(t, "ben is told of both", func() (bool, string) {
		got := subjects()
		return slices.Equal(got, []string{"Juniper: red flag seen. Go to a vet now.", "channel ada: does not work. Look today."}), strings.Join(got, "\n") + h.output()
	})
	if _, house := get(h.url + "/"); !strings.Contains(house, "A channel does not take notices") {
		t.Error("the house page does not say so")
	}
	p.mend()
	h.set(noon.Add(time.Minute))
	if code, said := commanded(t, "try", "ada", "--config", h.config); code != 0 {
		t.Fatalf("try ended with %d:\n%s", code, said)
	}
	h.killed() // what was found of the channel is known after it
	h.set(noon.Add(2 * time.Hour))
	eventually(t, "ben is told that it works again", func() (bool, string) {
		return slices.Contains(subjects(), "Over. channel ada: works again."), strings.Join(subjects(), "\n") + h.output()
	})
}
