package carry

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"weighbeam/home"
	"weighbeam/store"
)

var noon = time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)

func openStore(t interface{ Fatal(...any) }, dir string) *store.DB {
	db, err := store.Open(context.Background(), filepath.Join(dir, "house.db"))
	if err != nil {
		t.Fatal(err)
	}
	return db
}

// draw makes a reading of any kind that the store can hold.
func draw(rt *rapid.T) home.Reading {
	r := home.Reading{
		Source:   rapid.SampledFrom([]string{"box-1", "bowl", home.Hand, home.Clinic}).Draw(rt, "source"),
		Quantity: rapid.SampledFrom(home.Quantities()).Draw(rt, "quantity"),
		Time:     noon.Add(time.Duration(rapid.Int64Range(0, 1e9).Draw(rt, "at")) * time.Microsecond),
		Seq:      rapid.Int64Range(0, 3).Draw(rt, "seq"),
		Value:    rapid.Float64Range(30, 40).Draw(rt, "value"),
		SD:       rapid.SampledFrom([]float64{0, 0.012}).Draw(rt, "sd"),
		Cat:      rapid.SampledFrom([]string{"", "juniper"}).Draw(rt, "cat"),
		Note:     rapid.SampledFrom([]string{"", "a, \"note\"\nof two lines", "é"}).Draw(rt, "note"),
		Clock:    rapid.SampledFrom([]home.Clock{home.ByDevice, home.ByArrival, home.ByHand}).Draw(rt, "clock"),
	}
	r.Arrived = r.Time.Add(time.Duration(rapid.Int64Range(0, 1e6).Draw(rt, "lag")) * time.Microsecond)
	if r.Quantity == home.Weight {
		r.Value /= 10
	}
	if r.Quantity == home.Tag {
		r.Value = 985e12 + float64(int(r.Value))
	}
	if r.Quantity.Counted() {
		r.Value, r.Window, r.State = float64(int(r.Value)), 30*time.Second, home.Asleep
	}
	return r
}

// Export then import gives the same store, in both forms.
func TestExport_ImportGivesTheSame(t *testing.T) {
	fewer(t, "20") // each opens two stores on the disk
	forms := map[string]func(context.Context, *store.DB, *bytes.Buffer) error{
		"out.csv": func(ctx context.Context, db *store.DB, b *bytes.Buffer) error {
			_, err := ExportCSV(ctx, db, b)
			return err
		},
		"out.jsonl": func(ctx context.Context, db *store.DB, b *bytes.Buffer) error {
			_, err := ExportLines(ctx, db, b)
			return err
		},
	}
	for name, export := range forms {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(rt *rapid.T) {
				dir, err := os.MkdirTemp(t.TempDir(), "")
				if err != nil {
					rt.Fatal(err)
				}
				first := openStore(rt, filepath.Join(dir, "a"))
				defer first.Close()
				batch := home.Batch{Readings: rapid.SliceOfN(rapid.Custom(draw), 0, 30).Draw(rt, "readings")}
				if err := first.SetHousehold(rt.Context(), home.Household{Cats: []home.Cat{{ID: "juniper", Name: "Juniper"}}}); err != nil {
					rt.Fatal(err)
				}
				if _, err := first.Append(rt.Context(), batch); err != nil {
					rt.Fatal(err)
				}
				var out bytes.Buffer
				if err := export(rt.Context(), first, &out); err != nil {
					rt.Fatal(err)
				}
				path := filepath.Join(dir, name)
				if err := os.WriteFile(path, out.Bytes(), 0o600); err != nil {
					rt.Fatal(err)
				}
				second := openStore(rt, filepath.Join(dir, "b"))
				defer second.Close()
				for range 2 { // run again, as after an import that was cut short
					_, err := Import(rt.Context(), second, second.Household, []string{path}, noon.Add(time.Hour), func(_ string, n int, err error) { rt.Errorf("line %d: %v", n, err) }, nil)
					if err != nil {
						rt.Fatal(err)
					}
				}
				if got, want := all(rt, second), all(rt, first); got != want {
					rt.Errorf("got\n%s\nwant\n%s", got, want)
				}
			})
		})
	}
}

