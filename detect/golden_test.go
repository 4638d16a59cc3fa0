package detect

import (
	"os"
	"path/filepath"
	"testing"
)

// golden compares got with a file of testdata, or makes the file again. On a
// mismatch it leaves what it got beside the file.
func golden(t *testing.T, name, got string, update bool) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if update {
		if err := os.WriteFile(file, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		if err := os.WriteFile(file+".got", []byte(got), 0o644); err != nil {
			t.Error(err)
		}
		t.Errorf("differs from %s:\n%s", file, got)
	}
}
