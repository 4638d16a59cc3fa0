package store

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

func aside(topic, payload, reason string, at time.Time) home.SetAside {
	return home.SetAside{Arrived: at, Way: "mqtt", Topic: topic, Payload: []byte(payload), Reason: reason}
}

func latestAside(topic, payload, reason string, at time.Time) home.SetAside {
	s := aside(topic, payload, reason, at)
	s.Latest = true
	return s
}

// waiting is what waits, by id.
func waiting(t *testing.T, db *DB) []home.SetAside {
	t.Helper()
	all, err := db.SetAsidesAfter(t.Context(), 0, 100)
	if err != nil {
		t.Fatal(err)
	}
	return all
}

func appended(t *testing.T, db *DB, b home.Batch) home.Tally {
	t.Helper()
	tally, err := db.Append(t.Context(), b)
	if err != nil {
		t.Fatal(err)
	}
	return tally
}

// What was set aside and is read now is settled together with its readings: a
// commit that fails does neither.
func TestDB_Append_SettlesWithTheReadings(t *testing.T) {
	db := fresh(t)
	appended(t, db, home.Batch{SetAside: []home.SetAside{aside("a", "4.5", "r", t0)}})
	id := waiting(t, db)[0].ID
	settle := home.Batch{Readings: []home.Reading{weight(t0, 1, 4.5)}, Retried: []home.Retried{{ID: id, Arrived: t0}}}
	broken := settle
	broken.Readings = append([]home.Reading{}, settle.Readings...)
	broken.Readings = append(broken.Readings, weight(t0, 2, math.NaN()))
	if _, err := db.Append(t.Context(), broken); err == nil {
		t.Fatal("no number was stored")
	}
	if got := waiting(t, db); len(got) != 1 {
		t.Fatalf("after a commit that failed: %+v", got)
	}
	if got := appended(t, db, settle); got != (home.Tally{Stored: 1}) || len(waiting(t, db)) != 0 {
		t.Errorf("%+v, and %+v waits", got, waiting(t, db))
	}
	// The same payload, unreadable once more, is a new case.
	appended(t, db, home.Batch{SetAside: []home.SetAside{aside("a", "4.5", "r", t0.Add(time.Hour))}})
	if got := waiting(t, db); len(got) != 1 || got[0].ID == id || got[0].Times != 1 {
		t.Errorf("the same once more: %+v", got)
	}
}

func TestDB_Append_Retried(t *testing.T) {
	hour := t0.Add(time.Hour)
	for _, row := range []struct {
		name    string
		put     []home.SetAside
		retried home.Retried // with the id of the first
		tally   home.Tally
		payload string // and reason and times of the only one that waits then, "" for none
		reason  string
		times   int
	}{
		{"another reason", []home.SetAside{aside("a", "x", "r", t0)},
			home.Retried{Arrived: t0, Reason: "s"}, home.Tally{SetAside: 1}, "x", "s", 1},
		// What came again after it was looked at was not tried, so it is not settled.
		{"came again meanwhile", []home.SetAside{latestAside("a", "x", "r", t0), latestAside("a", "y", "r", hour)},
			home.Retried{Arrived: t0}, home.Tally{}, "y", "r", 2},
		{"came again meanwhile, unreadable", []home.SetAside{latestAside("a", "x", "r", t0), latestAside("a", "y", "r", hour)},
			home.Retried{Arrived: t0, Reason: "s"}, home.Tally{SetAside: 1}, "y", "r", 2},
		// Two that say the same are one, with a count.
		{"the same as another", []home.SetAside{aside("a", "x", "r", t0), aside("a", "x", "s", hour)},
			home.Retried{Arrived: t0, Reason: "s"}, home.Tally{SetAside: 1}, "x", "s", 2},
		{"read", []home.SetAside{aside("a", "x", "r", t0)}, home.Retried{Arrived: t0}, home.Tally{}, "", "", 0},
	} {
		db := fresh(t)
		for _, s := range row.put {
			appended(t, db, home.Batch{SetAside: []home.SetAside{s}})
		}
		row.retried.ID = waiting(t, db)[0].ID
		if got := appended(t, db, home.Batch{Retried: []home.Retried{row.retried}}); got != row.tally {
			t.Errorf("%s: %+v", row.name, got)
		}
		got := waiting(t, db)
		if row.payload == "" && len(got) == 0 {
			continue
		}
		if len(got) != 1 || string(got[0].Payload) != row.payload || got[0].Reason != row.reason || got[0].Times != row.times {
			t.Errorf("%s: %+v", row.name, got)
		}
	}
}

