package store

import (
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
)

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
		{"another program's that numbers nothing", func(t *testing.T, path string) { raw(t, path, `CREATE TABLE x (y)`) }, "another program"},
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

// Of a store that is damaged in a part only a reader of that part learns: it is told
// what to do.
func TestDB_Readings_DamagedPart(t *testing.T) {
	path := filepath.Join(t.TempDir(), "house.db")
	db, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	start := time.Date(2026, 3, 3, 0, 0, 0, 0, time.UTC)
	var b home.Batch
	for i := range 20_000 {
		b.Readings = append(b.Readings, home.Reading{Source: "box-1", Quantity: home.Load, Time: start.Add(time.Duration(i) * time.Second), Value: 5, Clock: home.ByDevice})
	}
	if _, err := db.Append(t.Context(), b); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	file, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	copy(file[len(file)/2/4096*4096:], strings.Repeat("\xff", 400))
	if err := os.WriteFile(path, file, 0o600); err != nil {
		t.Fatal(err)
	}
	damaged, err := Open(t.Context(), path) // what is not read is not missed
	if err != nil {
		t.Fatal(err)
	}
	defer damaged.Close()
	_, err = damaged.Readings(t.Context(), "box-1", home.Load, time.Time{}, time.Time{})
	if err == nil || !strings.Contains(home.Hint(err), "weighbeam restore") {
		t.Errorf("error %v, hint %q", err, home.Hint(err))
	}
	if err := damaged.Inspect(t.Context()); err == nil || damaged.Damage() == nil {
		t.Fatal("read through, the damage was not found")
	}
	if _, err := damaged.Append(t.Context(), home.Batch{Readings: b.Readings[:1]}); err == nil || !strings.Contains(home.Hint(err), "weighbeam restore") {
		t.Errorf("written to a damaged file: error %v, hint %q", err, home.Hint(err))
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
