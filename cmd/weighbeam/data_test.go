package main

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// call runs a command in this process.
func call(t *testing.T, args ...string) (code int, out string) {
	t.Helper()
	var o, e strings.Builder
	code = run(args, &o, &e)
	return code, o.String() + e.String()
}

// The life of data, as a person goes through it: simulate, import, back up while
// the program runs, lose the store, restore, export; nothing is missing.
func TestData_SimulateImportBackupRestoreExport(t *testing.T) {
	dir := t.TempDir()
	data, saved := filepath.Join(dir, "house.db"), filepath.Join(dir, "saved.db")
	csv := filepath.Join(dir, "sim", "readings.csv")
	must := func(want string, args ...string) {
		t.Helper()
		if code, out := call(t, args...); code != 0 || !strings.Contains(out, want) {
			t.Fatalf("%v: code %d\n%s", args, code, out)
		}
	}
	must("Wrote", "simulate", filepath.Join(dir, "sim"), "--days", "30")
	must("0 already there, 0 set aside", "import", "--data", data, csv)
	must(" 0 stored", "import", "--data", data, csv)

	running := launch(t, "serve", "--config", write(t, "w.toml", fmt.Sprintf(
		"data = %q\nlisten = \"127.0.0.1:%d\"\nhousehold = %q\n[broker]\nlisten = \"127.0.0.1:%d\"", data, port(t), filepath.Join(dir, "sim", "household.toml"), port(t))))
	running.says("Watching")
	must("read it through", "backup", "--data", data, saved)
	must("box-hall", "export", "--data", data)
	// While it runs, nobody else may write.
	if code, out := call(t, "restore", "--data", data, saved); code != 1 || !strings.Contains(out, "Stop weighbeam") {
		t.Errorf("restore under a running program: code %d\n%s", code, out)
	}
	if code, out := call(t, "import", "--data", data, csv); code != 1 || !strings.Contains(out, "another process") || !strings.Contains(out, "/api/v1/readings") {
		t.Errorf("import under a running program: code %d\n%s", code, out)
	}
	if code := running.interrupt(); code != 0 {
		t.Fatalf("ended with %d", code)
	}
	if err := os.Truncate(data, 100); err != nil {
		t.Fatal(err)
	}
	if code, out := call(t, "export", "--data", data); code != 1 || !strings.Contains(out, "backup") {
		t.Errorf("a damaged store: code %d\n%s", code, out)
	}
	must("What was there is now", "restore", "--data", data, saved)
	out := filepath.Join(dir, "out.csv")
	must("Wrote", "export", "--data", data, "--to", out)
	if got, want := sorted(t, out), sorted(t, csv); got != want {
		t.Error("the export differs from what was imported")
	}
}

// A file that somebody wrote by hand is not written over, and nothing is written beside it.
func TestSimulate_FilesThere_AreLeftAlone(t *testing.T) {
	for _, name := range []string{"household.toml", "readings.csv", "truth.jsonl"} {
		path := write(t, name, "mine")
		if code, out := call(t, "simulate", filepath.Dir(path), "--days", "1"); code != 1 || !strings.Contains(out, name) || !strings.Contains(out, "another folder") {
			t.Errorf("code %d\n%s", code, out)
		}
		if got, err := os.ReadFile(path); err != nil || string(got) != "mine" {
			t.Errorf("%s is %.20q now, %v", name, got, err)
		}
		if got, err := os.ReadDir(filepath.Dir(path)); err != nil || len(got) != 1 {
			t.Errorf("beside %s: %v, %v", name, got, err)
		}
	}
}

// What is asked of an import of files is done or refused, never passed over.
func TestImport_Files_FlagsAreHeard(t *testing.T) {
	csv := write(t, "in.csv", "time,source,quantity,value\n2025-03-03T12:00:00Z,box-1,weight,4.5\n")
	data := filepath.Join(t.TempDir(), "house.db")
	for want, args := range map[string][]string{
		"box-1 weight: 1 rows from 2025-03-03": {"--dry-run"}, `{"source":"box-1"`: {"--dry-run", "--json"},
		"--json goes": {"--json"}, "--source goes": {"--source", "box-2"}, "--unit goes": {"--unit", "g"},
		"--cat goes": {"--cat", "juniper"}, "--quantity goes": {"--dry-run", "--quantity", "load"},
	} {
		if code, out := call(t, append([]string{"import", "--data", data, csv}, args...)...); !strings.Contains(out, want) || (code == 0) != strings.Contains(want, "box-1") {
			t.Errorf("%v: code %d\n%s", args, code, out)
		}
	}
	if _, err := os.Stat(data); err == nil {
		t.Error("a store was made")
	}
}

