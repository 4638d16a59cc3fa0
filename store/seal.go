package store

import (
	"bufio"
	"context"
	"errors"
	"io"
	"io/fs"
	"os"

	"filippo.io/age"

	"weighbeam/home"
)

// SealedBackup is [Backup], encrypted for whoever holds the key of recipient, an
// age public key ("age1..."). The plain copy lies beside the store while it is
// made, never beside the backup.
func SealedBackup(ctx context.Context, path, to, recipient string) error {
	const op = "back up"
	key, err := age.ParseX25519Recipient(recipient)
	if err != nil {
		return &home.Error{Op: op, Hint: "Give the public key that age-keygen printed, as age1...", Err: err}
	}
	if _, err := os.Stat(to); !errors.Is(err, fs.ErrNotExist) {
		return home.Hinted(op, "Give the backup a name of its own.", "%s is there already", to)
	}
	plain := path + ".plain"
	if err := os.Remove(plain); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return &home.Error{Op: op, Err: err}
	}
	defer os.Remove(plain)
	if err := Backup(ctx, path, plain); err != nil {
		return err
	}
	if err := seal(plain, to+".part", key); err != nil {
		os.Remove(to + ".part")
		return &home.Error{Op: op, Hint: "Check that the disk has room.", Err: err}
	}
	if err := os.Rename(to+".part", to); err != nil {
		return &home.Error{Op: op, Err: err}
	}
	return syncFolder(op, to)
}

func seal(plain, to string, key age.Recipient) error {
	return rewritten(plain, to, func(out io.Writer, in io.Reader) error {
		w, err := age.Encrypt(out, key)
		if err != nil {
			return err
		}
		if err := copied(w, in); err != nil {
			return err
		}
		return w.Close()
	})
}

// Sealed reports whether the file at path is a backup that needs a key.
func Sealed(path string) bool {
	f, err := os.Open(path)
	if err != nil {
		return false
	}
	defer f.Close()
	const begins = "age-encryption.org/v1\n"
	head := make([]byte, len(begins))
	_, err = io.ReadFull(f, head)
	return err == nil && string(head) == begins
}

// Unseal decrypts the backup from into the file to, with a key of the file that
// age-keygen made. What was tampered with is refused, whole.
func Unseal(from, identity, to string) (err error) {
	const op = "open the backup"
	keys, err := os.Open(identity)
	if err != nil {
		return &home.Error{Op: op, Hint: "Name the file that age-keygen wrote with --identity.", Err: err}
	}
	defer keys.Close()
	ids, err := age.ParseIdentities(keys)
	if err != nil {
		return &home.Error{Op: op, Hint: "Name the file that age-keygen wrote with --identity.", Err: err}
	}
	if _, err := os.Stat(from); err != nil {
		return &home.Error{Op: op, Err: err}
	}
	err = rewritten(from, to, func(out io.Writer, in io.Reader) error {
		r, err := age.Decrypt(bufio.NewReader(in), ids...)
		if err != nil {
			return err
		}
		return copied(out, r)
	})
	if err != nil {
		os.Remove(to)
		return &home.Error{Op: op, Hint: "The key is not that of this backup, or the file was changed. Nothing was restored.", Err: err}
	}
	return nil
}
