package main

import (
	"fmt"
	"net/http"
	"path/filepath"
	"strings"
	"testing"

	"weighbeam/store/mirror/influxtest"
)

// A tinkerer who has weighed into InfluxDB for years brings that along: looks at what
// would be taken, takes it, and takes it again without harm.
func TestImport_FromInflux(t *testing.T) {
	t.Parallel() // it waits more than it works
	e := influxtest.Start(t)
	var points strings.Builder
	for day := range 400 {
		fmt.Fprintf(&points, "scales,box=hall grams=%di %d\n", 4400+day%7, 1704067200+86400*day)
	}
	points.WriteString("scales,box=hall grams=1i 1704067260\nscales,box=attic grams=4000i 1704067200\n")
	req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, e.URL+"/api/v2/write?precision=s&bucket="+influxtest.Bucket, strings.NewReader(points.String()))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Authorization", "Token "+influxtest.Token)
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if resp.StatusCode != http.StatusNoContent {
		t.Fatalf("the engine took the history with %s", resp.Status)
	}
	settings := write(t, "w.toml", fmt.Sprintf("data = %q\nhousehold = %q\n[influx]\nurl = %q\ntoken_file = %q\nbucket = %q\n", filepath.Join(t.TempDir(), "house.db"),
		write(t, "household.toml", "[[cat]]\nid=\"juniper\"\nname=\"Juniper\"\n[[scale]]\nid=\"hall\"\nkind=\"floor\"\n"), e.URL, write(t, "token", influxtest.Token), influxtest.Bucket))
	args := []string{"import", "--config", settings, "--source", "@box", "--unit", "g",
		"--influx", `from(bucket:"home/autogen") |> range(start: 2024-01-01T00:00:00Z) |> filter(fn: (r) => r._measurement == "scales")`}
	for _, c := range []struct {
		name string
		more []string
		code int
		says []string
	}{
		{"what would come", []string{"--dry-run"}, 0, []string{
			"hall weight: 400 rows from 2024-01-01 to 2025-02-03, 4.4 to 4.406 kg\n", "attic weight: 1 rows", "does not know it", "1 rows could not be used. Nothing is stored"}},
		{"for a script", []string{"--dry-run", "--json"}, 0, []string{`"source":"hall","quantity":"weight","rows":400,"first":"2024-01-01T00:00:00Z"`}},
		{"taken", nil, 0, []string{"402 rows: 401 stored, 0 already there, 1 set aside."}},
		{"again", nil, 0, []string{"402 rows: 0 stored, 401 already there"}},
		// the mistakes of somebody who does it for the first time
		{"no scale", []string{"--source", ""}, 1, []string{"--source"}},
		{"no such column", []string{"--source", "@room"}, 0, []string{"0 stored, 0 already there, 402 set aside"}},
		{"no Flux", []string{"--influx", "select *"}, 1, []string{"try the query in the engine's own tool"}},
		{"files as well", []string{settings}, 1, []string{"Name files, or a query"}},
	} {
		out, code := once(t, "", append(append([]string{}, args...), c.more...)...)
		if code != c.code {
			t.Errorf("%s: code %d, want %d\n%s", c.name, code, c.code, out)
		}
		for _, words := range c.says {
			if !strings.Contains(out, words) {
				t.Errorf("%s: does not say %q\n%s", c.name, words, out)
			}
		}
	}
	e.Kill()
	if out, code := once(t, "", args...); code != 1 || !strings.Contains(out, "Check the address") {
		t.Errorf("with the engine away: %d\n%s", code, out)
	}
}
