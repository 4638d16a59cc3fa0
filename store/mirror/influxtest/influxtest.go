// Package influxtest runs a real InfluxDB for tests. It listens on loopback, asks
// for a password, and is killed when the test ends.
package influxtest

import (
	"context"
	"fmt"
	"net"
	"net/http"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	influxdb2 "github.com/influxdata/influxdb-client-go/v2"
)

// What opens the engine: an InfluxDB 1.8 takes both in place of those of version 2.
const (
	Token  = "admin:secret"
	Bucket = "home/autogen"
)

// Engine is a running InfluxDB.
type Engine struct {
	URL  string
	port int
	dir  string
	cmd  *exec.Cmd
}

// Start starts an engine with an empty bucket.
func Start(t testing.TB) *Engine {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	port := l.Addr().(*net.TCPAddr).Port
	l.Close()
	e := &Engine{URL: fmt.Sprintf("http://127.0.0.1:%d", port), port: port, dir: t.TempDir()}
	t.Cleanup(e.Kill)
	e.Again(t)
	e.say(t, "CREATE USER admin WITH PASSWORD 'secret' WITH ALL PRIVILEGES", false)
	e.say(t, "CREATE DATABASE home", true)
	e.open(t)
	return e
}

// program is influxd as make needs built it.
func program(t testing.TB) string {
	t.Helper()
	_, here, _, _ := runtime.Caller(0)
	path := filepath.Join(filepath.Dir(here), "..", "..", "..", "bin", "influxd")
	if _, err := os.Stat(path); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("influxd is missing: run make needs")
		}
		t.Skip("SKIPPED: bin/influxd is missing (make needs builds it); nothing was tested against a real engine")
	}
	return path
}

const settings = `reporting-disabled = true
bind-address = "127.0.0.1:0"
[meta]
dir = "%[1]s/meta"
[data]
dir = "%[1]s/data"
wal-dir = "%[1]s/wal"
[http]
bind-address = "127.0.0.1:%[2]d"
flux-enabled = true
auth-enabled = true
log-enabled = false
[monitor]
store-enabled = false
`

// Again starts the engine on its port with its data, after Kill.
func (e *Engine) Again(t testing.TB) {
	t.Helper()
	conf := filepath.Join(e.dir, "influxd.conf")
	if err := os.WriteFile(conf, fmt.Appendf(nil, settings, e.dir, e.port), 0o600); err != nil {
		t.Fatal(err)
	}
	e.cmd = exec.Command(program(t), "-config", conf)
	if err := e.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	for deadline := time.Now().Add(60 * time.Second); time.Now().Before(deadline); <-time.After(50 * time.Millisecond) {
		if resp, err := http.Get(e.URL + "/health"); err == nil {
			resp.Body.Close()
			if resp.StatusCode == http.StatusOK {
				return
			}
		}
	}
	t.Fatal("influxd does not answer")
}

// Kill ends the engine as a loss of power would. Its data stay.
func (e *Engine) Kill() {
	if e.cmd != nil && e.cmd.Process != nil {
		_ = e.cmd.Process.Kill() // it is ours
		_ = e.cmd.Wait()
	}
	e.cmd = nil
}

// say sends a statement until it is taken: a user is known some moments after it was
// made.
func (e *Engine) say(t testing.TB, q string, asAdmin bool) {
	t.Helper()
	answer := ""
	for deadline := time.Now().Add(30 * time.Second); time.Now().Before(deadline); <-time.After(50 * time.Millisecond) {
		if answer = e.ask(t, q, asAdmin); answer == "200 OK" {
			return
		}
	}
	t.Fatalf("%s: %s", q, answer)
}

// open waits until the bucket takes points: it is known some moments after it was made.
func (e *Engine) open(t testing.TB) {
	t.Helper()
	status := ""
	for deadline := time.Now().Add(30 * time.Second); time.Now().Before(deadline); <-time.After(20 * time.Millisecond) {
		req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, e.URL+"/api/v2/write?bucket="+Bucket, strings.NewReader("# nothing\n"))
		if err != nil {
			t.Fatal(err)
		}
		req.Header.Set("Authorization", "Token "+Token)
		resp, err := http.DefaultClient.Do(req)
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if status = resp.Status; resp.StatusCode == http.StatusNoContent {
			return
		}
	}
	t.Fatalf("the bucket takes no points: %s", status)
}

func (e *Engine) ask(t testing.TB, q string, asAdmin bool) string {
	t.Helper()
	req, err := http.NewRequestWithContext(t.Context(), http.MethodPost, e.URL+"/query", strings.NewReader(url.Values{"q": {q}}.Encode()))
	if err != nil {
		t.Fatal(err)
	}
	req.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	if asAdmin {
		req.SetBasicAuth("admin", "secret")
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	return resp.Status
}

// Values runs a Flux query and returns the values of all its records in order.
func (e *Engine) Values(flux string) ([]any, error) {
	client := influxdb2.NewClient(e.URL, Token)
	defer client.Close()
	result, err := client.QueryAPI("").Query(context.Background(), flux)
	if err != nil {
		return nil, err
	}
	var values []any
	for result.Next() {
		values = append(values, result.Record().Value())
	}
	return values, result.Err()
}
