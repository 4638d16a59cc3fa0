package main

import (
	"bufio"
	"context"
	"encoding/json"
	"fmt"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"weighbeam/app"
)

// Somebody who wires a scale up sees what arrives, how it is understood and what
// is wrong with it, beside the running program and without taking anything from
// it. What a payload says cannot steer the terminal.
func TestListen_BesideTheProgram(t *testing.T) {
	addr := mosquitto(t)
	household := write(t, "household.toml", "[[scale]]\nid = \"box-1\"\nkind = \"litter-box\"\ntopic = \"home/litter/1\"\npayload = \"number\"\nunit = \"g\"\n")
	config := write(t, "w.toml", fmt.Sprintf("listen = \"127.0.0.1:%d\"\nhousehold = %q\n[mqtt]\nserver = \"mqtt://%s\"\n", port(t), household, addr))
	serve := launch(t, "serve", "--config", config)
	pages := serve.pages()
	eventually(t, "connected", func() (bool, string) {
		status, body := get(pages + "/healthz")
		return status == 200, body
	})
	people := launch(t, "listen", "--config", config, "--topic", "home/#")
	people.says("Listening")
	machines := launch(t, "listen", "--broker", addr, "--household", household, "--json")
	eventually(t, "both hear", func() (bool, string) {
		publish(t, addr, "box-1", "", "home/litter/1", "9437 g")
		return strings.Contains(people.output(), "home/litter/1") && strings.Contains(machines.output(), "home/litter/1"),
			people.output() + machines.output()
	})
	publish(t, addr, "box-1", "", "home/litter/1", "\x1b[2Jforged\r\nline")
	if line := people.says("box-1 load"); !strings.Contains(line, "9.437 kg") {
		t.Errorf("understood as %q", line)
	}
	people.says("not understood")
	if out := people.output(); strings.ContainsAny(out, "\x1b\r") {
		t.Errorf("a payload steers the terminal: %q", out)
	}
	var h app.Heard
	if err := json.Unmarshal([]byte(machines.says("readings")), &h); err != nil || h.Readings[0].Value != 9.437 {
		t.Errorf("%+v, %v", h, err)
	}
	if code := people.interrupt(); code != 0 || !strings.Contains(people.output(), "messages") {
		t.Errorf("ended with %d:\n%s", code, people.output())
	}
	eventually(t, "the program has everything, too", func() (bool, string) {
		_, body := get(pages + "/metrics")
		return strings.Contains(body, `weighbeam_readings_set_aside_total{way="mqtt"} 1`), body
	})
	if code, out := call(t, "listen", "--broker", fmt.Sprintf("127.0.0.1:%d", port(t))); code != 1 || !strings.Contains(out, "Start the broker") {
		t.Errorf("nobody there: code %d\n%s", code, out)
	}
}

// A broker that was started anew has forgotten who listens: it is told that it is gone
// and that it is back, and what comes then is heard.
func TestListen_BrokerStartedAnew(t *testing.T) {
	addr := fmt.Sprintf("127.0.0.1:%d", port(t))
	config := write(t, "w.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\n[broker]\nlisten = %q\n",
		filepath.Join(t.TempDir(), "house.db"), port(t), addr))
	serve := launch(t, "serve", "--config", config)
	serve.pages()
	listen := launch(t, "listen", "--config", config)
	listen.says("Listening")
	serve.kill()
	listen.says("is gone")
	launch(t, "serve", "--config", config).pages()
	listen.says("Listening again")
	publish(t, addr, "box-1", "", "home/litter/1", `[{"bn":"box-1:","n":"load","u":"kg","v":12.345}]`)
	if line := listen.says("box-1 load"); !strings.Contains(line, "12.345 kg") {
		t.Errorf("understood as %q", line)
	}
	publish(t, addr, "box-1", "", "home/litter/1", `[{"bn":"box-1:","n":"load","u":"kg","v":12}]`)
	if line := listen.says("; "); !strings.Contains(line, " a second)") && !strings.Contains(line, "one every ") {
		t.Errorf("how often it comes is missing: %q", line)
	}
}

// A program that is killed leaves its last will. Where the settings ask for a clean
// session the broker keeps nothing for it meanwhile.
func TestServe_CleanSessionAndWill(t *testing.T) {
	addr := mosquitto(t)
	config := write(t, "w.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\n[mqtt]\nserver = \"mqtt://%s\"\nclean = true\n"+
		"will = { topic = \"house/weighbeam\", message = \"gone without a word\" }\n", filepath.Join(t.TempDir(), "house.db"), port(t), addr))
	connected := func() (*program, string) {
		t.Helper()
		p := launch(t, "serve", "--config", config)
		url := p.pages()
		eventually(t, "connected", func() (bool, string) {
			status, body := get(url + "/healthz")
			return status == 200, body
		})
		return p, url
	}
	listen := launch(t, "listen", "--broker", addr, "--topic", "house/#")
	listen.says("Listening")
	serve, _ := connected()
	serve.kill()
	listen.says("gone without a word")
	publish(t, addr, "box-1", "", "home/1", `[{"bn":"box-1:","n":"load","u":"kg","v":4}]`)
	_, url := connected()
	publish(t, addr, "box-1", "", "home/1", `[{"bn":"box-1:","n":"load","u":"kg","v":5}]`)
	metric(t, url, `weighbeam_readings_received_total{way="mqtt"} 1`)
}

// The page of the running program shows a message as it arrives. A page that is
// left open does not hold up the end of the program.
func TestListen_OnThePage(t *testing.T) {
	addr := fmt.Sprintf("127.0.0.1:%d", port(t))
	config := write(t, "w.toml", fmt.Sprintf("listen = \"127.0.0.1:%d\"\n[broker]\nlisten = %q\n", port(t), addr))
	p := launch(t, "serve", "--config", config)
	pages := p.pages()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, pages+"/listen/events?topic=home/%23", nil)
	if err != nil {
		t.Fatal(err)
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	publish(t, addr, "box-1", "", "elsewhere", "1")
	publish(t, addr, "box-1", "", "home/litter/1", `[{"bn":"box-1:","n":"load","u":"kg","v":9.437}]`)
	stream := bufio.NewScanner(resp.Body)
	for stream.Scan() && !strings.Contains(stream.Text(), "box-1 load 9.437 kg") {
		if strings.Contains(stream.Text(), "elsewhere") {
			t.Error("another topic is heard")
		}
	}
	if stream.Err() != nil {
		t.Fatal(stream.Err())
	}
	_, page := get(pages + "/listen")
	if !strings.Contains(page, "elsewhere") || !strings.Contains(page, "no scale claims this topic") {
		t.Errorf("the page is\n%s", page)
	}
	if code := p.interrupt(); code != 0 {
		t.Errorf("ended with %d:\n%s", code, p.output())
	}
	for stream.Scan() { // to the end of the stream, which the program closed
	}
	if stream.Err() != nil {
		t.Errorf("the stream was cut: %v", stream.Err())
	}
}
