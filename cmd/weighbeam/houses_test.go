package main

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A folder of settings is as many houses in one process. They share nothing: a reading of
// one is not seen by the other, and one that cannot start holds up none.
func TestServe_FolderOfSettings_IsAHouseEach(t *testing.T) {
	folder := t.TempDir()
	settings := func(name string) (data string) {
		data = filepath.Join(folder, name, "house.db")
		text := fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\n[broker]\nlisten = \"127.0.0.1:0\"\n", data, port(t))
		if err := os.WriteFile(filepath.Join(folder, name+".toml"), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return data
	}
	settings("a")
	second := settings("b")
	broken := settings("c")
	if err := os.MkdirAll(filepath.Dir(broken), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(broken, []byte(strings.Repeat("no store ", 1000)), 0o600); err != nil {
		t.Fatal(err)
	}
	p := launch(t, "serve", "--config", folder)
	p.says("a house does not start")
	p.says(second)
	pages := map[string]string{}
	for _, name := range []string{"a", "b"} {
		_, after, _ := strings.Cut(p.output(), name+".toml)")
		pages[name] = strings.Fields(after)[2] // after the full stop and "pages"
	}
	answer, err := http.Post(pages["a"]+"/api/v1/readings", "text/csv", strings.NewReader("time,source,quantity,value,unit\n2026-01-02T08:00:00Z,box-1,load,9.4,kg\n"))
	if err != nil || answer.StatusCode != 200 {
		t.Fatal(answer, err)
	}
	answer.Body.Close()
	for _, name := range []string{"a", "b"} {
		if status, page := get(pages[name] + "/"); status != 200 {
			t.Errorf("house %s: %d\n%s", name, status, page)
		}
	}
	if code := p.interrupt(); code != 0 {
		t.Errorf("ended with %d:\n%s", code, p.output())
	}
	for name, want := range map[string]int{"a": 1, "b": 0} {
		code, out := call(t, "export", "--config", filepath.Join(folder, name+".toml"))
		if got := strings.Count(out, "box-1"); code != 0 || got != want {
			t.Errorf("house %s has %d readings, want %d: code %d\n%s", name, got, want, code, out)
		}
	}
}

// Houses that would stand in one another's way do not start.
func TestServe_HousesInTheWay_AreRefused(t *testing.T) {
	at := func(name, text string) string { return write(t, name, text) }
	for _, row := range []struct{ name, a, b, want string }{
		// two stores are one file
		{"store", "data = \"x.db\"\n", "data = \"x.db\"\n", "both name the store x.db"},
		// the broker would throw the one out for the other, for ever
		{"client", "data = \"x.db\"\n[mqtt]\nserver = \"mqtt://127.0.0.1:1\"\n", "data = \"y.db\"\n[mqtt]\nserver = \"mqtt://127.0.0.1:1\"\n", `the client "weighbeam" at the broker`},
		// a change on one page would be a change of both
		{"household", "data = \"x.db\"\nhousehold = \"h.toml\"\n", "data = \"y.db\"\nhousehold = \"h.toml\"\n", "the household file"},
	} {
		code, out := call(t, "serve", "--check", "--config", at(row.name+"-a.toml", row.a), "--config", at(row.name+"-b.toml", row.b))
		if code == 0 || !strings.Contains(out, row.want) || !strings.Contains(out, "Give each house its own") {
			t.Errorf("%s: code %d\n%s", row.name, code, out)
		}
	}
	if code, out := call(t, "serve", "--check", "--config", t.TempDir()); code == 0 || !strings.Contains(out, "there is no .toml file") {
		t.Errorf("empty folder: code %d\n%s", code, out)
	}
}
