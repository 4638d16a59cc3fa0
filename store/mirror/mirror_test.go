package mirror

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	influxdb2 "github.com/influxdata/influxdb-client-go/v2"

	"weighbeam/home"
	"weighbeam/store"
)

var noon = time.Date(2025, 3, 3, 12, 0, 0, 0, time.UTC)

// house is a store with readings, counts and visits.
func house(t *testing.T) *store.DB {
	t.Helper()
	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "house.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	var batch home.Batch
	for i := range 100 {
		at := noon.Add(time.Duration(i) * time.Hour)
		batch.Readings = append(batch.Readings,
			home.Reading{Source: "clinic", Quantity: home.Weight, Time: at, Value: 4.5, SD: 0.01, Cat: "juniper", Clock: home.ByHand},
			home.Reading{Source: "box-1", Quantity: home.Load, Time: at, Value: 9.4, Clock: home.ByDevice})
	}
	if _, err := db.Append(t.Context(), batch); err != nil {
		t.Fatal(err)
	}
	if err := db.SaveVisits(t.Context(), home.Cursor{Name: "weigh"}, []home.Visit{visit("juniper"), visit("")}, nil); err != nil {
		t.Fatal(err)
	}
	return db
}

func visit(cat string) home.Visit {
	v := home.Visit{Source: "box-1", Start: noon, End: noon.Add(time.Minute), Event: home.CatVisit, MassKg: 4.4, SDKg: 0.02, Cat: cat, Confidence: 0.97, Whose: home.Named,
		Shares: []home.Share{{Cat: cat, P: 0.97}}}
	if cat == "" { // it may be of two cats that are not looked for here
		v.Start, v.Confidence, v.Whose = noon.Add(time.Hour), 0, home.Unclear
		v.Shares = []home.Share{{Cat: "ash", P: 0.5}, {Cat: "birch", P: 0.5}}
	}
	return v
}

func mirrorTo(t *testing.T, db *store.DB, c Config) *Mirror {
	t.Helper()
	m, err := New(db, c)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(m.Close)
	return m
}

func drain(t *testing.T, m *Mirror) {
	t.Helper()
	for more := true; more; {
		var err error
		if more, err = m.Round(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
}

// While the engine refuses or is away, the position stays; when it takes
// everything, the position moves, and nothing is written again.
func TestMirror_Round_MovesOnlyAfterTheEngineTook(t *testing.T) {
	var refuse atomic.Bool
	var requests atomic.Int64
	refuse.Store(true)
	engine := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		requests.Add(1)
		if refuse.Load() {
			w.WriteHeader(http.StatusInternalServerError)
			return
		}
		w.WriteHeader(http.StatusNoContent)
	}))
	t.Cleanup(engine.Close)
	db := house(t)
	m := mirrorTo(t, db, Config{URL: engine.URL, Token: "secret-token", Bucket: "home"})
	_, err := m.Round(t.Context())
	if err == nil || home.Hint(err) == "" || strings.Contains(err.Error(), "secret-token") {
		t.Fatalf("refused: %v", err)
	}
	if c, err := db.Cursor(t.Context(), CursorName); err != nil || c.Journal != 0 {
		t.Errorf("the position moved to %d, %v", c.Journal, err)
	}
	tried := requests.Load()
	if _, err := m.Round(t.Context()); err == nil || requests.Load() != tried {
		t.Errorf("tried again at once: %v", err)
	}
	refuse.Store(false)
	m.rest = time.Time{} // the pause is over
	drain(t, m)
	end, err := db.JournalEnd(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if c, err := db.Cursor(t.Context(), CursorName); err != nil || c.Journal != end {
		t.Errorf("the position is %d of %d, %v", c.Journal, end, err)
	}
	took := requests.Load()
	drain(t, m)
	if requests.Load() != took {
		t.Error("written again without news")
	}
}

func TestNew_Refuses(t *testing.T) {
	for _, c := range []Config{{}, {URL: "http://h"}, {URL: "http://h", Bucket: "b", Site: "Not A Slug"}} {
		if _, err := New(nil, c); err == nil {
			t.Errorf("%+v was accepted", c)
		}
	}
}

