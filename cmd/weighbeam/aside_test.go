package main

import (
	"encoding/json"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"weighbeam/home"
)

// A scale speaks on a topic that nobody claims. What it said is looked at while the
// program runs, claimed once it is stopped, in the household file as well, and is
// there when the program runs again, which then understands what comes.
func TestClaim_OnAStoppedProgram(t *testing.T) {
	addr := mosquitto(t)
	data := filepath.Join(t.TempDir(), "house.db")
	household := write(t, "household.toml", "# ours\n[[cat]]\nid = \"juniper\"\nname = \"Juniper\"\n")
	config := write(t, "w.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\nhousehold = %q\n[mqtt]\nserver = \"mqtt://%s\"\n", data, port(t), household, addr))
	serve := launch(t, "serve", "--config", config)
	url := serve.pages()
	eventually(t, "connected", func() (bool, string) {
		status, body := get(url + "/healthz")
		return status == http.StatusOK, body
	})
	publish(t, addr, "box", "", "home/scale", `{"grams": 4500, "battery": 87}`)
	metric(t, url, `weighbeam_readings_set_aside_total{way="mqtt"} 1`)
	_, out := call(t, "aside", "--config", config, "--json")
	var listed asideJSON
	if err := json.Unmarshal([]byte(out), &listed); err != nil || listed.Topic != "home/scale" || len(listed.Suggest) != 2 || !listed.CanRetry {
		t.Fatalf("%s\n%+v, %v", out, listed, err)
	}
	if _, out := call(t, "aside", "--config", config, "--topic", "home/other"); !strings.Contains(out, "on other topics 1 do") {
		t.Errorf("another topic:\n%s", out)
	}
	claim := []string{"claim", "home/scale", "--config", config, "--scale", "box-1", "--kind", "litter-box"}
	if code, out := call(t, claim...); code != 1 || !strings.Contains(out, "running weighbeam") {
		t.Errorf("beside a running program: code %d\n%s", code, out)
	}
	if code := serve.interrupt(); code != 0 {
		t.Fatalf("ended with %d", code)
	}
	if code, out := call(t, claim...); code != 1 || !strings.Contains(out, "json:/grams, json:/battery") {
		t.Errorf("which number: code %d\n%s", code, out)
	}
	if code, out := call(t, append(claim, "--payload", "json:/grams", "--unit", "g", "--sends", "weight")...); code != 0 || !strings.Contains(out, "1 read, 0 still") {
		t.Fatalf("code %d\n%s", code, out)
	}
	if text, err := os.ReadFile(household); err != nil || !strings.HasPrefix(string(text), "# ours") || !strings.Contains(string(text), "json:/grams") {
		t.Errorf("the household file is %s, %v", text, err)
	}
	if code, out := call(t, "aside", "--config", config); code != 0 || !strings.Contains(out, "Nothing waits") {
		t.Errorf("code %d\n%s", code, out)
	}
	serve = launch(t, "serve", "--config", config)
	url = serve.pages()
	publish(t, addr, "box", "", "home/scale", `{"grams": 4530, "battery": 87}`)
	metric(t, url, `weighbeam_readings_stored_total{way="mqtt"} 1`)
	if code := serve.interrupt(); code != 0 {
		t.Fatalf("ended with %d", code)
	}
	if got := storedOf(t, data, "box-1", home.Weight); len(got) != 2 || got[0].Value != 4.5 || got[1].Value != 4.53 {
		t.Errorf("stored: %+v", got)
	}
}

// The same on the page of the running program, which understands what comes from
// then on, and still does after a start.
func TestClaim_OnThePageOfARunningProgram(t *testing.T) {
	addr := mosquitto(t)
	data := filepath.Join(t.TempDir(), "house.db")
	config := write(t, "w.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\n[mqtt]\nserver = \"mqtt://%s\"\n", data, port(t), addr))
	serve := launch(t, "serve", "--config", config)
	page := serve.pages()
	eventually(t, "connected", func() (bool, string) {
		status, body := get(page + "/healthz")
		return status == http.StatusOK, body
	})
	publish(t, addr, "box", "", "home/scale", "4500")
	metric(t, page, `weighbeam_readings_set_aside_total{way="mqtt"} 1`)
	form := url.Values{"topic": {"home/scale"}, "scale": {"+"}, "id": {"box-1"}, "kind": {"floor"}, "payload": {"number"}, "unit": {"kg"}, "sends": {"weight"}}
	if status, body := posted(t, page+"/set-aside/claim", form); status != http.StatusUnprocessableEntity || !strings.Contains(body, "cannot be read so") {
		t.Errorf("in the wrong unit: status %d\n%s", status, body)
	}
	serve.says(`level=INFO msg="a claim was refused"`) // in the one log that there is
	form.Set("unit", "g")
	if status, body := posted(t, page+"/set-aside/claim", form); status != http.StatusOK || !strings.Contains(body, "1 read, 0 still set aside") {
		t.Fatalf("status %d\n%s", status, body)
	}
	metric(t, page, `weighbeam_readings_stored_total{way="retry"} 1`)
	publish(t, addr, "box", "", "home/scale", "4510")
	metric(t, page, `weighbeam_readings_stored_total{way="mqtt"} 1`)
	serve.kill()
	serve = launch(t, "serve", "--config", config)
	page = serve.pages()
	publish(t, addr, "box", "", "home/scale", "4520")
	metric(t, page, `weighbeam_readings_stored_total{way="mqtt"} 1`)
	if code := serve.interrupt(); code != 0 {
		t.Fatalf("ended with %d", code)
	}
	if got := storedOf(t, data, "box-1", home.Weight); len(got) != 3 || got[0].Value != 4.5 {
		t.Errorf("stored: %+v", got)
	}
}

// posted sends a form as a browser does and follows where that leads.
func posted(t *testing.T, to string, form url.Values) (int, string) {
	t.Helper()
	resp, err := http.PostForm(to, form)
	if err != nil {
		t.Fatal(err)
	}
	defer resp.Body.Close()
	body, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	return resp.StatusCode, string(body)
}

// What only the store keeps, a household file takes back: that is said.
func TestClaim_WithoutFile_SaysThatAFileHolds(t *testing.T) {
	data := filepath.Join(t.TempDir(), "house.db")
	csv := write(t, "in.csv", "time,source,quantity,value\n2025-03-03T12:00:00Z,hand,weight,4.5\n")
	if code, out := call(t, "import", "--data", data, csv); code != 0 {
		t.Fatal(out)
	}
	file := write(t, "household.toml", "")
	for _, row := range []struct {
		more []string
		says bool
	}{{nil, true}, {[]string{"--household", file}, false}} {
		code, out := call(t, append([]string{"claim", "home/x", "--scale", "x", "--kind", "floor", "--data", data}, row.more...)...)
		if code != 0 || strings.Contains(out, "with --household") != row.says {
			t.Errorf("%v: code %d\n%s", row.more, code, out)
		}
	}
}

// Where there is no store, none is made.
func TestClaim_NoStore(t *testing.T) {
	path := filepath.Join(t.TempDir(), "none.db")
	for _, args := range [][]string{{"claim", "x", "--scale", "b", "--data", path}, {"retry", "--data", path}, {"aside", "--data", path}} {
		if code, out := call(t, args...); code != 1 || !strings.Contains(out, "--data") {
			t.Errorf("%v: code %d\n%s", args, code, out)
		}
	}
	if _, err := os.Stat(path); err == nil {
		t.Error("a store was made")
	}
}
