package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

var t0 = time.Date(2025, 3, 3, 4, 5, 6, 789012000, time.UTC)

// open opens a store that is checked for integrity when the test ends.
func open(t *testing.T, path string) *DB {
	t.Helper()
	db, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Check(context.Background()); err != nil && !strings.Contains(err.Error(), "closed") {
			t.Errorf("integrity after the test: %v", err)
		}
		if err := db.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	return db
}

func fresh(t *testing.T) *DB {
	t.Helper()
	return open(t, filepath.Join(t.TempDir(), "house.db"))
}

func weight(at time.Time, seq int64, kg float64) home.Reading {
	return home.Reading{Source: "box-1", Quantity: home.Weight, Time: at, Seq: seq, Value: kg,
		Arrived: at.Add(time.Second), Clock: home.ByDevice}
}

func numbered(at time.Time, seq int64, kg float64) home.Reading {
	r := weight(at, seq, kg)
	r.Clock, r.Arrived = home.ByArrival, at
	return r
}

func count(at time.Time, cat string, n float64) home.Reading {
	return home.Reading{Source: home.Hand, Quantity: home.Breaths, Time: at, Value: n, Cat: cat,
		Window: 30 * time.Second, State: home.Asleep, Note: "on the sofa", Arrived: at, Clock: home.ByHand}
}

func window(r home.Reading, d time.Duration) home.Reading {
	r.Window = d
	return r
}

func state(r home.Reading, s home.State) home.Reading {
	r.State = s
	return r
}

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

func check(id string) home.HomeCheck {
	return home.HomeCheck{ID: id, Cat: "juniper", Time: t0.Truncate(time.Second), By: "Ada", Note: "purring",
		RedFlags: []home.RedFlag{home.Straining}, Readings: []home.Reading{count(t0.Truncate(time.Second), "juniper", 11)}}
}

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

func TestDB_Checks_RoundTrip(t *testing.T) {
	db := fresh(t)
	want := check("c1")
	if _, err := db.Append(t.Context(), home.Batch{Checks: []home.HomeCheck{want}}); err != nil {
		t.Fatal(err)
	}
	got, err := db.Checks(t.Context(), "juniper", time.Time{}, time.Time{})
	if err != nil || len(got) != 1 || !reflect.DeepEqual(got[0], want) {
		t.Errorf("got %+v, %v\nwant %+v", got, err, want)
	}
	if got, err := db.Checks(t.Context(), "nobody", time.Time{}, time.Time{}); err != nil || len(got) != 0 {
		t.Errorf("a cat never seen: got %v, %v", got, err)
	}
}

