package carry

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"weighbeam/home"
	"weighbeam/store"
)

// handful is one of everything that people say, and what they corrected of it.
func handful() (home.Batch, []home.Correction) {
	weight := func(kg float64, seq int64) home.Reading {
		return home.Reading{Source: home.Hand, Quantity: home.Weight, Time: noon, Seq: seq, Value: kg, Cat: "juniper", Arrived: noon, Clock: home.ByHand}
	}
	jpeg := []byte("picture")
	photo := home.PhotoFile{ID: home.PhotoID(jpeg), Width: 4, Height: 3, JPEG: jpeg}
	first := home.HomeCheck{ID: "c1", Cat: "juniper", Time: noon, By: "Ada", Note: "purring", RedFlags: []home.RedFlag{home.Straining},
		Readings: []home.Reading{weight(4.4, 1)}, Photos: []home.Photo{{ID: photo.ID}},
		Seen:  []home.Seen{{Part: home.Gums, Values: []string{"pale"}}, {Part: home.FaceEars, HasNumber: true}},
		Lumps: []home.Lump{{ID: "neck-1", Place: home.AtNeck, LengthMm: 6}}, Given: []home.Given{{Kind: home.Food, What: "trout"}}}
	second := first
	second.ID, second.Readings = "c2", []home.Reading{weight(4.2, 2)}
	gone := home.HomeCheck{ID: "c3", Cat: "left-us", Time: noon, Note: "of a cat that is not in the household"}
	plan := home.Care{ID: "e1", Cat: "juniper", Kind: home.PlanAgreed, From: noon, Told: noon, Plan: &home.Plan{From: noon, TargetKg: 4}}
	correct := func(id string, m home.Matter, target, replacement string) home.Correction {
		return home.Correction{ID: id, Cat: "juniper", Matter: m, Target: target, Replacement: replacement, At: noon, Why: "misread"}
	}
	return home.Batch{Checks: []home.HomeCheck{first, second, gone}, Photos: []home.PhotoFile{photo}, Care: []home.Care{plan}, Readings: []home.Reading{weight(4.3, 3)}},
		[]home.Correction{correct("k1", home.OfCheck, "c1", "c2"), correct("k2", home.OfCare, "e1", ""), correct("k3", home.OfReading, weight(4.3, 3).Key(), "")}
}

func exported(t *testing.T, db *store.DB) string {
	t.Helper()
	var out bytes.Buffer
	if _, err := ExportLines(t.Context(), db, &out); err != nil {
		t.Fatal(err)
	}
	return out.String()
}

// All that people said goes through the JSON lines, what they took back included:
// what is made from the file exports the same file.
func TestExportLines_RoundTrip(t *testing.T) {
	dir := t.TempDir()
	first, second := openStore(t, filepath.Join(dir, "a")), openStore(t, filepath.Join(dir, "b"))
	defer first.Close()
	defer second.Close()
	if err := first.SetHousehold(t.Context(), home.Household{Cats: []home.Cat{{ID: "juniper", Name: "Juniper"}}}); err != nil {
		t.Fatal(err)
	}
	batch, corrections := handful()
	if _, err := first.Append(t.Context(), batch); err != nil {
		t.Fatal(err)
	}
	for _, c := range corrections {
		if err := first.Correct(t.Context(), c, home.Batch{}); err != nil {
			t.Fatal(err)
		}
	}
	naming := home.Naming{Source: "box-1", Start: noon, Cat: "juniper", By: "Ada", At: noon}
	reaction := home.Reaction{ID: "r1", Finding: "weight-falling/juniper", Kind: home.Explained, At: noon, By: "Ada", Note: "a diet"}
	if err := errors.Join(first.ImportNaming(t.Context(), naming), first.ImportReaction(t.Context(), reaction)); err != nil {
		t.Fatal(err)
	}
	text := exported(t, first)
	for part, n := range map[string]int{`{"household":`: 1, `{"reading":`: 1, `{"photo":`: 1, `{"check":`: 3, `{"care":`: 1, `{"correction":`: 3, `{"naming":`: 1, `{"reaction":`: 1} {
		if got := strings.Count(text, part); got != n {
			t.Errorf("%d lines of %s, want %d, in\n%s", got, part, n, text)
		}
	}
	path := filepath.Join(dir, "x.jsonl")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	for range 2 { // run again, as after an import that was cut short
		if _, err := Import(t.Context(), second, second.Household, []string{path}, noon, func(_ string, n int, err error) { t.Errorf("line %d: %v", n, err) }, nil); err != nil {
			t.Fatal(err)
		}
	}
	if got := exported(t, second); got != text {
		t.Errorf("got\n%s\nwant\n%s", got, text)
	}
	var csv bytes.Buffer
	if n, err := ExportCSV(t.Context(), second, &csv); err != nil || n != 1 || !strings.Contains(csv.String(), "4.2") {
		t.Errorf("the CSV has %d rows: %s, %v", n, csv.String(), err)
	}
}

// A correction of what is not there, a line of two things, and what is yet to come are
// told by their line.
func TestImport_BadCorrection_IsTold(t *testing.T) {
	db := openStore(t, t.TempDir())
	defer db.Close()
	path := filepath.Join(t.TempDir(), "x.jsonl")
	text := `{"correction":{"ID":"k","Cat":"juniper","Matter":"check","Target":"none","At":"2025-03-03T12:00:00Z","Why":"w"}}
{"check":{"ID":"c","Cat":"juniper","Time":"2025-03-03T12:00:00Z","Note":"n"},"care":{"ID":"e","Cat":"juniper","Kind":"vet-visit","From":"2025-03-03T12:00:00Z","Told":"2025-03-03T12:00:00Z"}}
{"check":{"ID":"c","Cat":"juniper","Time":"2025-03-03T12:00:00Z","Note":"n"}}
{"check":{"ID":"d","Cat":"juniper","Time":"2035-03-03T12:00:00Z","Note":"n"}}
{"reading":{"Source":"box-1","Quantity":"weight","Time":"2025-03-03T12:00:00Z","Value":4,"Arrived":"2035-03-03T12:00:00Z","Clock":"device"}}
`
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	var told []string
	got, err := Import(t.Context(), db, db.Household, []string{path}, noon, func(_ string, n int, err error) { told = append(told, err.Error()) }, nil)
	if err != nil || got.Stored != 1 || got.SetAside != 4 || len(told) != 4 || told[0] != "correction of none: not found" ||
		!strings.Contains(told[2]+told[3], "future") {
		t.Errorf("got %+v, %q, %v", got, told, err)
	}
}
