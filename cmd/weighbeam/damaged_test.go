package main

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A store that is damaged where nobody looks takes nothing more and acknowledges nothing,
// says so wherever one looks, and is well again from a backup.
func TestServe_DamagedStore(t *testing.T) {
	t.Parallel() // it waits more than it works
	dir := t.TempDir()
	data, backup := filepath.Join(dir, "house.db"), filepath.Join(dir, "house.backup")
	rows := "time,source,quantity,value,unit\n"
	for i := range 20_000 {
		rows += fmt.Sprintf("2026-03-03T%02d:%02d:%02dZ,box-1,load,5,kg\n", i/3600, i/60%60, i%60)
	}
	for _, args := range [][]string{{"import", "--data", data, write(t, "readings.csv", rows)}, {"backup", "--data", data, backup}} {
		if code, out := call(t, args...); code != 0 {
			t.Fatalf("%v: code %d\n%s", args, code, out)
		}
	}
	file, err := os.ReadFile(data)
	if err != nil {
		t.Fatal(err)
	}
	copy(file[len(file)/2/4096*4096:], strings.Repeat("\xff", 400))
	if err := os.WriteFile(data, file, 0o600); err != nil {
		t.Fatal(err)
	}

	phone := newPhone(t)
	config := write(t, "w.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\n[[webhook]]\nname = \"phone\"\nurl = %q\n", data, port(t), phone.web.URL))
	posts := func(url string) int {
		t.Helper()
		resp, err := http.Post(url+"/api/v1/readings", "text/csv", strings.NewReader("time,source,quantity,value,unit\n2026-03-04T00:00:00Z,box-1,load,5,kg\n"))
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		return resp.StatusCode
	}
	p := launch(t, "serve", "--config", config)
	url := p.pages()
	eventually(t, "the damage is told", func() (bool, string) {
		status, body := get(url + "/healthz")
		return status == http.StatusServiceUnavailable && strings.Contains(body, "weighbeam restore"), body
	})
	if status := posts(url); status != http.StatusServiceUnavailable {
		t.Errorf("a reading for a damaged store is answered with %d", status)
	}
	eventually(t, "the house says so", func() (bool, string) {
		_, page := get(url + "/")
		return strings.Contains(page, "weighbeam restore"), page
	})
	p.says("the file is damaged")
	eventually(t, "people are told, though no notice can be written", func() (bool, string) {
		told, body := phone.heard()
		return len(told) == 1 && strings.Contains(told[0], "takes no readings") && strings.Contains(body, "weighbeam restore"), fmt.Sprint(told, body)
	})
	if code := p.terminate(); code != 0 {
		t.Errorf("ended with %d:\n%s", code, p.output())
	}

	if code, out := call(t, "restore", "--data", data, backup); code != 0 {
		t.Fatalf("code %d\n%s", code, out)
	}
	p = launch(t, "serve", "--config", config)
	url = p.pages()
	if status := posts(url); status != http.StatusOK {
		t.Errorf("a reading after the restore is answered with %d\n%s", status, p.output())
	}
	if code := p.terminate(); code != 0 {
		t.Errorf("ended with %d:\n%s", code, p.output())
	}
	if got := storedOf(t, data, "box-1", "load"); len(got) != 20_001 {
		t.Errorf("%d readings after the restore", len(got))
	}
}

// A store that became an empty file is told: it looks like that of a new house.
func TestServe_EmptyStore(t *testing.T) {
	p := launch(t, "serve", "--config", write(t, "w.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\n", write(t, "house.db", ""), port(t))))
	p.pages()
	p.says("restore a backup")
}
