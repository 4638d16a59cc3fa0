package carry

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/ingest/payload"
)

// historyFileOf writes a file of some readings, one in ten of which cannot be used.
// Each says in its note what it is; back is how many seconds a time may go back.
func historyFileOf(t *testing.T, rng *rand.Rand, rows, back int) string {
	t.Helper()
	text := []byte("time,source,quantity,value,unit,cat,window_s,state,note,sd,seq,arrived\n")
	at := time.Date(2025, 1, 6, 0, 0, 0, 500_000, time.UTC)
	for i := range rows {
		at = at.Add(time.Duration(rng.IntN(60)-rng.IntN(back+1)) * time.Second)
		when := at.Format(time.RFC3339Nano)
		switch rng.IntN(10) {
		case 0:
			text = fmt.Appendf(text, "%s,box-1,weight,much,kg,juniper,,,bad %d,,,\n", when, i)
		case 1:
			text = fmt.Appendf(text, "%s,hand,breaths,%d,,juniper,30,asleep,\"row %d, counted\",,,\n", when, 8+rng.IntN(9), i)
		default:
			text = fmt.Appendf(text, "%s,box-%d,weight,%.3f,kg,,,,row %d,0.01,%d,%s\n", when, rng.IntN(3), 4+rng.Float64(), i, i, at.Add(time.Minute).Format(time.RFC3339))
		}
	}
	path := filepath.Join(t.TempDir(), "readings.csv")
	if err := os.WriteFile(path, text, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// told is what a history gives, row for row, with what could not be used where it is told.
func told(t *testing.T, h *History, paths []string) (all []string, readings []home.Reading) {
	t.Helper()
	h.Skipped = func(file string, err *payload.RowError) { all = append(all, fmt.Sprint(file, err)) }
	err := h.Each(paths, func(r home.Reading) error {
		all, readings = append(all, fmt.Sprintf("%+v", r)), append(readings, r)
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return all, readings
}

// What is held and what is read again is the same to the last bit, with what could not be
// used told in the same places, in order or not, whatever of it there was room for.
func TestHistory_Each_HeldOrReadAgain(t *testing.T) {
	for seed := range uint64(8) {
		rng := rand.New(rand.NewPCG(seed, 1))
		inOrder, other, unordered := historyFileOf(t, rng, 300, 0), historyFileOf(t, rng, 200, 0), historyFileOf(t, rng, 300, 120)
		for _, paths := range [][]string{{inOrder}, {inOrder, other}, {unordered}, {other, unordered, inOrder}, {other, other}, {unordered, unordered}} {
			again, _ := told(t, &History{room: 1}, paths)
			if n := len(strings.Join(again, "")); n == 0 {
				t.Fatal("nothing was read")
			}
			for _, room := range []int{0, 250, 450} {
				held, readings := told(t, &History{room: room}, paths)
				if !slices.Equal(held, again) {
					t.Fatalf("seed %d, %d files, room for %d: held and read again differ", seed, len(paths), room)
				}
				if !slices.IsSortedFunc(readings, func(a, b home.Reading) int { return a.Time.Compare(b.Time) }) {
					t.Errorf("seed %d, %d files: out of order", seed, len(paths))
				}
			}
		}
	}
}

// A file that is held is read once, one that is not twice; what is told of the progress is
// of two times in any case.
func TestHistory_Read_TellsOfTwice(t *testing.T) {
	path := historyFileOf(t, rand.New(rand.NewPCG(1, 1)), 3*partRows, 0)
	text, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for _, room := range []int{0, 1} {
		read, scanned := 0, 0
		h := &History{room: room, Read: func(n int) { read += n }}
		if err := h.Scan([]string{path}, func(home.Reading) error { scanned++; return nil }); err != nil || read != len(text) {
			t.Fatalf("room %d: %d of %d bytes, %v", room, read, len(text), err)
		}
		if held := h.known[path].held != nil; held != (room == 0) {
			t.Fatalf("room %d: held %v", room, held)
		}
		if room == 0 {
			if err := os.Truncate(path, 100); err != nil { // what is held does not need it
				t.Fatal(err)
			}
		}
		_, readings := told(t, h, []string{path})
		if len(readings) != scanned || read < 2*len(text)-4 || read > 2*len(text) {
			t.Errorf("room %d: %d readings of %d, %d bytes of 2 times %d", room, len(readings), scanned, read, len(text))
		}
		if err := os.WriteFile(path, text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}
