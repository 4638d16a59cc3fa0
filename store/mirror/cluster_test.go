package mirror

import (
	"bufio"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"testing"
	"time"
)

// victoria starts Debian's VictoriaMetrics, which stands here for an engine that can
// be spread over machines, and returns its address. It knows no deletion and no
// overwriting: with its switch for it, what is sent again is folded.
func victoria(t *testing.T) string {
	t.Helper()
	path, err := exec.LookPath("victoria-metrics")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("victoria-metrics is missing: run make needs")
		}
		t.Skip("SKIPPED: victoria-metrics is missing (make needs installs it); nothing was written to an engine of that kind")
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	addr := l.Addr().String()
	l.Close()
	cmd := exec.Command(path, "-storageDataPath="+t.TempDir(), "-httpListenAddr="+addr, "-retentionPeriod=100y", "-dedup.minScrapeInterval=1ms")
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill() // it is ours
		_ = cmd.Wait()
	})
	for deadline := time.Now().Add(60 * time.Second); time.Now().Before(deadline); <-time.After(50 * time.Millisecond) {
		if resp, err := http.Get("http://" + addr + "/health"); err == nil {
			resp.Body.Close()
			return "http://" + addr
		}
	}
	t.Fatal("victoria-metrics does not answer")
	return ""
}

// exported is how many values each series of a metric has, by its source or cat.
func exported(t *testing.T, at, metric, label string) map[string]int {
	t.Helper()
	for _, path := range []string{"/internal/force_flush", "/internal/resetRollupResultCache"} {
		resp, err := http.Get(at + path)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
	}
	resp, err := http.Get(at + "/api/v1/export?reduce_mem_usage=0&match[]=" + url.QueryEscape(metric))
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	n := map[string]int{}
	for s := bufio.NewScanner(resp.Body); s.Scan(); {
		var line struct {
			Metric map[string]string `json:"metric"`
			Values []float64         `json:"values"`
		}
		if err := json.Unmarshal(s.Bytes(), &line); err != nil {
			t.Fatalf("%v: %s", err, s.Text())
		}
		if line.Metric["site"] != "mill-lane" {
			t.Errorf("a series without its house: %v", line.Metric)
		}
		n[line.Metric[label]] += len(line.Values)
	}
	return n
}

// An engine of many machines takes the same points by the same write interface, and
// what is written again counts once.
func TestMirror_Round_IntoAnEngineOfMany(t *testing.T) {
	at := victoria(t)
	db := house(t)
	m := mirrorTo(t, db, Config{URL: at, Token: "unused", Bucket: "home", Site: "mill-lane", Trend: slope})
	for range 2 { // the second time everything again
		if err := m.Rebuild(t.Context(), func(int64) {}); err != nil {
			t.Fatal(err)
		}
		drain(t, m)
		for _, tt := range []struct {
			metric, label string
			want          map[string]int
		}{
			{"reading_value", "source", map[string]int{"clinic": 100}}, // no raw load
			{"weighing_kg", "cat", map[string]int{"juniper": 1, "ash": 1, "birch": 1}},
			{"trend_kg", "cat", map[string]int{"juniper": 30}},
			{"finding_open", "subject", map[string]int{"juniper": 2}},
		} {
			if got := exported(t, at, tt.metric, tt.label); fmt.Sprint(got) != fmt.Sprint(tt.want) {
				t.Errorf("%s: %v, want %v", tt.metric, got, tt.want)
			}
		}
	}
}
