package main

import (
	"context"
	"database/sql"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"weighbeam/home"
	"weighbeam/ingest/mqtt/mqtttest"
)

// terminate asks the program to end, as an init system does, and returns its exit code.
func (p *program) terminate() int {
	p.t.Helper()
	if err := p.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		p.t.Fatal(err)
	}
	select {
	case <-p.done:
	case <-time.After(time.Minute):
		p.t.Fatalf("still runs a minute after being asked to end:\n%s", p.output())
	}
	return p.code
}

// long reports whether the long run is asked for.
func long() bool { return os.Getenv("WEIGHBEAM_LONG") != "" }

// brokers are the two ways in over MQTT: the settings of each, and where devices publish.
func brokers(t *testing.T) map[string]func() (settings, addr string) {
	return map[string]func() (string, string){
		"inside": func() (string, string) {
			addr := fmt.Sprintf("127.0.0.1:%d", port(t))
			return fmt.Sprintf("[broker]\nlisten = %q\n", addr), addr
		},
		"outside": func() (string, string) {
			addr := mosquitto(t)
			return fmt.Sprintf("[mqtt]\nserver = \"mqtt://%s\"\nclient = \"weighbeam-test\"\n", addr), addr
		},
	}
}

// serveWith starts the program with a store of its own, and waits until it is well.
func serveWith(t testing.TB, settings string) (p *program, url, data string) {
	t.Helper()
	data = filepath.Join(t.TempDir(), "house.db")
	p = launch(t, "serve", "--config", write(t, "w.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\n%s", data, port(t), settings)))
	url = p.pages()
	eventually(t, "the program is well", func() (bool, string) {
		status, body := get(url + "/healthz")
		return status == http.StatusOK, body
	})
	return p, url, data
}

// An end in the middle of a stream: the program writes what it has in hand, exits
// with 0, and what was acknowledged is there once.
func TestServe_TerminatedUnderLoad(t *testing.T) {
	for name, broker := range brokers(t) {
		t.Run(name, func(t *testing.T) {
			settings, addr := broker()
			p, _, data := serveWith(t, settings)
			all := devices(t, addr, 8, 10*time.Millisecond)
			moreAcknowledged(t, all, 200)
			if code := p.terminate(); code != 0 {
				t.Errorf("ended with %d:\n%s", code, p.output())
			}
			if name == "outside" { // the rest waits there for the next start
				settled := acknowledged(all)
				for _, d := range all {
					d.end()
				}
				p = launch(t, "serve", "--config", write(t, "w.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\n%s", data, port(t), settings)))
				url := p.pages()
				eventually(t, "the rest comes", func() (bool, string) {
					look(t, url)
					n := stored(t, data)
					return n >= settled, fmt.Sprintf("%d of %d", n, settled)
				})
				if code := p.terminate(); code != 0 {
					t.Errorf("ended with %d:\n%s", code, p.output())
				}
			}
			holdAgainst(t, all, data)
		})
	}
}

// stored is how many readings a running program has.
func stored(t *testing.T, data string) (n int64) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+data+"?_pragma=query_only(1)&_pragma=busy_timeout(5000)")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.QueryRowContext(t.Context(), `SELECT count(*) FROM reading`).Scan(&n); err != nil {
		t.Fatal(err)
	}
	return n
}

// A store that is held up, as by a slow disk or another program that has the file:
// nothing is acknowledged meanwhile, nothing is lost, and it goes on afterwards.
func TestServe_StoreHeldUp(t *testing.T) {
	t.Parallel() // it waits more than it works
	settings, addr := brokers(t)["inside"]()
	p, url, data := serveWith(t, settings)
	all := devices(t, addr, 4, 0)
	moreAcknowledged(t, all, 100)
	// It does not connect again: paho takes for acknowledged what it sends once more.
	lone := paho.NewClient(paho.NewClientOptions().AddBroker("tcp://" + addr).SetClientID("box-9").SetCleanSession(false).SetAutoReconnect(false))
	if token := lone.Connect(); !token.WaitTimeout(30*time.Second) || token.Error() != nil {
		t.Fatal(token.Error())
	}
	t.Cleanup(func() { lone.Disconnect(0) })
	other, err := sql.Open("sqlite", "file:"+data+"?_txlock=immediate&_pragma=busy_timeout(30000)")
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	hold, err := other.BeginTx(t.Context(), nil)
	if err != nil {
		t.Fatal(err)
	}
	sent := lone.Publish("home/box-9", 1, false, `[{"n":"weight","u":"kg","v":4.5}]`)
	failures := func(more float64) (now float64) {
		eventually(t, "the wait is told", func() (bool, string) {
			values, text := look(t, url)
			now = values["weighbeam_ingest_append_failures_total"]
			return now >= more, text
		})
		return now
	}
	failures(failures(1) + 1)
	select {
	case <-sent.Done():
		if sent.Error() == nil {
			t.Error("a message was acknowledged while nothing could be stored")
		}
	default:
	}
	if err := hold.Rollback(); err != nil {
		t.Fatal(err)
	}
	moreAcknowledged(t, all, 100)
	if code := p.terminate(); code != 0 {
		t.Errorf("ended with %d:\n%s", code, p.output())
	}
	holdAgainst(t, all, data)
}

