package main

import (
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/store"
)

// The stores under testdata/stores were written by real programs of the past, one of
// each schema; make.sh there says how.
const oldStores = "testdata/stores"

// Whoever changes the schema keeps a store of the one before.
func TestUpgrade_EachPastSchema_HasAStore(t *testing.T) {
	steps, err := filepath.Glob("../../store/migrations/*.sql")
	if err != nil || len(steps) < 2 {
		t.Fatalf("%d migrations, %v", len(steps), err)
	}
	for schema := 1; schema < len(steps); schema++ {
		if _, err := os.Stat(fmt.Sprintf("%s/schema-%d.db.gz", oldStores, schema)); err != nil {
			t.Errorf("run %s/make.sh with the last commit of schema %d: %v", oldStores, schema, err)
		}
	}
}

// A house whose program is replaced by this one: all that people and devices said is
// there to the letter, what was told is not told again, and the watch goes on.
func TestUpgrade_StoresOfThePast_GoOn(t *testing.T) {
	kept, err := filepath.Glob(oldStores + "/*.db.gz")
	if err != nil || len(kept) == 0 {
		t.Fatalf("no stores: %v", err)
	}
	for _, file := range kept {
		t.Run(filepath.Base(file), func(t *testing.T) {
			data := filepath.Join(t.TempDir(), "house.db")
			if err := os.WriteFile(data, unpacked(t, file), 0o600); err != nil {
				t.Fatal(err)
			}
			before := unpacked(t, strings.Replace(file, ".db.gz", ".jsonl.gz", 1))
			goesOn(t, data, string(before))
		})
	}
}

func goesOn(t *testing.T, data, before string) {
	if code, out := call(t, "export", "--data", data); code == 0 || !strings.Contains(out, "Start weighbeam once with this store") {
		t.Errorf("only reading an older store: code %d\n%s", code, out)
	}
	p := newPhone(t)
	h := startTimed(t, data, fmt.Sprintf("data = %q\nzone = \"UTC\"\nlisten = \"127.0.0.1:0\"\n[broker]\nlisten = \"127.0.0.1:0\"\n"+
		"[[webhook]]\nname = \"phone\"\nurl = %q\n[[command]]\nname = \"bell\"\nrun = [\"/bin/true\"]\n", data, p.web.URL),
		time.Date(2025, 3, 22, 12, 35, 0, 0, time.UTC))
	h.settle()
	_, after := call(t, "export", "--data", data, "--to", data+".jsonl")
	if text, err := os.ReadFile(data + ".jsonl"); err == nil {
		after = string(text)
	}
	if missing := notIn(t, after, before); len(missing) > 0 {
		t.Errorf("%d lines of what the older program exported are missing or changed, as\n%s", len(missing), missing[0])
	}
	falling := "bramble/weight-falling"
	if got := h.standing(); !strings.HasPrefix(got, falling) || strings.Contains(got, " ") {
		t.Errorf("there stands %q, want the finding of before", got)
	}
	// Nobody weighs in for three days: what the older program learned is known, and new
	// findings stand beside the one of before.
	for range 3 {
		h.set(h.now.Add(24 * time.Hour))
		h.settle()
	}
	if got := h.standing(); strings.Count(got, falling) != 1 || !strings.Contains(got, "box-hall/scale-silent") {
		t.Errorf("three days later there stands %q", got)
	}
	for _, n := range h.notices() {
		if n.Channel == "bell" && n.Turn == home.Raised && strings.HasPrefix(n.Finding, falling) && (n.State != home.Sent || n.Attempts != 1) {
			t.Errorf("the bell, which had rung before, was rung again: %+v", n)
		}
	}
}

// standing are the ids of the open findings.
func (h *timedHouse) standing() string {
	h.t.Helper()
	db, err := store.Peek(h.t.Context(), h.data)
	if err != nil {
		h.t.Fatal(err)
	}
	defer db.Close()
	open, err := db.Findings(h.t.Context(), true, time.Time{})
	if err != nil {
		h.t.Fatal(err)
	}
	ids := make([]string, len(open))
	for i, f := range open {
		ids[i] = f.ID()
	}
	return strings.Join(ids, " ")
}

// notIn returns the lines of before that have no equal in after, where a program may
// have learned to say more.
func notIn(t *testing.T, after, before string) (missing []string) {
	t.Helper()
	said := map[string][]map[string]any{} // by kind and when
	parse := func(line string) (string, map[string]any) {
		var l map[string]map[string]any
		if err := json.Unmarshal([]byte(line), &l); err != nil {
			t.Fatalf("%v: %s", err, line)
		}
		for kind, body := range l {
			return fmt.Sprint(kind, body["Time"], body["At"], body["ID"]), body
		}
		return "", nil
	}
	for line := range strings.Lines(after) {
		name, body := parse(line)
		said[name] = append(said[name], body)
	}
	for line := range strings.Lines(before) {
		name, want := parse(line)
		found := false
		for _, got := range said[name] {
			found = found || holds(got, want)
		}
		if !found {
			missing = append(missing, line)
		}
	}
	return missing
}

// holds says whether got has all that want has.
func holds(got, want any) bool {
	switch w := want.(type) {
	case map[string]any:
		g, ok := got.(map[string]any)
		for key := range maps.Keys(w) {
			ok = ok && holds(g[key], w[key])
		}
		return ok
	case []any:
		g, ok := got.([]any)
		ok = ok && len(g) == len(w)
		for i := 0; ok && i < len(w); i++ {
			ok = holds(g[i], w[i])
		}
		return ok
	}
	return reflect.DeepEqual(got, want)
}

func unpacked(t *testing.T, file string) []byte {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return text
}
