package app

import (
	"os"
	"path/filepath"
	"testing"
)

// A file is replaced as a whole, through a link to it, for the same people as before;
// a new one is for its owner alone. Nothing lies about afterwards.
func TestWholeFile_Remember(t *testing.T) {
	dir := t.TempDir()
	path, link := filepath.Join(dir, "kept"), filepath.Join(dir, "link")
	if text, err := wholeFile(path).Recall(); text != nil || err != nil {
		t.Errorf("before it is there: %q, %v", text, err)
	}
	if err := wholeFile(path).Remember([]byte("one")); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("a new one: %v, %v", info, err)
	}
	if err := os.Chmod(path, 0o640); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("kept", link); err != nil {
		t.Fatal(err)
	}
	if err := wholeFile(link).Remember([]byte("two")); err != nil {
		t.Fatal(err)
	}
	text, err := wholeFile(path).Recall()
	if info, failed := os.Lstat(path); err != nil || failed != nil || string(text) != "two" || info.Mode() != 0o640 {
		t.Errorf("%q, %v, %v, %v", text, err, info, failed)
	}
	if info, err := os.Lstat(link); err != nil || info.Mode()&os.ModeSymlink == 0 {
		t.Errorf("the link became %v, %v", info, err)
	}
	// What is in the way stays, and is no reason to leave something else there.
	if err := os.Mkdir(filepath.Join(dir, "folder"), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := wholeFile(filepath.Join(dir, "folder")).Remember([]byte("three")); err == nil {
		t.Error("a folder was replaced")
	}
	if _, err := wholeFile(filepath.Join(dir, "folder")).Recall(); err == nil {
		t.Error("a folder was read")
	}
	if all, err := os.ReadDir(dir); err != nil || len(all) != 3 {
		t.Errorf("left: %v, %v", all, err)
	}
}