// Whatever a house full of strange devices sends, each message is accounted for,
// the good one after them all is stored, and the pages answer.
func TestServe_WhateverArrives(t *testing.T) {
	for name, broker := range brokers(t) {
		t.Run(name, func(t *testing.T) {
			settings, addr := broker()
			if name == "outside" {
				settings = strings.Replace(settings, "[mqtt]", "[mqtt]\ntopics = [\"#\"]", 1)
			}
			household := write(t, "household.toml", "[[scale]]\nid = \"box-1\"\nkind = \"floor\"\ntopic = \"home/box\"\npayload = \"number\"\nsends = \"weight\"\n")
			p, url, data := serveWith(t, fmt.Sprintf("household = %q\n", household)+settings)
			unreadable, topics := 1500, 1000
			if long() {
				unreadable, topics = 10*1000, 10_000 // ten times what a broker outside may have in flight
			}
			n := strange(t, addr, unreadable, topics)
			way := map[string]string{"inside": "broker", "outside": "mqtt"}[name]
			eventually(t, "all is accounted for", func() (bool, string) {
				values, text := look(t, url) // a broker outside may send again what it is not sure of
				return values[fmt.Sprintf("weighbeam_readings_received_total{way=%q}", way)] >= float64(n), text
			})
			metric(t, url, fmt.Sprintf("weighbeam_readings_stored_total{way=%q} 1", way))
			for _, page := range []string{"/", "/set-aside", "/listen", "/healthz"} {
				if status, body := get(url + page); status != http.StatusOK {
					t.Errorf("%s: status %d\n%s", page, status, body)
				}
			}
			t.Logf("%d messages, %.0f MiB of memory", n, p.memory())
			if code := p.terminate(); code != 0 {
				t.Errorf("ended with %d:\n%s", code, p.output())
			}
			if got := storedOf(t, data, "box-1", home.Weight); len(got) != 1 || got[0].Value != 4.5 {
				t.Errorf("stored %+v", got)
			}
		})
	}
}

// strange sends what no scale should, waits until all of it is acknowledged, then
// sends one good payload, and returns how many messages that were.
func strange(t *testing.T, addr string, unreadable, topics int) int {
	t.Helper()
	const clients = 16
	client := func(i int) paho.Client {
		c := paho.NewClient(paho.NewClientOptions().AddBroker("tcp://" + addr).SetClientID(fmt.Sprint("strange-", i)))
		if token := c.Connect(); !token.WaitTimeout(30*time.Second) || token.Error() != nil {
			t.Error(token.Error())
		}
		return c
	}
	acknowledged := func(tokens ...paho.Token) {
		for _, token := range tokens {
			if !token.WaitTimeout(2*time.Minute) || token.Error() != nil {
				t.Errorf("not acknowledged: %v", token.Error())
				return
			}
		}
	}
	each(clients, func(mine int) {
		c := client(mine)
		defer c.Disconnect(250)
		var tokens []paho.Token
		for i := mine; i < unreadable; i += clients {
			tokens = append(tokens, c.Publish("home/box", 1, false, fmt.Sprint("unreadable ", i%100)))
		}
		for i := mine; i < topics; i += clients {
			tokens = append(tokens, c.Publish(fmt.Sprintf("strange/%d", i), 1, false, "1"))
		}
		acknowledged(tokens...)
	})
	c := client(clients)
	defer c.Disconnect(250)
	acknowledged(
		c.Publish("home/box", 1, false, strings.Repeat("9", 1<<20)),
		c.Publish("home/box", 1, false, strings.Repeat("9", 1<<20+1)),
		c.Publish(strings.Repeat("t", 65_535), 1, false, "the longest topic that MQTT has"),
		c.Publish("home/box", 1, false, "4.5 kg"))
	return unreadable + topics + 4
}

