package store

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"time"

	"filippo.io/age"

	"weighbeam/home"
)

// A stolen backup tells nothing: it is not readable without the key, the key opens
// it again, and a changed byte is noticed.
func TestSealedBackup_OpensWithItsKeyOnly(t *testing.T) {
	dir := t.TempDir()
	path, to, plain := filepath.Join(dir, "house.db"), filepath.Join(dir, "saved.age"), filepath.Join(dir, "plain.db")
	db := open(t, path)
	if err := db.SetHousehold(t.Context(), home.Household{Cats: []home.Cat{{ID: "juniper", Name: "Juniper"}}}); err != nil {
		t.Fatal(err)
	}
	key, err := age.GenerateX25519Identity()
	if err != nil {
		t.Fatal(err)
	}
	other, err := age.GenerateX25519Identity()
	if err != nil {
		t.Fatal(err)
	}
	if err := SealedBackup(t.Context(), path, to, "age1nonsense"); home.Hint(err) == "" {
		t.Errorf("sealed for nobody: %v", err)
	}
	if err := SealedBackup(t.Context(), path, to, key.Recipient().String()); err != nil {
		t.Fatal(err)
	}
	sealed, err := os.ReadFile(to)
	if err != nil || bytes.Contains(sealed, []byte("juniper")) || bytes.Contains(sealed, []byte("SQLite")) || !Sealed(to) || Sealed(path) {
		t.Fatalf("the backup is not sealed, %v", err)
	}
	if left, err := filepath.Glob(filepath.Join(dir, "*.p*")); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", left, err)
	}
	keys := filepath.Join(dir, "keys")
	unseal := func(id *age.X25519Identity) error {
		if err := os.WriteFile(keys, []byte(id.String()+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		return Unseal(to, keys, plain)
	}
	if err := unseal(other); home.Hint(err) == "" {
		t.Errorf("another key opened it: %v", err)
	}
	if err := unseal(key); err != nil {
		t.Fatal(err)
	}
	if _, err := Restore(t.Context(), plain, filepath.Join(dir, "elsewhere", "house.db"), time.Now()); err != nil {
		t.Errorf("what was unsealed is no store: %v", err)
	}
	sealed[len(sealed)-1] ^= 1
	if err := os.WriteFile(to, sealed, 0o600); err != nil {
		t.Fatal(err)
	}
	if err := unseal(key); home.Hint(err) == "" {
		t.Errorf("a changed byte went unnoticed: %v", err)
	}
	if _, err := os.Stat(plain); err == nil {
		t.Error("half a backup is left behind")
	}
}

// The store and its backups are files for their owner alone, also in a folder that
// others can read.
func TestOpen_FilesAreForTheOwnerAlone(t *testing.T) {
	dir := t.TempDir()
	if err := os.Chmod(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	path, to := filepath.Join(dir, "house.db"), filepath.Join(dir, "saved.db")
	db := open(t, path)
	if err := db.SetHousehold(t.Context(), home.Household{Cats: []home.Cat{{ID: "juniper", Name: "Juniper"}}}); err != nil {
		t.Fatal(err)
	}
	if err := Backup(t.Context(), path, to); err != nil {
		t.Fatal(err)
	}
	sealed, plain, keys, again := filepath.Join(dir, "saved.age"), filepath.Join(dir, "plain.db"), filepath.Join(dir, "keys"), filepath.Join(dir, "again.db")
	key, err := age.GenerateX25519Identity()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(keys, []byte(key.String()+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := SealedBackup(t.Context(), path, sealed, key.Recipient().String()); err != nil {
		t.Fatal(err)
	}
	if err := Unseal(sealed, keys, plain); err != nil {
		t.Fatal(err)
	}
	if _, err := Restore(t.Context(), plain, again, time.Now()); err != nil {
		t.Fatal(err)
	}
	for _, file := range []string{path, path + "-wal", to, sealed, plain, again} {
		info, err := os.Stat(file)
		if err != nil || info.Mode().Perm()&0o077 != 0 {
			t.Errorf("%s: %v, %v", file, info, err)
		}
	}
}