// A payload that was kept beside others of its topic is not given up for a newer one
// because of the reason of now, and of a topic of which only the newest was kept,
// the next that comes for another reason is kept beside it.
func TestDB_Append_Retried_KeepsEveryPayload(t *testing.T) {
	db := fresh(t)
	appended(t, db, home.Batch{SetAside: []home.SetAside{aside("a", "x", "r", t0), aside("a", "y", "r", t0.Add(1)), latestAside("a", "z", "s", t0.Add(2)),
		latestAside("b", "1", "s", t0)}})
	for _, s := range waiting(t, db) {
		appended(t, db, home.Batch{Retried: []home.Retried{{ID: s.ID, Arrived: s.Arrived, Reason: "s", Latest: s.Topic == "a"}}})
	}
	appended(t, db, home.Batch{SetAside: []home.SetAside{latestAside("a", "newer", "s", t0.Add(3)), latestAside("b", "2", "s", t0.Add(3))}})
	var got []string
	for _, s := range waiting(t, db) {
		got = append(got, fmt.Sprintf("%s %s %s %d %v", s.Topic, s.Payload, s.Reason, s.Times, s.Latest))
	}
	if want := "a x s 1 false, a y s 1 false, a newer s 2 true, b 1 s 1 false, b 2 s 1 true"; strings.Join(got, ", ") != want {
		t.Errorf("%s", got)
	}
}

// Whether a broker had kept it, and whether all of it is here, is known afterwards.
func TestDB_SetAsides_KeepsHowItCame(t *testing.T) {
	db := fresh(t)
	s := aside("a", "x", "r", t0)
	s.Retained, s.Cut = true, true
	appended(t, db, home.Batch{SetAside: []home.SetAside{s}})
	if got := waiting(t, db)[0]; !got.Retained || !got.Cut || got.Times != 1 || !got.Arrived.Equal(t0) {
		t.Errorf("%+v", got)
	}
}

// times are the arrivals that are still to be read of the only row that waits, in hours.
func times(t *testing.T, db *DB) string {
	t.Helper()
	rows := waiting(t, db)
	if len(rows) != 1 {
		return fmt.Sprintf("%d rows", len(rows))
	}
	came, err := db.Came(t.Context(), rows[0].ID)
	if err != nil {
		t.Fatal(err)
	}
	text := fmt.Sprint(rows[0].Times, " times:")
	for _, c := range came {
		text += fmt.Sprint(" ", c.At.Sub(t0).Hours())
		if c.Retained {
			text += " kept"
		}
	}
	return text
}

// The same payload is one row, and each time that it came is read, or waits, by itself.
func TestDB_Append_RetriedByArrival(t *testing.T) {
	at := func(hours int) time.Time { return t0.Add(time.Duration(hours) * time.Hour) }
	kept := aside("a", "x", "r", at(3))
	kept.Retained = true
	newest := kept
	newest.Latest = true
	came := []home.SetAside{aside("a", "x", "r", t0), aside("a", "x", "r", at(2)), kept}
	unclaimed := func(at time.Time) home.Retried { return home.Retried{Arrived: at, Reason: "s", Latest: true} }
	for _, row := range []struct {
		name string
		put  []home.SetAside
		then []home.Retried // with the id of the first row
		want string
	}{
		{"none is tried", came, nil, "3 times: 0 2 3 kept"},
		{"one is read", came, []home.Retried{{Arrived: at(2)}}, "3 times: 0 3 kept"},
		{"one is read twice", came, []home.Retried{{Arrived: at(2)}, {Arrived: at(2)}}, "3 times: 0 3 kept"},
		{"all are read", came, []home.Retried{{Arrived: t0}, {Arrived: at(2)}, {Arrived: at(3)}}, "0 rows"},
		{"one is read, one is not", came, []home.Retried{{Arrived: t0}, {Arrived: at(2), Reason: "s"}}, "3 times: 2 3 kept"},
		// What is one with another since both say the same brings its times along.
		{"the same as another", append(came[:2:2], aside("a", "x", "s", at(5))), []home.Retried{{Arrived: t0, Reason: "s"}}, "3 times: 0 2 5"},
		// A topic that nobody claims by now takes none of the times away.
		{"nobody claims it", came, []home.Retried{unclaimed(t0), unclaimed(at(2)), unclaimed(at(3))}, "3 times: 0 2 3 kept"},
		{"some are read, one is not claimed", came, []home.Retried{unclaimed(at(3)), {Arrived: at(2)}, {Arrived: t0}}, "3 times: 3 kept"},
		// Where only the newest of a topic is kept, it came once; claimed, that once is to be read.
		{"was latest", []home.SetAside{newest}, []home.Retried{unclaimed(at(3)), {Arrived: at(3), Reason: "r"}}, "1 times: 3 kept"},
		{"was latest, is read", []home.SetAside{newest}, []home.Retried{unclaimed(at(3)), {Arrived: at(3)}}, "0 rows"},
	} {
		db := fresh(t)
		appended(t, db, home.Batch{SetAside: row.put})
		id := waiting(t, db)[0].ID
		for _, r := range row.then {
			r.ID = id
			appended(t, db, home.Batch{Retried: []home.Retried{r}})
		}
		if got := times(t, db); got != row.want {
			t.Errorf("%s: %s, want %s", row.name, got, row.want)
		}
	}
}

