package app

import (
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/shirou/gopsutil/v4/process"

	"weighbeam/home"
	"weighbeam/ingest"
)

// How much many houses take, each with a store, a broker and pages of its own, in
// one process: a table for docs/adr/0004. Prints it; asserts only that everything is
// taken and that nothing is left when they stop.
func TestApp_ManyHouses_Table(t *testing.T) {
	if os.Getenv("WEIGHBEAM_LONG") == "" {
		t.Skip("SKIPPED: takes minutes; WEIGHBEAM_LONG=1 runs it")
	}
	self, err := process.NewProcess(int32(os.Getpid()))
	if err != nil {
		t.Fatal(err)
	}
	var table strings.Builder
	fmt.Fprintf(&table, "%8s %12s %12s %12s %14s %14s\n", "houses", "resident MB", "goroutines", "open files", "idle % of core", "settled after s")
	for _, n := range []int{1, 10, 100, 1000} {
		before := runtime.NumGoroutine()
		houses := startMany(t, n)
		took := deliverAll(t, houses)
		runtime.GC()
		begin, at := cpu(t, self), time.Now()
		<-time.After(10 * time.Second) // what is measured is ten idle seconds
		idle := (cpu(t, self) - begin) / time.Since(at).Seconds()
		memory, err := self.MemoryInfo()
		if err != nil {
			t.Fatal(err)
		}
		files, err := self.NumFDs()
		if err != nil {
			t.Fatal(err)
		}
		fmt.Fprintf(&table, "%8d %12.0f %12d %12d %14.1f %14.1f\n", n, float64(memory.RSS)/1e6, runtime.NumGoroutine()-before, files, 100*idle, took.Seconds())
		for _, h := range houses {
			h.Stop()
		}
		for deadline := time.Now().Add(30 * time.Second); runtime.NumGoroutine() > before+5; <-time.After(100 * time.Millisecond) {
			if time.Now().After(deadline) {
				t.Fatalf("%d goroutines are left of %d houses, %d before", runtime.NumGoroutine(), n, before)
			}
		}
	}
	t.Log("\n" + table.String())
}

func cpu(t *testing.T, p *process.Process) float64 {
	t.Helper()
	times, err := p.Times()
	if err != nil {
		t.Fatal(err)
	}
	return times.User + times.System
}

func startMany(t *testing.T, n int) []*App {
	t.Helper()
	dir := t.TempDir()
	var houses []*App
	for i := range n {
		cfg, err := ParseConfig(fmt.Appendf(nil, "data = %q\nlisten = \"127.0.0.1:0\"\n[broker]\nlisten = \"127.0.0.1:0\"\n", filepath.Join(dir, fmt.Sprint(i), "house.db")))
		if err != nil {
			t.Fatal(err)
		}
		a, err := Start(t.Context(), cfg, Options{Log: slog.New(slog.DiscardHandler)})
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(a.Stop)
		h := home.Household{Cats: []home.Cat{{ID: "juniper", Name: "Juniper"}}, Scales: []home.Scale{{ID: "floor", Kind: home.Floor, Topic: "home/floor", Sends: home.Weight}}}
		if err := a.SetHousehold(t.Context(), h); err != nil {
			t.Fatal(err)
		}
		houses = append(houses, a)
	}
	return houses
}

// deliverAll gives each house two weeks of weighings at once and returns how long
// it takes until all are settled and every stage has dealt with them.
func deliverAll(t *testing.T, houses []*App) time.Duration {
	t.Helper()
	begin := time.Now()
	for i := range 60 {
		for _, a := range houses {
			at := begin.Add(-14*24*time.Hour + time.Duration(i)*5*time.Hour)
			d := ingest.Delivery{Way: "mqtt", Topic: "home/floor", Payload: fmt.Appendf(nil, `[{"n":"weight","u":"kg","v":4.5,"t":%d}]`, at.Unix()), Arrived: begin}
			if err := a.Deliver(t.Context(), d); err != nil {
				t.Fatal(err)
			}
		}
	}
	for deadline := begin.Add(5 * time.Minute); ; <-time.After(100 * time.Millisecond) {
		behind := int64(0)
		for _, a := range houses {
			sources, err := a.Store().Sources(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			if len(sources) == 0 || sources[0].Count < 60 {
				behind++
			}
			for _, s := range a.Stages(t.Context()) {
				behind += s.Behind
			}
		}
		if behind == 0 {
			return time.Since(begin)
		}
		if time.Now().After(deadline) {
			t.Fatalf("%d entries are still to be dealt with", behind)
		}
	}
}