func TestDB_SaveVisits_RenameAndRemove(t *testing.T) {
	db := fresh(t)
	v := home.Visit{Source: "box-1", Start: t0, End: t0.Add(time.Minute), Event: home.CatVisit, MassKg: 4.5, SDKg: 0.01,
		HasLeft: true, LeftG: 31, LeftSDG: 2, Quality: 0.9, Reasons: []string{"moving"}, Cat: "juniper", Confidence: 0.9, Whose: home.Named,
		Shares: []home.Share{{Cat: "juniper", P: 0.9}, {Cat: "ash", P: 0.06}}}
	cur := home.Cursor{Name: "visits", Journal: 7, Tick: t0}
	if err := db.SaveVisits(t.Context(), cur, []home.Visit{v}, nil); err != nil {
		t.Fatal(err)
	}
	got, err := db.Visits(t.Context(), "", time.Time{}, time.Time{})
	if err != nil || len(got) != 1 || !reflect.DeepEqual(got[0], v) {
		t.Fatalf("got %+v, %v\nwant %+v", got, err, v)
	}
	if c, err := db.Cursor(t.Context(), "visits"); err != nil || c != cur {
		t.Errorf("cursor %+v, %v", c, err)
	}
	renamed := v
	renamed.Cat, renamed.Shares = "moss", []home.Share{{Cat: "moss", P: 0.9}, {Cat: "ash", P: 0.06}}
	if err := db.SaveVisits(t.Context(), cur, []home.Visit{renamed}, nil); err != nil {
		t.Fatal(err)
	}
	// The former owner, the new one and the cat that it may be of are told.
	entries, err := db.Journal(t.Context(), 2, 100)
	if err != nil || len(entries) != 3 || entries[0].Cat != "juniper" || entries[1].Cat != "moss" || entries[2].Cat != "ash" {
		t.Errorf("journal after a rename: %+v, %v", entries, err)
	}
	ws, err := db.Weighings(t.Context(), "moss", t0, t0.Add(time.Hour))
	want := home.Weighing{Cat: "moss", Time: v.End, Kg: 4.5, SDKg: 0.01, Source: "box-1", Confidence: 0.9}
	if err != nil || len(ws) != 1 || ws[0] != want {
		t.Errorf("weighings %+v, %v, want %+v", ws, err, want)
	}
	unclear := renamed
	unclear.Cat, unclear.Confidence, unclear.Whose = "", 0, home.Unclear
	if err := db.SaveVisits(t.Context(), cur, []home.Visit{unclear}, nil); err != nil {
		t.Fatal(err)
	}
	want = home.Weighing{Cat: "ash", Time: v.End, Kg: 4.5, SDKg: 0.01, Source: "box-1", Confidence: 0.06, Unclear: true}
	if ws, err := db.Weighings(t.Context(), "ash", t0, t0.Add(time.Hour)); err != nil || len(ws) != 1 || ws[0] != want {
		t.Errorf("weighings %+v, %v, want %+v", ws, err, want)
	}
	end, err := db.JournalEnd(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if err := db.SaveVisits(t.Context(), cur, nil, []home.Visit{unclear}); err != nil {
		t.Fatal(err)
	}
	if entries, err := db.Journal(t.Context(), end, 100); err != nil || len(entries) != 2 || entries[0].Cat != "ash" || entries[1].Cat != "moss" {
		t.Errorf("journal after a removal: %+v, %v", entries, err)
	}
	if got, err := db.Visits(t.Context(), "box-1", time.Time{}, time.Time{}); err != nil || len(got) != 0 {
		t.Errorf("after removal: %+v, %v", got, err)
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

func finding() home.Finding {
	return home.Finding{Cat: "juniper", Sign: home.WeightFalling, Urgency: home.Book, Raised: t0, Updated: t0, Text: "down"}
}

func TestDB_Decide_AllOrNothing(t *testing.T) {
	db := fresh(t)
	f := finding()
	raise := home.Decision{Cursor: home.Cursor{Name: "watch", Journal: 1, Tick: t0},
		Turns:   []home.Transition{{Turn: home.Raised, At: t0, Finding: f}},
		Notices: []home.Notice{{ID: "n1", Finding: f.ID(), Turn: home.Raised, Urgency: home.Book, Channel: "mail", Created: t0, State: home.Waiting, Due: t0}}}
	if err := db.Decide(t.Context(), raise); err != nil {
		t.Fatal(err)
	}
	// A notice about a finding that does not exist breaks the whole decision.
	closed := f
	closed.Closed = t0.Add(time.Hour)
	broken := home.Decision{Cursor: home.Cursor{Name: "watch", Journal: 2, Tick: t0},
		Turns:   []home.Transition{{Turn: home.Closed, At: closed.Closed, Finding: closed}},
		Notices: []home.Notice{{ID: "n2", Finding: "no such finding", Created: t0}}}
	if err := db.Decide(t.Context(), broken); err == nil {
		t.Fatal("a notice without a finding was taken")
	}
	if c, err := db.Cursor(t.Context(), "watch"); err != nil || c.Journal != 1 {
		t.Errorf("cursor moved to %d, %v", c.Journal, err)
	}
	if open, err := db.Findings(t.Context(), true, time.Time{}); err != nil || len(open) != 1 || !reflect.DeepEqual(open[0], f) {
		t.Errorf("open findings %+v, %v", open, err)
	}
	broken.Notices = nil
	if err := db.Decide(t.Context(), broken); err != nil {
		t.Fatal(err)
	}
	if open, err := db.Findings(t.Context(), true, time.Time{}); err != nil || len(open) != 0 {
		t.Errorf("after closing: %+v, %v", open, err)
	}
	turns, err := db.Turns(t.Context(), f.ID())
	if err != nil || len(turns) != 2 || turns[0].Turn != home.Raised || !turns[0].Finding.Open() || turns[1].Turn != home.Closed {
		t.Errorf("turns %+v, %v", turns, err)
	}
	if _, err := db.Finding(t.Context(), "none"); !errors.Is(err, home.ErrNotFound) {
		t.Errorf("unknown finding: %v", err)
	}
}

func TestDB_SettleNotice_Due(t *testing.T) {
	db := fresh(t)
	f := finding()
	n := home.Notice{ID: "n1", Finding: f.ID(), Turn: home.Raised, Urgency: home.Book, Channel: "mail", Subject: "s", Body: "b",
		Created: t0, State: home.Waiting, Reason: "new", Due: t0.Add(time.Minute)}
	digest := home.Notice{ID: "n0", Turn: home.Daily, Channel: "mail", Created: t0, State: home.Waiting, Due: t0.Add(time.Hour)} // of many findings, or of none
	if err := db.Decide(t.Context(), home.Decision{Turns: []home.Transition{{Turn: home.Raised, At: t0, Finding: f}}, Notices: []home.Notice{n, n, digest}}); err != nil {
		t.Fatal(err)
	}
	if due, err := db.DueNotices(t.Context(), t0, 10); err != nil || len(due) != 0 {
		t.Errorf("before its time: %+v, %v", due, err)
	}
	if at, ok, err := db.NextDue(t.Context()); err != nil || !ok || !at.Equal(n.Due) {
		t.Errorf("next due %v %v %v", at, ok, err)
	}
	due, err := db.DueNotices(t.Context(), n.Due, 10)
	if err != nil || len(due) != 1 || due[0] != n {
		t.Fatalf("due %+v, %v, want %+v", due, err, n)
	}
	n.State, n.Sent, n.Attempts, n.Reason = home.Sent, n.Due.Add(time.Second), 1, "taken"
	if err := db.SettleNotice(t.Context(), n); err != nil {
		t.Fatal(err)
	}
	if all, err := db.Notices(t.Context(), f.ID()); err != nil || len(all) != 1 || all[0] != n {
		t.Errorf("settled %+v, %v", all, err)
	}
	if at, ok, err := db.NextDue(t.Context()); err != nil || !ok || !at.Equal(digest.Due) {
		t.Errorf("next due %v %v %v", at, ok, err)
	}
	if err := db.SettleNotice(t.Context(), home.Notice{ID: "other"}); !errors.Is(err, home.ErrNotFound) {
		t.Errorf("unknown notice: %v", err)
	}
}

func TestDB_SetHousehold_TellsOnlyChanges(t *testing.T) {
	db := fresh(t)
	h := home.Household{Cats: []home.Cat{{ID: "juniper", Name: "Juniper"}}}
	for range 2 {
		if err := db.SetHousehold(t.Context(), h); err != nil {
			t.Fatal(err)
		}
	}
	if end, err := db.JournalEnd(t.Context()); err != nil || end != 1 {
		t.Errorf("journal has %d entries, %v, want 1", end, err)
	}
	if got, err := db.Household(t.Context()); err != nil || !reflect.DeepEqual(got, h) {
		t.Errorf("got %+v, %v", got, err)
	}
	if err := db.SetHousehold(t.Context(), home.Household{Cats: []home.Cat{{ID: "Not A Slug"}}}); err == nil {
		t.Error("a malformed household was taken")
	}
}

// Who is told changes nothing that was measured: nobody has to look at it again. A
// secret goes with the contact whose it is.
func TestDB_SetHousehold_ContactsAndSecrets(t *testing.T) {
	db := fresh(t)
	h := home.Household{Cats: []home.Cat{{ID: "juniper", Name: "Juniper"}}}
	ada, ben := home.Contact{ID: "ada", Way: home.ByService}, home.Contact{ID: "ben", Way: home.ByTopic, To: "house/said"}
	for _, contacts := range [][]home.Contact{nil, {ada, ben}, {ada}} {
		var secrets []Secret
		for _, c := range contacts {
			secrets = append(secrets, Secret{c.ID, "of " + c.ID})
		}
		h.Contacts = contacts
		if err := db.SetHousehold(t.Context(), h, secrets...); err != nil {
			t.Fatal(err)
		}
	}
	if end, err := db.JournalEnd(t.Context()); err != nil || end != 1 {
		t.Errorf("journal has %d entries, %v, want 1", end, err)
	}
	secrets, err := db.Secrets(t.Context())
	if err != nil || len(secrets) != 1 || secrets["ada"] != "of ada" {
		t.Errorf("secrets %v, %v", secrets, err)
	}
	h.Contacts = []home.Contact{ada, ada}
	if err := db.SetHousehold(t.Context(), h, Secret{"ada", "another"}); err == nil {
		t.Error("somebody is told twice")
	}
	if secrets, err := db.Secrets(t.Context()); err != nil || secrets["ada"] != "of ada" {
		t.Errorf("what was refused left the secrets %v, %v", secrets, err)
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

func TestOpen_Refuses(t *testing.T) {
	for _, row := range []struct {
		name string
		make func(t *testing.T, path string)
		hint string
	}{
		// Two processes on one file would each believe they own the sequence of commits.
		{"second process", func(t *testing.T, path string) { open(t, path) }, "Stop the other"},
		// A newer program may have written what this one would misread.
		{"newer schema", func(t *testing.T, path string) {
			raw(t, path, `PRAGMA user_version = 9999; PRAGMA application_id = 0x5742454d`)
		}, "newer weighbeam"},
		// Somebody else's database is not ours to change.
		{"another program's file", func(t *testing.T, path string) { raw(t, path, `CREATE TABLE x (y); PRAGMA user_version = 1`) }, "another program"},
		// A file that is no database at all is kept and named.
		{"damaged", func(t *testing.T, path string) {
			if err := os.WriteFile(path, []byte(strings.Repeat("not a database ", 500)), 0o600); err != nil {
				t.Fatal(err)
			}
		}, "backup"},
	} {
		t.Run(row.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "house.db")
			row.make(t, path)
			db, err := Open(t.Context(), path)
			if err == nil {
				db.Close()
				t.Fatal("opened")
			}
			if !strings.Contains(home.Hint(err), row.hint) {
				t.Errorf("error %q, hint %q, want a hint with %q", err, home.Hint(err), row.hint)
			}
		})
	}
}

func raw(t *testing.T, path, script string) {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(script); err != nil {
		t.Fatal(err)
	}
}

// Every schema that ever was opens in this program, with what it held.
func TestOpen_MigratesEveryOlderVersion(t *testing.T) {
	for v := 1; v <= schemaVersion(); v++ {
		t.Run(fmt.Sprint(v), func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "house.db")
			old, err := connect(path, "_txlock=immediate")
			if err != nil {
				t.Fatal(err)
			}
			for step := 1; step <= v; step++ {
				if err := forward(t.Context(), old, step); err != nil {
					t.Fatal(err)
				}
			}
			if _, err := old.Exec(`INSERT INTO slug VALUES (1, 'box-1');
				INSERT INTO reading (source, quantity, at, seq, cat, value, lag, clock) VALUES (1, 2, 5, 0, 0, 4.5, 0, 1)`); err != nil {
				t.Fatal(err)
			}
			if _, err := old.Exec(`INSERT INTO set_aside (id, way, topic, payload, digest, reason, first, last, times, latest, settled) VALUES
				(1, 'mqtt', 'a', x'04', x'01', 'r', 5, 9, 7, 0, 0), (2, 'mqtt', 'a', x'05', x'02', 'r', 5, 5, 1, 0, 0), (3, 'mqtt', 'b', x'06', x'03', 'r', 5, 9, 2, 1, 0)`); err != nil {
				t.Fatal(err)
			}
			if err := old.Close(); err != nil {
				t.Fatal(err)
			}
			db := open(t, path)
			if v < 3 { // from then on it is kept when each came
				for id, want := range []int{1: 2, 2: 1, 3: 0} {
					if came, err := db.Came(t.Context(), int64(id)); err != nil || len(came) != want || want > 0 && came[0].At.UnixMicro() != 5 {
						t.Errorf("of payload %d: %+v, %v", id, came, err)
					}
				}
			}
			got, err := db.Readings(t.Context(), "box-1", home.Weight, time.Time{}, time.Time{})
			if err != nil || len(got) != 1 || got[0].Value != 4.5 {
				t.Errorf("got %+v, %v", got, err)
			}
		})
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