// A scale that nobody can read sends the same for weeks: what is kept of that is bounded.
func TestDB_Came_IsBounded(t *testing.T) {
	db := fresh(t)
	var b home.Batch
	for i := range cameMost + 7 {
		b.SetAside = append(b.SetAside, aside("a", "0.00", "r", t0.Add(time.Duration(i)*time.Second)))
	}
	if got := appended(t, db, b); got.SetAside != cameMost+7 {
		t.Errorf("%+v", got)
	}
	rows := waiting(t, db)
	came, err := db.Came(t.Context(), rows[0].ID)
	if err != nil || len(rows) != 1 || rows[0].Times != cameMost+7 || len(came) != cameMost || !came[0].At.Equal(t0) {
		t.Errorf("%d rows of %d times, %d of them known, %v", len(rows), rows[0].Times, len(came), err)
	}
}

// What a person dismisses waits no more and is kept; what came again since it was looked
// at is not dismissed, and what comes again later is a case of its own.
func TestDB_Dismiss(t *testing.T) {
	db := fresh(t)
	hour := t0.Add(time.Hour)
	appended(t, db, home.Batch{SetAside: []home.SetAside{aside("a", "x", "r", t0), aside("a", "y", "r", t0), aside("b", "x", "r", t0), latestAside("c", "x", "r", t0)}})
	var ids []int64
	for _, s := range waiting(t, db) {
		if s.Topic != "b" {
			ids = append(ids, s.ID)
		}
	}
	appended(t, db, home.Batch{SetAside: []home.SetAside{aside("a", "y", "r", hour), latestAside("c", "z", "r", hour)}})
	if n, err := db.Dismiss(t.Context(), ids, t0); err != nil || n != 1 {
		t.Fatalf("%d dismissed, %v", n, err)
	}
	said := func(all []home.SetAside, err error) (words string) {
		for _, s := range all {
			words += fmt.Sprintf("%s %s %d, ", s.Topic, s.Payload, s.Times)
		}
		return fmt.Sprint(words, err)
	}
	if got := said(waiting(t, db), nil); got != "a y 2, b x 1, c z 2, <nil>" {
		t.Errorf("%s wait", got)
	}
	if got := said(db.Dismissed(t.Context(), 0, 10)); got != "a x 1, <nil>" {
		t.Errorf("%s is dismissed", got)
	}
	if n, err := db.Dismiss(t.Context(), ids, time.Time{}); err != nil || n != 2 {
		t.Errorf("without a bound %d are dismissed, %v", n, err)
	}
	if n, err := db.Settled(t.Context(), ids); err != nil || n != 0 {
		t.Errorf("%d count as read, %v", n, err)
	}
	if got := appended(t, db, home.Batch{SetAside: []home.SetAside{aside("a", "x", "r", hour)}}); got.SetAside != 1 {
		t.Errorf("again: %+v", got)
	}
	if got := said(waiting(t, db), nil); got != "b x 1, a x 1, <nil>" {
		t.Errorf("%s wait after it came again", got)
	}
}

func TestDB_SetAsides_LatestReplacesOthersCount(t *testing.T) {
	db := fresh(t)
	put := func(topic, payload string, latest bool) {
		t.Helper()
		got, err := db.Append(t.Context(), home.Batch{SetAside: []home.SetAside{
			{Arrived: t0, Way: "mqtt", Topic: topic, Payload: []byte(payload), Reason: "r", Latest: latest}}})
		if err != nil || got.SetAside != 1 {
			t.Fatalf("tally %+v, %v", got, err)
		}
	}
	for _, payload := range []string{"1", "2", "2"} {
		put("claimed", payload, false) // both payloads stay, the second once
		put("unclaimed", payload, true)
	}
	got, err := db.SetAsides(t.Context(), 10)
	if err != nil || len(got) != 3 {
		t.Fatalf("got %+v, %v", got, err)
	}
	for _, s := range got {
		if s.Latest && (s.Topic != "unclaimed" || string(s.Payload) != "2") {
			t.Errorf("kept %q of %s", s.Payload, s.Topic)
		}
	}
}
