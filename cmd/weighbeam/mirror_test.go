package main

import (
	"fmt"
	"net"
	"strings"
	"testing"

	"weighbeam/store/mirror/influxtest"
)

// With InfluxDB killed and its port dead, and then with one that takes connections
// and never answers, readings are acknowledged and stored as ever; only /healthz and
// /metrics tell. When it is back, everything is there, once. A rebuild beside the
// running program changes nothing.
func TestServe_InfluxAway_CostsNothing(t *testing.T) {
	e := influxtest.Start(t)
	broker := port(t)
	settings := write(t, "weighbeam.toml", fmt.Sprintf(`data = %q
listen = "127.0.0.1:%d"
household = %q
[broker]
listen = "127.0.0.1:%d"
[influx]
url = %q
token_file = %q
bucket = %q
site = "mill-lane"
`, t.TempDir()+"/house.db", port(t), write(t, "household.toml", "[[cat]]\nid=\"juniper\"\nname=\"Juniper\"\n[[scale]]\nid=\"floor\"\nkind=\"floor\"\ntopic=\"home/floor\"\nsends=\"weight\"\n"),
		broker, e.URL, write(t, "token", influxtest.Token), influxtest.Bucket))
	p := launch(t, "serve", "--config", settings)
	url := p.pages()
	sent := 0
	send := func(n int) {
		t.Helper()
		for range n {
			sent++
			publish(t, fmt.Sprintf("127.0.0.1:%d", broker), "floor", "", "home/floor", fmt.Sprintf(`[{"n":"weight","u":"kg","v":4.5,"t":%d}]`, 1741003200+60*sent))
		}
	}
	there := func() (bool, string) {
		values, err := e.Values(`from(bucket:"home/autogen") |> range(start: 2025-01-01T00:00:00Z) |> filter(fn: (r) => r._measurement == "reading" and r._field == "value")`)
		return err == nil && len(values) == sent, fmt.Sprint(len(values), " of ", sent, ", ", err)
	}
	stored := func() (bool, string) {
		_, body := get(url + "/metrics")
		return strings.Contains(body, fmt.Sprintf(`weighbeam_readings_stored_total{way="broker"} %d`, sent)), body
	}
	send(3)
	eventually(t, "the mirror has the first ones", there)
	e.Kill()
	send(3)
	eventually(t, "stored without the engine", stored)
	eventually(t, "it is told that the engine is away", func() (bool, string) {
		status, body := get(url + "/healthz")
		return status == 503 && strings.Contains(body, `"mirror"`), body
	})
	hangs, err := net.Listen("tcp", strings.TrimPrefix(e.URL, "http://"))
	if err != nil {
		t.Fatal(err)
	}
	send(3)
	eventually(t, "stored with an engine that hangs", stored)
	hangs.Close()
	e.Again(t)
	if out, code := once(t, "", "mirror", "--config", settings, "--rebuild"); code != 0 || !strings.Contains(out, "written again") {
		t.Fatalf("rebuild: %d\n%s", code, out)
	}
	eventually(t, "the mirror has all", there)
	eventually(t, "the program itself has caught up", func() (bool, string) {
		out, _ := once(t, "", "mirror", "--config", settings)
		return strings.Contains(out, "The engine answers. 0 journal entries"), out
	})
	eventually(t, "all is well again", func() (bool, string) {
		status, body := get(url + "/healthz")
		return status == 200, body
	})
}
