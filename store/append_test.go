package store

import (
	"context"
	"errors"
	"math"
	"testing"
	"time"

	"weighbeam/home"
)

func TestDB_Append_Tally(t *testing.T) {
	first := weight(t0, 1, 4.5)
	for _, row := range []struct {
		name  string
		batch home.Batch
		want  home.Tally
	}{
		// A reading not seen before is kept.
		{"new", home.Batch{Readings: []home.Reading{weight(t0, 2, 4.5)}}, home.Tally{Stored: 1}},
		// A redelivery says the same again and is kept once.
		{"again", home.Batch{Readings: []home.Reading{first}}, home.Tally{Duplicate: 1}},
		// So does a copy that a broker kept.
		{"kept by a broker", home.Batch{Readings: []home.Reading{retained(first)}}, home.Tally{Duplicate: 1}},
		// The same reading twice in one batch is one reading.
		{"twice in a batch", home.Batch{Readings: []home.Reading{weight(t0, 3, 4), weight(t0, 3, 4)}}, home.Tally{Stored: 1, Duplicate: 1}},
		// The same identity with another value is neither lost nor believed.
		{"contradiction", home.Batch{Readings: []home.Reading{weight(t0, 1, 4.6)}}, home.Tally{SetAside: 1}},
		// A count is its number, its window and how the cat was, together.
		{"another window", home.Batch{Readings: []home.Reading{count(t0, "moss", 12), window(count(t0, "moss", 12), 15*time.Second)}}, home.Tally{Stored: 1, SetAside: 1}},
		{"another state", home.Batch{Readings: []home.Reading{count(t0, "moss", 12), state(count(t0, "moss", 12), home.Resting)}}, home.Tally{Stored: 1, SetAside: 1}},
		{"the same count", home.Batch{Readings: []home.Reading{count(t0, "moss", 12), count(t0, "moss", 12)}}, home.Tally{Stored: 1, Duplicate: 1}},
		// A device without a clock is known by its number, however late it comes again ...
		{"numbered, again", home.Batch{Readings: []home.Reading{numbered(t0, 7, 4), numbered(t0.Add(time.Minute), 7, 4)}}, home.Tally{Stored: 1, Duplicate: 1}},
		// ... until the number has had time to come round.
		{"numbered, the next day", home.Batch{Readings: []home.Reading{numbered(t0, 7, 4), numbered(t0.Add(25*time.Hour), 7, 4)}}, home.Tally{Stored: 2}},
		// Without a number, two arrivals are two readings: such a device is stored at least once.
		{"without a number", home.Batch{Readings: []home.Reading{numbered(t0, 0, 4), numbered(t0.Add(time.Minute), 0, 4)}}, home.Tally{Stored: 2}},
		// Two cats counted in the same second are two readings.
		{"two cats", home.Batch{Readings: []home.Reading{count(t0, "juniper", 11), count(t0, "moss", 12)}}, home.Tally{Stored: 2}},
		// What could not be read is kept as it came.
		{"set aside", home.Batch{SetAside: []home.SetAside{{Arrived: t0, Way: "mqtt", Topic: "a\xff", Payload: []byte{0, 255}, Reason: "r"}}}, home.Tally{SetAside: 1}},
		// A check counts itself and each of its readings.
		{"check", home.Batch{Checks: []home.HomeCheck{check("c1")}}, home.Tally{Stored: 2}},
	} {
		t.Run(row.name, func(t *testing.T) {
			db := fresh(t)
			if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{first}}); err != nil {
				t.Fatal(err)
			}
			got, err := db.Append(t.Context(), row.batch)
			if err != nil || got != row.want {
				t.Fatalf("got %+v, %v, want %+v", got, err, row.want)
			}
			// Whatever a batch holds, sending it once more stores nothing.
			got, err = db.Append(t.Context(), row.batch)
			if err != nil || got.Stored != 0 || got.Received() != row.want.Received() {
				t.Errorf("sent again: got %+v, %v", got, err)
			}
		})
	}
}

func TestDB_Changed_ClosesOnCommitOnly(t *testing.T) {
	db := fresh(t)
	ch := db.Changed()
	select {
	case <-ch:
		t.Fatal("closed before any commit")
	default:
	}
	if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{weight(t0, 1, 4)}}); err != nil {
		t.Fatal(err)
	}
	select {
	case <-ch:
	default:
		t.Fatal("not closed by a commit")
	}
}

// What breaks a rule of the schema can never be stored, and is told apart from what may pass.
func TestDB_Append_Unfit(t *testing.T) {
	db := fresh(t)
	r := weight(t0, 1, math.NaN()) // no number: the column must have one
	if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{r}}); !errors.Is(err, home.ErrUnfit) {
		t.Errorf("no number: %v", err)
	}
	ended, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := db.Append(ended, home.Batch{Readings: []home.Reading{weight(t0, 1, 4)}}); err == nil || errors.Is(err, home.ErrUnfit) {
		t.Errorf("given up: %v", err)
	}
}