// The network between the program and its broker is cut again and again in the
// middle of a stream, and slow in between: that costs time and nothing else.
func TestServe_NetworkCutAndSlowed(t *testing.T) {
	addr := mosquitto(t)
	pipe := mqtttest.NewPipe(t, addr)
	p, url, data := serveWith(t, fmt.Sprintf("[mqtt]\nserver = \"mqtt://%s\"\nclient = \"weighbeam-test\"\n", pipe.Addr()))
	all := devices(t, addr, 4, 10*time.Millisecond)
	settled := func() float64 {
		values, _ := look(t, url)
		return values[`weighbeam_readings_received_total{way="mqtt"}`]
	}
	cuts := 3
	if long() {
		cuts = 20
	}
	for range cuts {
		before := settled()
		pipe.Cut()
		moreAcknowledged(t, all, 50)
		eventually(t, "it goes on after a cut", func() (bool, string) { return settled() > before, p.output() })
	}
	pipe.Slow(10 * time.Millisecond)
	before := settled()
	eventually(t, "it goes on slowly", func() (bool, string) { return settled() > before+10, p.output() })
	pipe.Slow(0)
	if long() { // to notice a dead connection takes a minute
		halfOpen(t, pipe, url)
	}
	for _, d := range all {
		d.end()
	}
	eventually(t, "all that the broker acknowledged is stored", func() (bool, string) {
		look(t, url)
		n := stored(t, data)
		return n >= acknowledged(all), fmt.Sprintf("%d of %d", n, acknowledged(all))
	})
	if code := p.terminate(); code != 0 {
		t.Errorf("ended with %d:\n%s", code, p.output())
	}
	holdAgainst(t, all, data)
}

// halfOpen leaves the connection open and lets nothing through until that is noticed.
func halfOpen(t *testing.T, pipe *mqtttest.Pipe, url string) {
	t.Helper()
	pipe.Freeze(true)
	defer pipe.Freeze(false)
	deadline := time.Now().Add(3 * time.Minute)
	for tick := time.NewTicker(time.Second); time.Now().Before(deadline); <-tick.C {
		if status, body := get(url + "/healthz"); status == http.StatusServiceUnavailable && strings.Contains(body, "no connection to the broker") {
			return
		}
	}
	t.Error("a dead connection was never noticed")
}

// A flood of ten times what can be stored keeps the memory flat: what does not fit
// waits with its sender. QoS 0, so that the sender does not wait by itself.
func TestServe_FloodKeepsMemoryFlat(t *testing.T) {
	settings, addr := brokers(t)["inside"]()
	p, url, _ := serveWith(t, settings)
	before := p.memory()
	messages := 2_000
	if long() {
		messages = 100_000
	}
	most := before
	ctx, cancel := context.WithCancel(t.Context())
	watched := make(chan struct{})
	go func() {
		defer close(watched)
		for tick := time.NewTicker(50 * time.Millisecond); ; {
			select {
			case <-tick.C:
				most = max(most, p.memory())
			case <-ctx.Done():
				tick.Stop()
				return
			}
		}
	}()
	began := time.Now()
	each(16, func(i int) {
		c := paho.NewClient(paho.NewClientOptions().AddBroker("tcp://" + addr).SetClientID(fmt.Sprint("flood-", i)).SetWriteTimeout(time.Minute))
		if token := c.Connect(); !token.WaitTimeout(30*time.Second) || token.Error() != nil {
			t.Error(token.Error())
			return
		}
		defer c.Disconnect(250)
		for seq := range messages {
			c.Publish("home/flood", 0, false, fmt.Sprintf(`[{"bn":"box-%d:","n":"load","u":"kg","v":4.5,"t":%d},{"n":"seq","v":%d}]`, i+1, firstSecond+seq, seq+1)).Wait()
		}
	})
	took := time.Since(began)
	cancel()
	<-watched
	values, _ := look(t, url)
	t.Logf("%d messages in %s, %.0f of them settled by then; memory %.0f MiB before, %.0f at most", 16*messages, took.Round(time.Millisecond),
		values[`weighbeam_readings_received_total{way="broker"}`], before, most)
	if most > before+600 {
		t.Errorf("memory rose from %.0f to %.0f MiB", before, most)
	}
	if code := p.terminate(); code != 0 {
		t.Errorf("ended with %d:\n%s", code, p.output())
	}
}