// sorted is a file's lines in order: readings of one moment may stand in any.
func sorted(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(b), "\n")
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}

// A row that could not be used is kept as it stood in its file. Once the file is mended
// its rows are dismissed; they are kept, and what is wrong again waits again.
func TestDismiss_RowsOfAnImport(t *testing.T) {
	csv := write(t, "in.csv", "time,source,quantity,value\nyesterday,box-1,weight,4.5\n2025-03-03T12:00:00Z,box-1,weight,4.5\n")
	data := filepath.Join(t.TempDir(), "house.db")
	must := func(want string, args ...string) {
		t.Helper()
		if code, out := call(t, append(args, "--data", data)...); code != 0 || !strings.Contains(out, want) {
			t.Errorf("%v: code %d, nothing says %q\n%s", args, code, want, out)
		}
	}
	must("weighbeam dismiss FILE", "import", csv)
	must("yesterday,box-1,weight,4.5", "aside")
	must("yesterday,box-1,weight,4.5", "aside", "--topic", "in.csv")
	if code, out := call(t, "dismiss", "other.csv", "--data", data); code != 1 || !strings.Contains(out, "nothing of \"other.csv\" waits") {
		t.Errorf("a file of which nothing waits: code %d\n%s", code, out)
	}
	must("1 dismissed", "dismiss", filepath.Join("old", "in.csv")) // by its path or by its name
	must("Nothing waits", "aside")
	must("yesterday,box-1,weight,4.5", "aside", "--dismissed")
	must("1 set aside", "import", csv)
	must("in.csv line 2", "aside")
}

// A household that comes in with an export is told where the household file, which decides
// at each start, takes it back; where the file says the same, there is nothing to tell.
func TestImport_Household_FileTakesBack_IsSaid(t *testing.T) {
	export := write(t, "export.jsonl", `{"household":{"cats":[{"id":"sprat","name":"Sprat"}],"scales":[{"id":"box-1","kind":"litter-box","topic":"home/1"}]}}`+"\n")
	same := "[[cat]]\nid = \"sprat\"\nname = \"Sprat\"\n[[scale]]\nid = \"box-1\"\nkind = \"litter-box\"\ntopic = \"home/1\"\n"
	for _, row := range []struct {
		file  string // "" for none
		says  []string
		quiet bool
	}{
		{"[[cat]]\nid = \"juniper\"\nname = \"Juniper\"\n", []string{"household.toml", "takes back of it: cat sprat; scale box-1 on home/1", "Write into the file"}, false},
		{same, nil, true},
		{"", []string{"the store keeps it", "that file holds instead"}, false},
	} {
		settings := fmt.Sprintf("data = %q\n", filepath.Join(t.TempDir(), "house.db"))
		if row.file != "" {
			settings += fmt.Sprintf("household = %q\n", write(t, "household.toml", row.file))
		}
		code, out := call(t, "import", "--config", write(t, "w.toml", settings), export)
		if code != 0 || strings.Contains(out, "A household came in") == row.quiet {
			t.Errorf("code %d\n%s", code, out)
		}
		for _, words := range row.says {
			if !strings.Contains(out, words) {
				t.Errorf("nothing says %q:\n%s", words, out)
			}
		}
	}
}

// Who of an import is strange to the house, by the household file where one decides.
func TestImport_Strangers_ByWhomLivesThere(t *testing.T) {
	dir := t.TempDir()
	file := func(name, text string) string {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	rows := file("rows.csv", "time,source,quantity,value,unit,cat\n2025-03-03T12:00:00Z,box-1,weight,4.5,kg,juniper\n")
	household := file("household.toml", "[[cat]]\nid = \"juniper\"\nname = \"Juniper\"\n[[scale]]\nid = \"box-1\"\nkind = \"litter-box\"\n")
	settings := file("settings.toml", fmt.Sprintf("data = %q\nhousehold = %q\n", filepath.Join(dir, "known.db"), household))
	for _, row := range []struct {
		args    []string
		strange bool
	}{
		// the store knows nobody yet, and no file decides
		{[]string{"--data", filepath.Join(dir, "empty.db")}, true},
		// the file knows them, and the store will at the next start
		{[]string{"--config", settings}, false},
	} {
		code, out := call(t, append([]string{"import", rows}, row.args...)...)
		if code != 0 || !strings.Contains(out, "1 stored") {
			t.Fatalf("%v: code %d\n%s", row.args, code, out)
		}
		if got := strings.Contains(out, "The household does not know: cat juniper, scale box-1."); got != row.strange {
			t.Errorf("%v: strange is %t\n%s", row.args, got, out)
		}
	}
}
