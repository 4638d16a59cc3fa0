package store

import (
	"errors"
	"fmt"
	"reflect"
	"testing"
	"time"

	"weighbeam/home"
)

// full is a check with every part.
func full(id string, kg float64) home.HomeCheck {
	at := t0.Truncate(time.Second)
	c := check(id)
	c.Readings = append([]home.Reading{{Source: home.Hand, Quantity: home.Weight, Time: at, Seq: int64(len(id)) + int64(kg*1000), Value: kg,
		Cat: "juniper", Arrived: at, Clock: home.ByHand}}, c.Readings...)
	c.Readings[1].Seq = c.Readings[0].Seq
	c.Seen = []home.Seen{{Part: home.Gums, Values: []string{home.Usual}}, {Part: home.FaceEars, HasNumber: true}}
	c.Lumps = []home.Lump{{ID: "neck-1", Place: home.AtNeck, Side: home.Left, LengthMm: 6.5, FirstSeen: at}}
	c.Given = []home.Given{{Kind: home.Medicine, What: "drops", Amount: "2", Taken: home.TookAll}}
	c.Photos = []home.Photo{{ID: home.PhotoID([]byte("jpeg")), Of: "lump/neck-1"}}
	return c
}

// weighed is the weight of juniper in each of the store's views, to see that they agree.
func weighed(t *testing.T, db *DB) []float64 {
	t.Helper()
	ctx := t.Context()
	readings, err1 := db.Readings(ctx, home.Hand, home.Weight, time.Time{}, time.Time{})
	counts, err2 := db.Counts(ctx, "juniper", home.Weight, time.Time{}, time.Time{})
	weighings, err3 := db.Weighings(ctx, "juniper", time.Time{}, time.Time{})
	checks, err4 := db.Checks(ctx, "juniper", time.Time{}, time.Time{})
	var each []float64
	_, err5 := db.EachReading(ctx, func(r home.Reading) error {
		if r.Quantity == home.Weight {
			each = append(each, r.Value)
		}
		return nil
	})
	if err := errors.Join(err1, err2, err3, err4, err5); err != nil {
		t.Fatal(err)
	}
	for i, kg := range each {
		if readings[i].Value != kg || counts[i].Value != kg || weighings[i].Kg != kg || checks[i].Readings[0].Value != kg {
			t.Errorf("the views do not agree: %v %v %v %v %v", each, readings, counts, weighings, checks)
		}
	}
	if n := len(each); len(readings) != n || len(counts) != n || len(weighings) != n || len(checks) != n {
		t.Errorf("the views do not agree: %v %v %v %v %v", each, readings, counts, weighings, checks)
	}
	return each
}

// correction is of the check c1.
func correction(id, target, replacement string) home.Correction {
	return home.Correction{ID: id, Cat: "juniper", Matter: home.OfCheck, Target: target, Replacement: replacement,
		At: t0.Add(time.Hour).Truncate(home.TimeStep), By: "Ada", Why: "misread"}
}

