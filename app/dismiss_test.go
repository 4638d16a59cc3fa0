package app

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

// A topic, an imported file and an MQTT filter each pick what is theirs, a page of it at
// a time.
func TestDismissStopped_Picks(t *testing.T) {
	at := time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)
	for _, row := range []struct {
		which string
		left  string
	}{
		{"in.csv", "home/1 home/2 in.csv line 7 other.csv"},
		{"home/1", "home/2 in.csv in.csv line 7 other.csv"},
		{"home/+", "in.csv in.csv line 7 other.csv"},
		{"in", "home/1 home/2 in.csv in.csv line 7 other.csv"},
		{"#", ""},
	} {
		t.Run(row.which, func(t *testing.T) {
			db := openStore(t, t.TempDir())
			defer db.Close()
			var b home.Batch
			for n := range 2 * dismissPage { // more than a page, mixed
				b.SetAside = append(b.SetAside, home.SetAside{Arrived: at, Way: home.Imported, Topic: home.RowOf("in.csv", n), Reason: "r"},
					home.SetAside{Arrived: at, Way: "mqtt", Topic: "home/1", Payload: fmt.Append(nil, n), Reason: "r"})
			}
			b.SetAside = append(b.SetAside, home.SetAside{Arrived: at, Way: "broker", Topic: "home/2", Reason: "r"}, home.SetAside{Arrived: at, Way: home.Imported, Topic: home.RowOf("other.csv", 1), Reason: "r"},
				home.SetAside{Arrived: at, Way: "mqtt", Topic: "in.csv line 7", Reason: "s"}) // a topic, whatever it looks like
			if _, err := db.Append(t.Context(), b); err != nil {
				t.Fatal(err)
			}
			n, err := DismissStopped(t.Context(), db, row.which)
			if err != nil {
				t.Fatal(err)
			}
			left, err := db.SetAsidesAfter(t.Context(), 0, 1000)
			if err != nil || int(n)+len(left) != len(b.SetAside) {
				t.Errorf("%d dismissed, %d left of %d, %v", n, len(left), len(b.SetAside), err)
			}
			if got := belong(left); got != row.left {
				t.Errorf("left: %s, want %s", got, row.left)
			}
		})
	}
}

// belong lists what s is of, each once.
func belong(all []home.SetAside) string {
	var of []string
	for _, name := range []string{"home/1", "home/2", "in.csv", "in.csv line 7", "other.csv"} {
		for _, s := range all {
			if s.Of() == name {
				of = append(of, name)
				break
			}
		}
	}
	return strings.Join(of, " ")
}
