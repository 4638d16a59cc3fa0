package store

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"weighbeam/home"
)

// A backup taken while readings stream in is a store of one moment: it opens,
// and holds a prefix of what was appended.
func TestBackup_WhileWriting(t *testing.T) {
	dir := t.TempDir()
	db := open(t, filepath.Join(dir, "house.db"))
	ctx, cancel := context.WithCancel(t.Context())
	var writing sync.WaitGroup
	started := make(chan struct{})
	writing.Go(func() {
		for seq := int64(1); ctx.Err() == nil; seq++ {
			if _, err := db.Append(context.Background(), home.Batch{Readings: []home.Reading{weight(t0, seq, 4.5)}}); err != nil {
				t.Error(err)
				return
			}
			if seq == 50 {
				close(started)
			}
		}
	})
	<-started
	to := filepath.Join(dir, "backup.db")
	err := Backup(t.Context(), db.Path(), to)
	cancel()
	writing.Wait()
	if err != nil {
		t.Fatal(err)
	}
	copied := open(t, to)
	got, err := copied.Readings(t.Context(), "box-1", home.Weight, time.Time{}, time.Time{})
	if err != nil || len(got) < 50 {
		t.Fatalf("%d readings, %v", len(got), err)
	}
	for i, r := range got {
		if r.Seq != int64(i+1) {
			t.Fatalf("reading %d has number %d: not a moment of the store", i, r.Seq)
		}
	}
}

func TestBackup_Refuses(t *testing.T) {
	dir := t.TempDir()
	db := open(t, filepath.Join(dir, "house.db"))
	there := filepath.Join(dir, "there.db")
	if err := os.WriteFile(there, []byte("precious"), 0o600); err != nil {
		t.Fatal(err)
	}
	// An older backup is not overwritten.
	if err := Backup(t.Context(), db.Path(), there); err == nil {
		t.Error("an existing file was replaced")
	}
	if b, err := os.ReadFile(there); err != nil || string(b) != "precious" {
		t.Errorf("the existing file holds %q, %v", b, err)
	}
	// A store that is not there is not made.
	if err := Backup(t.Context(), filepath.Join(dir, "none.db"), filepath.Join(dir, "x.db")); err == nil {
		t.Error("a store that is not there was backed up")
	}
	// Where it cannot be written, no part of it stays.
	if err := Backup(t.Context(), db.Path(), filepath.Join(dir, "nowhere", "x.db")); err == nil || !strings.Contains(err.Error(), "no folder") {
		t.Errorf("into a folder that is not there: %v", err)
	}
}

func TestRestore_KeepsWhatWasThere(t *testing.T) {
	dir := t.TempDir()
	path, saved := filepath.Join(dir, "house.db"), filepath.Join(dir, "backup.db")
	put := func(seq int64) {
		t.Helper()
		db, err := Open(t.Context(), path)
		if err != nil {
			t.Fatal(err)
		}
		defer db.Close()
		if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{weight(t0, seq, 4.5)}}); err != nil {
			t.Fatal(err)
		}
	}
	put(1)
	if err := Backup(t.Context(), path, saved); err != nil {
		t.Fatal(err)
	}
	put(2)
	want := map[string]int64{path: 1}
	for seq := int64(2); seq <= 4; seq++ { // within a second
		aside, err := Restore(t.Context(), saved, path, t0)
		if err != nil {
			t.Fatal(err)
		}
		want[aside] = min(seq, 3)
		put(seq)
		put(seq + 1)
	}
	want[path] = 3
	if len(want) != 4 {
		t.Errorf("three stores were put aside as %v", want)
	}
	for file, want := range want {
		sources, err := open(t, file).Sources(t.Context())
		if err != nil || len(sources) != 1 || sources[0].Count != want {
			t.Errorf("%s holds %+v, %v, want %d readings", filepath.Base(file), sources, err, want)
		}
	}
}

