package notify

import (
	"flag"
	"os"
	"path/filepath"
	"testing"
)

var update = flag.Bool("update", false, "write the golden files anew")

// golden compares got with testdata/name and leaves what differs beside it.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatalf("%v: make it with -update", err)
	}
	if got != string(want) {
		if err := os.WriteFile(path+".got", []byte(got), 0o644); err != nil {
			t.Error(err)
		}
		t.Errorf("%s differs: compare it with %s.got, then run with -update if the new one is right", path, path)
		return
	}
	_ = os.Remove(path + ".got")
}