// fewer lowers the number of cases that rapid draws in this test.
func fewer(t *testing.T, n string) {
	t.Helper()
	const name = "rapid.checks"
	old := flag.Lookup(name).Value.String()
	if err := flag.Set(name, n); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = flag.Set(name, old) }) // it was valid before
}

func all(rt *rapid.T, db *store.DB) string {
	var b strings.Builder
	_, err := db.EachReading(rt.Context(), func(r home.Reading) error {
		fmt.Fprintf(&b, "%+v\n", r)
		return nil
	})
	if err != nil {
		rt.Fatal(err)
	}
	return b.String()
}

// A bad row is told by its line, kept, and does not stop the rest.
func TestImport_BadRowsAreToldAndKept(t *testing.T) {
	dir := t.TempDir()
	db := openStore(t, dir)
	defer db.Close()
	path := filepath.Join(dir, "in.csv")
	text := "time,source,quantity,value,unit,cat\n" +
		"2025-03-03T12:00:00Z,box-1,weight,4.5,kg,\n" +
		"yesterday,box-1,weight,4.5,kg,\n" + // no time
		"2025-03-03T12:01:00Z,box-1,weight,4500,kg,\n" + // grams
		"2025-03-03T12:02:00Z,hand,weight,4500,g,felix\n" + // whom nobody here knows
		"2035-03-03T12:02:00Z,box-1,weight,4.5,kg,\n" // the wrong year
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	var lines []int
	got, err := Import(t.Context(), db, db.Household, []string{path}, noon, func(_ string, n int, err error) { lines = append(lines, n) }, nil)
	want := Imported{Tally: home.Tally{Stored: 2, SetAside: 3}, Rows: 5, Unknown: "cat felix, scale box-1"}
	if err != nil || got != want || fmt.Sprint(lines) != "[3 4 6]" {
		t.Errorf("got %+v, lines %v, %v", got, lines, err)
	}
	aside, err := db.SetAsides(t.Context(), 10)
	if err != nil || len(aside) != 3 || !strings.Contains(aside[0].Topic, "in.csv line") {
		t.Errorf("set aside: %+v, %v", aside, err)
	}
	if _, err := Import(t.Context(), db, db.Household, []string{filepath.Join(dir, "none.csv")}, noon, nil, nil); home.Hint(err) == "" {
		t.Errorf("a missing file: %v", err)
	}
}

// A file that cannot be read does not stop those after it, and is told.
func TestImport_BadFile_OthersAreRead(t *testing.T) {
	dir := t.TempDir()
	db := openStore(t, dir)
	defer db.Close()
	file := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	paths := []string{
		file("a.csv", "when,what\n1,2\n"),
		file("b.csv", "time,source,quantity,value,unit\n2025-03-03T12:00:00Z,hand,weight,4.5,kg\n"),
		filepath.Join(dir, "none.csv"),
		file("c.jsonl", strings.Repeat("x", maxLine+1)),
		file("d.csv", "time,source,quantity,value,unit\n2025-03-03T12:00:00Z,clinic,weight,4.5,kg\n"),
	}
	got, err := Import(t.Context(), db, db.Household, paths, noon, func(string, int, error) {}, func(int) {})
	if got.Stored != 2 || got.SetAside != 0 {
		t.Errorf("%+v", got)
	}
	for _, name := range []string{"a.csv line 1", "none.csv", "c.jsonl"} {
		if err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("nothing is said of %s: %v", name, err)
		}
	}
	seen, err := SurveyFiles(t.Context(), home.Household{}, []string{paths[0], paths[4]}, noon, nil)
	if len(seen) != 1 || err == nil {
		t.Errorf("looked at first: %+v, %v", seen, err)
	}
}
