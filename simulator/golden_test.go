package simulator_test

import (
	"crypto/sha256"
	"flag"
	"fmt"
	"io"
	"iter"
	"os"
	"path/filepath"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/simulator"
)

var update = flag.Bool("update", false, "write the goldens anew")

// golden compares with a file under testdata and leaves what it got beside it.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if string(want) != got {
		if err := os.WriteFile(path+".got", []byte(got), 0o644); err != nil {
			t.Error(err)
		}
		t.Errorf("%s differs: compare it with %s.got; if the change is meant, run the test with -update", path, path)
	}
}

func writeReadings(w io.Writer, readings iter.Seq[home.Reading]) {
	for r := range readings {
		fmt.Fprintf(w, "%s,%s,%s,%v,%s,%v,%s,%s\n", r.Time.Format(time.RFC3339Nano), r.Source, r.Quantity, r.Value,
			r.Cat, r.Window.Seconds(), r.State, r.Arrived.Sub(r.Time))
	}
}

// The same seed gives the same bytes: the hash of a week of three houses, and a
// few lines of one for people to read.
func TestHouse_Bytes_AreTheSame(t *testing.T) {
	start := time.Date(2025, 3, 24, 0, 0, 0, 0, berlin(t))
	all := simulator.Options{Seed: 3, Start: start, Days: 7, Cats: 4, Unwell: 2, Scales: 4, Devices: simulator.Devices(), Faults: simulator.AllFaults}
	text := ""
	for _, c := range []struct {
		name string
		o    simulator.Options
	}{{"plain", simulator.Plain(1, start, 7)}, {"hard", simulator.Hard(2, start, 7)}, {"all", all}} {
		h := house(t, c.o)
		settled, load, truth := sha256.New(), sha256.New(), sha256.New()
		writeReadings(settled, h.Settled())
		writeReadings(load, h.Load())
		if err := h.WriteTruth(truth); err != nil {
			t.Fatal(err)
		}
		text += fmt.Sprintf("%s settled %x\n%s load %x\n%s truth %x\n", c.name, settled.Sum(nil), c.name, load.Sum(nil), c.name, truth.Sum(nil))
	}
	golden(t, "hashes.txt", text)
}

func TestHouse_Truth_ReadsAsALineEach(t *testing.T) {
	h := house(t, simulator.Plain(1, time.Date(2025, 3, 24, 0, 0, 0, 0, time.UTC), 2))
	path := filepath.Join(t.TempDir(), "truth")
	f, err := os.Create(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := h.WriteTruth(f); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	got, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	golden(t, "truth.jsonl", string(got))
}

// A writer that fails is told, not ignored.
func TestHouse_WriteTruth_SaysWhatFailed(t *testing.T) {
	h := house(t, simulator.Plain(1, time.Date(2025, 3, 24, 0, 0, 0, 0, time.UTC), 2))
	r, w := io.Pipe()
	r.Close()
	if err := h.WriteTruth(w); err == nil {
		t.Error("nothing was said")
	}
}

func berlin(t *testing.T) *time.Location {
	t.Helper()
	loc, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		t.Fatal(err)
	}
	return loc
}