// What is replaced is seen by nobody but the history; what takes its place is.
func TestDB_Correct_ReplacesInEveryView(t *testing.T) {
	db := fresh(t)
	first, second := full("c1", 4.4), full("c2", 4.2)
	if _, err := db.Append(t.Context(), home.Batch{Checks: []home.HomeCheck{first}}); err != nil {
		t.Fatal(err)
	}
	end, err := db.JournalEnd(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	with := home.Batch{Checks: []home.HomeCheck{second}}
	for range 2 { // sent again, as by a phone that did not hear the answer
		if err := db.Correct(t.Context(), correction("k1", "c1", "c2"), with); err != nil {
			t.Fatal(err)
		}
	}
	if got := weighed(t, db); fmt.Sprint(got) != "[4.2]" {
		t.Errorf("got %v", got)
	}
	got, err := db.EveryCheck(t.Context(), "juniper")
	if err != nil || !reflect.DeepEqual(got, []home.HomeCheck{first, second}) {
		t.Errorf("the history: %+v, %v", got, err)
	}
	// The stages are told of what went and of what came.
	entries, err := db.Journal(t.Context(), end, 100)
	told := map[string]int{}
	for _, e := range entries {
		told[string(e.Matter)+" "+string(e.Quantity)+" "+e.Cat]++
	}
	if err != nil || fmt.Sprint(told) != "map[check  juniper:2 reading breaths juniper:2 reading weight juniper:2]" {
		t.Errorf("told: %v, %v", told, err)
	}
	// The check again, as from an import: what was taken back stays so.
	if _, err := db.Append(t.Context(), home.Batch{Checks: []home.HomeCheck{first}, Readings: first.Readings}); err != nil {
		t.Fatal(err)
	}
	if got := weighed(t, db); fmt.Sprint(got) != "[4.2]" {
		t.Errorf("after it came again: %v", got)
	}
	if kept, err := db.Corrections(t.Context(), "juniper"); err != nil || !reflect.DeepEqual(kept, []home.Correction{correction("k1", "c1", "c2")}) {
		t.Errorf("corrections: %+v, %v", kept, err)
	}
}

func TestDB_Correct_Void_LeavesNothing(t *testing.T) {
	db := fresh(t)
	if _, err := db.Append(t.Context(), home.Batch{Checks: []home.HomeCheck{full("c1", 4.4)}}); err != nil {
		t.Fatal(err)
	}
	if err := db.Correct(t.Context(), correction("k1", "c1", ""), home.Batch{}); err != nil {
		t.Fatal(err)
	}
	if got := weighed(t, db); len(got) != 0 {
		t.Errorf("got %v", got)
	}
	if got, err := db.HomeCheck(t.Context(), "c1"); err != nil || len(got.Readings) != 2 {
		t.Errorf("the history: %+v, %v", got, err)
	}
}

// A correction that cannot be is refused whole: nothing of it is stored.
func TestDB_Correct_Refused(t *testing.T) {
	db := fresh(t)
	loose := weight(t0, 9, 4.1) // of a scale
	loose.Cat = "juniper"
	if _, err := db.Append(t.Context(), home.Batch{Checks: []home.HomeCheck{full("c1", 4.4)}, Readings: []home.Reading{loose}}); err != nil {
		t.Fatal(err)
	}
	if err := db.Correct(t.Context(), correction("k1", "c1", "c2"), home.Batch{Checks: []home.HomeCheck{full("c2", 4.2)}}); err != nil {
		t.Fatal(err)
	}
	clash := full("c3", 4.3)
	clash.Readings[0].Seq = full("c1", 4.4).Readings[0].Seq // the name of a reading that is there
	another, scale, nowhere := correction("k2", "c2", ""), correction("k3", loose.Key(), ""), correction("k4", "c2", "c9")
	another.Cat = "moss"
	scale.Matter = home.OfReading
	for _, row := range []struct {
		name string
		c    home.Correction
		with home.Batch
		want error // nil: any
	}{
		{"two people at once", correction("k9", "c1", "c3"), home.Batch{Checks: []home.HomeCheck{full("c3", 4.3)}}, home.ErrCorrected},
		{"nothing there", correction("k9", "c7", ""), home.Batch{}, home.ErrNotFound},
		{"another cat's", another, home.Batch{}, home.ErrNotFound},
		{"a replacement that is not there", nowhere, home.Batch{}, home.ErrNotFound},
		{"a replacement with a taken name", correction("k9", "c2", "c3"), home.Batch{Checks: []home.HomeCheck{clash}}, nil},
		{"what a scale said", scale, home.Batch{}, nil},
		{"no reason", home.Correction{ID: "k9", Cat: "juniper", Matter: home.OfCheck, Target: "c2", At: t0}, home.Batch{}, nil},
	} {
		err := db.Correct(t.Context(), row.c, row.with)
		if err == nil || row.want != nil && !errors.Is(err, row.want) {
			t.Errorf("%s: got %v, want %v", row.name, err, row.want)
		}
		if got, err := db.Checks(t.Context(), "juniper", time.Time{}, time.Time{}); err != nil || len(got) != 1 || got[0].ID != "c2" {
			t.Errorf("%s: left %+v, %v", row.name, got, err)
		}
	}
}

// A reading that a person entered without a check can be taken back, too.
func TestDB_Correct_Reading(t *testing.T) {
	db := fresh(t)
	r, other := count(t0, "juniper", 11), count(t0, "juniper", 12)
	other.Seq = 1
	if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{r, other}}); err != nil {
		t.Fatal(err)
	}
	c := correction("k1", r.Key(), other.Key())
	c.Matter = home.OfReading
	if err := db.Correct(t.Context(), c, home.Batch{}); err != nil {
		t.Fatal(err)
	}
	got, err := db.Counts(t.Context(), "juniper", home.Breaths, time.Time{}, time.Time{})
	if err != nil || len(got) != 1 || got[0] != other {
		t.Errorf("got %+v, %v", got, err)
	}
	if named, err := db.NamedCats(t.Context(), home.Household{}, time.Time{}); err != nil || len(named) != 1 || named[0].Count != 1 {
		t.Errorf("what was taken back names a cat: %+v, %v", named, err)
	}
	n := 0
	if err := db.EveryReading(t.Context(), func(home.Reading) error { n++; return nil }); err != nil || n != 2 {
		t.Errorf("%d are kept, %v", n, err)
	}
	c.ID, c.Target = "k2", "no/reading"
	if err := db.Correct(t.Context(), c, home.Batch{}); !errors.Is(err, home.ErrNotFound) {
		t.Errorf("a key that is none: %v", err)
	}
}