func TestRestore_Refuses(t *testing.T) {
	dir := t.TempDir()
	path, saved := filepath.Join(dir, "house.db"), filepath.Join(dir, "backup.db")
	db := open(t, path)
	if err := Backup(t.Context(), path, saved); err != nil {
		t.Fatal(err)
	}
	// A running program would go on writing to a file that is no longer there.
	if _, err := Restore(t.Context(), saved, path, t0); err == nil || !strings.Contains(home.Hint(err), "Stop weighbeam") {
		t.Errorf("with the store in use: %v", err)
	}
	// A damaged backup must not take the place of a good store.
	b, err := os.ReadFile(saved)
	if err != nil {
		t.Fatal(err)
	}
	for i := range b[4096:] {
		b[4096+i] ^= 0xff
	}
	if err := os.WriteFile(saved, b, 0o600); err != nil {
		t.Fatal(err)
	}
	other := filepath.Join(dir, "other.db")
	if _, err := Restore(t.Context(), saved, other, t0); err == nil {
		t.Error("a damaged backup was restored")
	}
	if _, err := os.Stat(other); err == nil {
		t.Error("a refused restore left a file")
	}
	if err := db.Check(t.Context()); err != nil {
		t.Error(err)
	}
}

// Letting go of load removes it, keeps the rest and gives the room back.
func TestDB_Trim_GivesRoomBack(t *testing.T) {
	db := fresh(t)
	batch := home.Batch{}
	for i := range 40_000 {
		batch.Readings = append(batch.Readings, home.Reading{Source: "box-1", Quantity: home.Load, Value: float64(i), Clock: home.ByDevice,
			Time: t0.Add(time.Duration(i) * time.Second)})
	}
	batch.Readings = append(batch.Readings, weight(t0, 1, 4.5))
	if _, err := db.Append(t.Context(), batch); err != nil {
		t.Fatal(err)
	}
	pages := func() (n int) {
		t.Helper()
		if err := db.write.QueryRow(`PRAGMA page_count`).Scan(&n); err != nil {
			t.Fatal(err)
		}
		return n
	}
	before := pages()
	want := home.Checkpoint{Source: "box-1", At: t0.Add(30_000 * time.Second), State: []byte(`{"a":1}`)}
	removed, err := db.Trim(t.Context(), want)
	if err != nil || removed != 30_000 {
		t.Fatalf("removed %d, %v", removed, err)
	}
	if after := pages(); after > before/2 {
		t.Errorf("%d pages before, %d after", before, after)
	}
	if got, err := db.Checkpoints(t.Context()); err != nil || len(got) != 1 || !got[0].At.Equal(want.At) || string(got[0].State) != `{"a":1}` {
		t.Errorf("checkpoints %+v, %v", got, err)
	}
	left, err := db.Readings(t.Context(), "box-1", home.Load, time.Time{}, time.Time{})
	if err != nil || len(left) != 10_000 || left[0].Time.Before(want.At) {
		t.Errorf("%d left, %v", len(left), err)
	}
	if weights, err := db.Readings(t.Context(), "box-1", home.Weight, time.Time{}, time.Time{}); err != nil || len(weights) != 1 {
		t.Errorf("weights: %d, %v", len(weights), err)
	}
	if sources, err := db.Sources(t.Context()); err != nil || sources[0].Count != 10_001 {
		t.Errorf("sources %+v, %v", sources, err)
	}
}

// A store can be read while its owner writes, and only read.
func TestPeek_ReadsBesideTheOwner(t *testing.T) {
	db := fresh(t)
	if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{weight(t0, 1, 4.5)}}); err != nil {
		t.Fatal(err)
	}
	peek, err := Peek(t.Context(), db.Path())
	if err != nil {
		t.Fatal(err)
	}
	defer peek.Close()
	for seq := int64(2); seq < 5; seq++ {
		if _, err := db.Append(t.Context(), home.Batch{Readings: []home.Reading{weight(t0, seq, 4.5)}}); err != nil {
			t.Fatal(err)
		}
		got, err := peek.Readings(t.Context(), "box-1", home.Weight, time.Time{}, time.Time{})
		if err != nil || len(got) != int(seq) {
			t.Errorf("%d readings, %v, want %d", len(got), err, seq)
		}
	}
	if _, err := peek.Append(t.Context(), home.Batch{Readings: []home.Reading{weight(t0, 9, 4.5)}}); err == nil {
		t.Error("a peek wrote")
	}
	if _, err := Peek(t.Context(), db.Path()+".none"); home.Hint(err) == "" {
		t.Errorf("a store that is not there: %v", err)
	}
}
