package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// A sheet is written beside the running program, which notices nothing, and from
// a store at rest; a cat that is not there is told with those that are.
func TestSheet_BesideTheProgram_InEveryForm(t *testing.T) {
	dir := t.TempDir()
	data, sim := filepath.Join(dir, "house.db"), filepath.Join(dir, "sim")
	if code, out := call(t, "simulate", sim, "--days", "60"); code != 0 {
		t.Fatal(out)
	}
	if code, out := call(t, "import", "--data", data, filepath.Join(sim, "readings.csv")); code != 0 {
		t.Fatal(out)
	}
	settings := write(t, "w.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\nzone = \"UTC\"\nhousehold = %q\n[broker]\nlisten = \"127.0.0.1:%d\"",
		data, port(t), filepath.Join(sim, "household.toml"), port(t)))
	running := launch(t, "serve", "--config", settings)
	running.says("Watching")
	_, out := call(t, "sheet", "--config", settings, "nobody")
	if !strings.Contains(out, "there is no cat") || !strings.Contains(out, "The cats of this house are ") {
		t.Fatal(out)
	}
	cat := strings.TrimSuffix(strings.Fields(out[strings.Index(out, "house are ")+10:])[0], ",")
	for form, start := range map[string]string{"pdf": "%PDF-", "html": "<!doctype html>", "csv": "time,source,", "fhir": "{\n"} {
		path := filepath.Join(dir, "sheet."+form)
		if code, out := call(t, "sheet", cat, "--config", settings, "--format", form, "--out", path); code != 0 || !strings.Contains(out, "Wrote ") {
			t.Fatalf("%s: code %d\n%s", form, code, out)
		}
		content, err := os.ReadFile(path)
		if err != nil || !strings.HasPrefix(string(content), start) {
			t.Errorf("%s begins with %.30q, %v", form, content, err)
		}
	}
	if code := running.interrupt(); code != 0 {
		t.Fatalf("ended with %d", code)
	}
	if code, out := call(t, "sheet", cat, "--config", settings, "--format", "csv", "--out", "-"); code != 0 || !strings.HasPrefix(out, "time,source,") {
		t.Errorf("at rest: code %d, %.60q", code, out)
	}
}

func TestSheet_BadCalls_SayWhatToDo(t *testing.T) {
	for _, row := range []struct {
		want string
		args []string
	}{
		// No store yet.
		{"no such file", []string{"mustard", "--data", filepath.Join(t.TempDir(), "none.db")}},
		{"Give the earlier day", []string{"mustard", "--from", "2026-02-01", "--to", "2026-01-01"}},
		{"--format must be one of", []string{"mustard", "--format", "docx"}},
		{"--from", []string{"mustard", "--from", "yesterday"}},
	} {
		if code, out := call(t, append([]string{"sheet"}, row.args...)...); code == 0 || !strings.Contains(out, row.want) {
			t.Errorf("%v: code %d, want %q:\n%s", row.args, code, row.want, out)
		}
	}
}
