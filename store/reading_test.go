package store

import (
	"path/filepath"
	"slices"
	"testing"
	"time"

	"weighbeam/home"
)

func TestDB_Readings_RoundTrip(t *testing.T) {
	db := fresh(t)
	full := home.Reading{Source: home.Hand, Quantity: home.Breaths, Time: t0, Seq: 9, Value: 11, SD: 0.5, Cat: "juniper",
		Window: 30 * time.Second, State: home.Asleep, Note: "é\n\"", Arrived: t0.Add(time.Hour), Clock: home.ByHand, Retained: true}
	if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{full, weight(t0, 1, 4.5)}}); err != nil {
		t.Fatal(err)
	}
	got, err := db.Readings(t.Context(), home.Hand, home.Breaths, t0, t0.Add(home.TimeStep))
	if err != nil || len(got) != 1 || got[0] != full {
		t.Errorf("got %+v, %v\nwant %+v", got, err, full)
	}
	// The end of a range is outside it.
	if got, err := db.Readings(t.Context(), home.Hand, home.Breaths, time.Time{}, t0); err != nil || len(got) != 0 {
		t.Errorf("before: got %v, %v", got, err)
	}
	var all []home.Reading
	end, err := db.EachReading(t.Context(), func(r home.Reading) error { all = append(all, r); return nil })
	if err != nil || len(all) != 2 || end != 2 {
		t.Errorf("EachReading: got %d up to entry %d, %v", len(all), end, err)
	}
	if heard, err := db.Heard(t.Context(), "box-1", time.Time{}, time.Time{}); err != nil || len(heard) != 1 || !heard[0].Equal(t0.Truncate(time.Minute)) {
		t.Errorf("Heard: got %v, %v", heard, err)
	}
	sources, err := db.Sources(t.Context())
	if err != nil || len(sources) != 2 || sources[1].Source != home.Hand || !sources[1].Arrived.Equal(full.Arrived) || sources[1].Count != 1 {
		t.Errorf("Sources: got %+v, %v", sources, err)
	}
}

// What a device says of its battery stands with when it was heard, the newest of it.
func TestDB_Sources_Battery(t *testing.T) {
	db := fresh(t)
	charge := func(source string, after time.Duration, percent float64) home.Reading {
		return home.Reading{Source: source, Quantity: home.Battery, Time: t0.Add(after), Arrived: t0.Add(after), Value: percent, Clock: home.ByDevice}
	}
	if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{
		weight(t0.Add(3*time.Hour), 1, 4.5), charge("box-1", time.Hour, 81), charge("box-1", 2*time.Hour, 80), charge("box-2", 0, 7),
	}}); err != nil {
		t.Fatal(err)
	}
	got, err := db.Sources(t.Context())
	if err != nil || len(got) != 2 || got[0].Battery != 80 || !got[0].BatteryAt.Equal(t0.Add(2*time.Hour)) || !got[0].Last.Equal(t0.Add(3*time.Hour)) || got[0].Count != 3 || got[1].Battery != 7 {
		t.Errorf("%+v, %v", got, err)
	}
}

// By the hour of arrival, the least lag of what the device dated itself; what was
// dated by arrival for want of a usable clock is told apart, and copies say nothing.
func TestDB_ClockHours(t *testing.T) {
	db := fresh(t)
	hour := t0.Truncate(time.Hour)
	r := func(seq int64, behind time.Duration, change func(*home.Reading)) home.Reading {
		r := weight(hour.Add(30*time.Minute-behind), seq, 4.5)
		r.Arrived, r.Clock = hour.Add(30*time.Minute), home.ByDevice
		change(&r)
		return r
	}
	asItIs := func(*home.Reading) {}
	if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{
		r(1, 3*time.Hour, asItIs), r(2, 2*time.Minute, asItIs),
		r(3, time.Second, func(r *home.Reading) { r.Retained = true }),
		r(4, 0, func(r *home.Reading) {
			r.Arrived, r.Clock = r.Arrived.Add(time.Hour), home.ByArrival
			r.Time = r.Arrived
		}),
		r(5, 0, func(r *home.Reading) {
			r.Arrived, r.Clock, r.Note = r.Arrived.Add(2*time.Hour), home.ByArrival, "device clock was never set: it said 1970-01-01T00:00:00Z"
			r.Time = r.Arrived
		}),
	}}); err != nil {
		t.Fatal(err)
	}
	got, err := db.ClockHours(t.Context(), "box-1", time.Time{}, time.Time{})
	want := []home.ClockHour{{Hour: hour, Behind: 2 * time.Minute, Dated: true}, {Hour: hour.Add(2 * time.Hour), Refused: true}}
	if err != nil || !slices.Equal(got, want) {
		t.Errorf("got %+v, %v, want %+v", got, err, want)
	}
}

// When something was stored is kept beside when it was measured and when it arrived, for
// each commit and for what came last of a source.
func TestDB_Append_KeepsWhenItWasStored(t *testing.T) {
	db := open(t, filepath.Join(t.TempDir(), "house.db"))
	defer db.Close()
	measured := time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)
	arrived, stored := measured.Add(time.Minute), measured.Add(time.Minute+300*time.Millisecond)
	for i, at := range []time.Time{stored, stored.Add(time.Hour), {}} { // of the last nobody says it
		r := home.Reading{Source: "box-1", Quantity: home.Weight, Time: measured.Add(time.Duration(i) * time.Hour), Arrived: arrived.Add(time.Duration(i) * time.Hour), Value: 4}
		if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{r}, Stored: at}); err != nil {
			t.Fatal(err)
		}
	}
	entries, err := db.Journal(t.Context(), 0, 10)
	if err != nil || len(entries) != 3 {
		t.Fatalf("%v, %v", entries, err)
	}
	for i, want := range []time.Time{stored, stored.Add(time.Hour), {}} {
		if !entries[i].Stored.Equal(want) {
			t.Errorf("commit %d was at %v, want %v", i, entries[i].Stored, want)
		}
	}
	sources, err := db.Sources(t.Context())
	if err != nil || len(sources) != 1 || !sources[0].Stored.IsZero() || !sources[0].Arrived.Equal(arrived.Add(2*time.Hour)) {
		t.Errorf("of the newest it is not known when it was stored: %+v, %v", sources, err)
	}
	newest := home.Reading{Source: "box-1", Quantity: home.Battery, Time: measured.Add(3 * time.Hour), Arrived: arrived.Add(3 * time.Hour), Value: 80}
	old := home.Reading{Source: "box-1", Quantity: home.Weight, Time: measured.AddDate(0, 0, -1), Arrived: arrived.AddDate(0, 0, -1), Value: 4}
	for i, r := range []home.Reading{newest, old} { // what came long ago is stored after it
		if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{r}, Stored: stored.Add(time.Duration(3+i) * time.Hour)}); err != nil {
			t.Fatal(err)
		}
	}
	sources, err = db.Sources(t.Context())
	if err != nil || len(sources) != 1 || !sources[0].Stored.Equal(stored.Add(3*time.Hour)) || !sources[0].Arrived.Equal(newest.Arrived) {
		t.Errorf("the newest was stored at %v: %+v, %v", stored.Add(3*time.Hour), sources, err)
	}
}
