package store

import (
	"bufio"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"pgregory.net/rapid"

	"weighbeam/home"
)

// TestMain lets the test binary be the process that is killed: with the
// variable set it appends for ever and prints each number once it is acknowledged.
func TestMain(m *testing.M) {
	if path := os.Getenv("WEIGHBEAM_APPEND_TO"); path != "" {
		if err := appendForever(path); err != nil {
			fmt.Fprintln(os.Stderr, err)
		}
		os.Exit(1)
	}
	os.Exit(m.Run())
}

func appendForever(path string) error {
	db, err := Open(context.Background(), path)
	if err != nil {
		return err
	}
	end, err := db.JournalEnd(context.Background())
	if err != nil {
		return err
	}
	for seq := end*1000 + 1; ; seq++ {
		if _, err := db.Append(context.Background(), home.Batch{Readings: []home.Reading{weight(t0, seq, 4.5)}}); err != nil {
			return err
		}
		fmt.Println(seq)
	}
}

// What was acknowledged before a kill -9 is there after it, once.
func TestDB_Append_SurvivesKill(t *testing.T) {
	path := filepath.Join(t.TempDir(), "house.db")
	acknowledged := map[int64]bool{}
	for round := range 8 {
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), "WEIGHBEAM_APPEND_TO="+path)
		out, err := cmd.StdoutPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		lines := bufio.NewScanner(out)
		for n := 0; lines.Scan(); n++ {
			var seq int64
			if _, err := fmt.Sscan(lines.Text(), &seq); err != nil {
				t.Fatal(err)
			}
			acknowledged[seq] = true
			if n == 40+round*7 { // each round dies at another place
				if err := cmd.Process.Kill(); err != nil {
					t.Fatal(err)
				}
			}
		}
		if err := cmd.Wait(); err == nil {
			t.Fatal("the process ended by itself")
		}
	}
	db := open(t, path)
	got, err := db.Readings(t.Context(), "box-1", home.Weight, time.Time{}, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range got {
		delete(acknowledged, r.Seq)
	}
	if len(got) < 300 || len(acknowledged) > 0 {
		t.Errorf("stored %d; acknowledged but not stored: %v", len(got), acknowledged)
	}
}

// Any order of arrival, with any repeats, gives the same store.
func TestDB_Append_OrderDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		dir, err := os.MkdirTemp(t.TempDir(), "")
		if err != nil {
			rt.Fatal(err)
		}
		db, err := Open(context.Background(), filepath.Join(dir, "house.db"))
		if err != nil {
			rt.Fatal(err)
		}
		defer db.Close()
		n := rapid.IntRange(1, 12).Draw(rt, "n")
		sent := rapid.SliceOfN(rapid.IntRange(0, n-1), 1, 40).Draw(rt, "sent")
		distinct := map[int]bool{}
		var tally home.Tally
		for _, i := range sent {
			distinct[i] = true
			got, err := db.Append(context.Background(), home.Batch{Readings: []home.Reading{weight(t0.Add(time.Duration(i)*time.Second), int64(i), float64(i+1))}})
			if err != nil {
				rt.Fatal(err)
			}
			tally = tally.Add(got)
		}
		if want := (home.Tally{Stored: len(distinct), Duplicate: len(sent) - len(distinct)}); tally != want {
			rt.Errorf("tally %+v, want %+v", tally, want)
		}
		var last time.Time
		_, err = db.EachReading(context.Background(), func(r home.Reading) error {
			if !r.Time.After(last) {
				rt.Errorf("%v after %v", r.Time, last)
			}
			last = r.Time
			return nil
		})
		if err != nil {
			rt.Fatal(err)
		}
	})
}

func BenchmarkDB_Append(b *testing.B) {
	for _, size := range []int{1, 100, 1000} {
		b.Run(fmt.Sprintf("batch=%d", size), func(b *testing.B) {
			db, err := Open(b.Context(), filepath.Join(b.TempDir(), "house.db"))
			if err != nil {
				b.Fatal(err)
			}
			defer db.Close()
			seq := int64(0)
			for b.Loop() {
				batch := home.Batch{Readings: make([]home.Reading, size)}
				for i := range batch.Readings {
					seq++
					batch.Readings[i] = weight(t0.Add(time.Duration(seq)*time.Millisecond), seq, 4.5)
				}
				if _, err := db.Append(b.Context(), batch); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(seq)/b.Elapsed().Seconds(), "readings/s")
		})
	}
}
