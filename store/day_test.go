package store

import (
	"testing"
	"time"

	"weighbeam/home"
)

func TestDB_DayHeard(t *testing.T) {
	db := fresh(t)
	day := func(n int) time.Time { return t0.Truncate(24*time.Hour).AddDate(0, 0, n) }
	if got, err := db.DayHeard(t.Context(), t0, 1); err != nil || !got.IsZero() {
		t.Errorf("of an empty store: %s, %v", got, err)
	}
	tap := weight(day(1).Add(time.Hour), 0, 4.5)
	tap.Source = "box-9"
	appended(t, db, home.Batch{Readings: []home.Reading{weight(day(0), 0, 4.5), tap, weight(day(5).Add(time.Minute), 1, 4.5), weight(day(5).Add(time.Hour), 2, 4.5), weight(day(9), 3, 4.5)}})
	for _, row := range []struct {
		name string
		to   time.Time
		n    int
		want time.Time
	}{
		{"the day itself, by what was said before", day(5).Add(2 * time.Hour), 1, day(5)},
		// What is dated later says nothing.
		{"nothing yet on that day", day(5), 1, day(1)},
		// Two readings of a day are one day, and of another source count as well.
		{"further back", day(6), 2, day(1)},
		{"to the first", day(6), 3, day(0)},
		{"beyond the first", day(6), 4, time.Time{}},
		{"all", day(10), 4, day(0)},
	} {
		if got, err := db.DayHeard(t.Context(), row.to, row.n); err != nil || !got.Equal(row.want) {
			t.Errorf("%s: %s, want %s, %v", row.name, got, row.want, err)
		}
	}
}