// influxd starts a real InfluxDB on loopback; stop kills it. The data stay in dir.
func influxd(t *testing.T, dir string, port int) (stop func()) {
	t.Helper()
	path, err := filepath.Abs("../../bin/influxd")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := os.Stat(path); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("influxd is missing: run make needs")
		}
		t.Skip("SKIPPED: bin/influxd is missing (make needs builds it); nothing was tested against a real engine")
	}
	conf := filepath.Join(dir, "influxd.conf")
	text := fmt.Sprintf(`reporting-disabled = true
bind-address = "127.0.0.1:0"
[meta]
dir = %q
[data]
dir = %q
wal-dir = %q
[http]
bind-address = "127.0.0.1:%d"
flux-enabled = true
auth-enabled = true
log-enabled = false
[monitor]
store-enabled = false
`, dir+"/meta", dir+"/data", dir+"/wal", port)
	if err := os.WriteFile(conf, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(path, "-config", conf)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	stopped := false
	stop = func() {
		if !stopped {
			stopped = true
			_ = cmd.Process.Kill() // it is ours
			_ = cmd.Wait()
		}
	}
	t.Cleanup(stop)
	for deadline := time.Now().Add(30 * time.Second); time.Now().Before(deadline); <-time.After(50 * time.Millisecond) {
		if resp, err := http.Get(fmt.Sprintf("http://127.0.0.1:%d/health", port)); err == nil {
			resp.Body.Close()
			if resp.StatusCode == http.StatusOK {
				return stop
			}
		}
	}
	t.Fatal("influxd does not answer")
	return nil
}

// say sends a statement, as admin where a password is given.
func say(t *testing.T, base, q, password string) {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, base+"/query", strings.NewReader(url.Values{"q": {q}}.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	if password != "" {
		req.SetBasicAuth("admin", password)
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		t.Fatalf("%s: %s", q, resp.Status)
	}
}

// counted is how many values a Flux query finds, and the last of them.
func counted(t *testing.T, base, flux string) (n int, last any) {
	t.Helper()
	client := influxdb2.NewClient(base, "admin:secret")
	defer client.Close()
	result, err := client.QueryAPI("").Query(context.Background(), flux)
	if err != nil {
		t.Fatal(err)
	}
	for result.Next() {
		n++
		last = result.Record().Value()
	}
	if err := result.Err(); err != nil {
		t.Fatal(err)
	}
	return n, last
}

// Against a real InfluxDB: everything but load arrives; killed and started again,
// and with everything written once more, there is nothing twice; a visit that
// goes to another cat leaves no weight behind that counts.
func TestMirror_RealInfluxDB(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	port := l.Addr().(*net.TCPAddr).Port
	l.Close()
	dir, base := t.TempDir(), fmt.Sprintf("http://127.0.0.1:%d", port)
	stop := influxd(t, dir, port)
	say(t, base, "CREATE USER admin WITH PASSWORD 'secret' WITH ALL PRIVILEGES", "")
	say(t, base, "CREATE DATABASE home", "secret")
	db := house(t)
	config := Config{URL: base, Token: "admin:secret", Bucket: "home/autogen", Site: "mill-lane"}
	drain(t, mirrorTo(t, db, config))

	all := `from(bucket:"home/autogen") |> range(start: 2025-01-01T00:00:00Z, stop: 2026-01-01T00:00:00Z) |> filter(fn: (r) => r.site == "mill-lane" and `
	readings := all + `r._measurement == "reading" and r._field == "value")`
	weighings := all + `r._measurement == "weighing" and r.cat == "juniper" and r._field == "confidence")`
	if n, last := counted(t, base, readings); n != 100 || last != 4.5 {
		t.Errorf("%d readings, the last %v, want 100 of 4.5", n, last)
	}
	if n, last := counted(t, base, weighings); n != 1 || last != 0.97 {
		t.Errorf("%d weighings, the last of confidence %v", n, last)
	}

	stop()
	away := mirrorTo(t, db, config)
	if err := db.SaveVisits(t.Context(), home.Cursor{Name: "weigh"}, []home.Visit{visit("moss")}, nil); err != nil {
		t.Fatal(err)
	}
	if _, err := away.Round(t.Context()); err == nil {
		t.Error("nobody is there, and the round went well")
	}
	influxd(t, dir, port)
	if err := db.Decide(t.Context(), home.Decision{Cursor: home.Cursor{Name: CursorName}}); err != nil { // from the beginning
		t.Fatal(err)
	}
	drain(t, mirrorTo(t, db, config))
	if n, _ := counted(t, base, readings); n != 100 {
		t.Errorf("%d readings after writing them twice", n)
	}
	if n, last := counted(t, base, weighings); n != 1 || last != 0.0 {
		t.Errorf("%d weighings of the former cat, the last of confidence %v, want 0", n, last)
	}
}
