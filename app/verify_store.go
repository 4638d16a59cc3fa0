package app

import (
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"time"

	"github.com/dustin/go-humanize"
	"github.com/shirou/gopsutil/v4/disk"

	"weighbeam/store"
)

// store reads the store through, beside a program that may be running.
func (v *verifier) store(ctx context.Context) {
	const part = "store"
	if _, err := os.Stat(v.cfg.Data); errors.Is(err, fs.ErrNotExist) {
		v.say(part, Well, "", "%s is not there yet: the first start makes it.", v.cfg.Data)
		return
	}
	db, err := store.Peek(ctx, v.cfg.Data)
	if err == nil {
		defer db.Close()
		err = db.Check(ctx)
	}
	if err != nil {
		v.fail(part, err, "Put a backup in its place: weighbeam restore.")
		return
	}
	sources, err := db.Sources(ctx)
	if err != nil {
		v.fail(part, err, "Look whether the disk can be read.")
		return
	}
	var n int64
	for _, s := range sources {
		n += s.Count
	}
	v.say(part, Well, "", "%s, %s readings of %d sources, whole.", humanize.IBytes(uint64(db.Bytes())), humanize.Comma(n), len(sources))
}

// newest is when the newest reading in the store arrived; zero for none.
func (v *verifier) newest(ctx context.Context) (time.Time, error) {
	if _, err := os.Stat(v.cfg.Data); err != nil {
		return time.Time{}, err
	}
	db, err := store.Peek(ctx, v.cfg.Data)
	if err != nil {
		return time.Time{}, err
	}
	defer db.Close()
	sources, err := db.Sources(ctx)
	newest := time.Time{}
	for _, s := range sources {
		if s.Arrived.After(newest) {
			newest = s.Arrived
		}
	}
	return newest, err
}

// Room that should be left on the disk: below the first the store may refuse soon,
// below the second a year of a house with a scale that sends every second may not fit.
const (
	leastRoom = 200 << 20
	yearsRoom = 2 << 30
)

// disk looks how much room there is where the store lies, or will.
func (v *verifier) disk(ctx context.Context) {
	const part = "disk"
	folder, err := filepath.Abs(filepath.Dir(v.cfg.Data))
	if err != nil {
		v.fail(part, err, "Name the store by its whole path.")
		return
	}
	for _, err := os.Stat(folder); errors.Is(err, fs.ErrNotExist) && folder != filepath.Dir(folder); _, err = os.Stat(folder) {
		folder = filepath.Dir(folder)
	}
	use, err := disk.UsageWithContext(ctx, folder)
	switch {
	case err != nil:
		v.fail(part, err, "Look whether the folder of the store is there.")
	case use.Free < leastRoom:
		v.say(part, Wrong, "Make room. Nothing is acknowledged while the store cannot write, so nothing is lost.", "%s is left at %s.", humanize.IBytes(use.Free), folder)
	case use.Free < yearsRoom:
		v.say(part, Look, "Make room before it is needed, or lower keep_load_days.", "%s is left at %s.", humanize.IBytes(use.Free), folder)
	default:
		v.say(part, Well, "", "%s is left at %s.", humanize.IBytes(use.Free), folder)
	}
}

// secretFiles are the files of the settings that hold a secret.
func (c Config) secretFiles() []string {
	files := []string{c.Door.ScrapeTokenFile, c.Door.KeyFile}
	for _, p := range c.Door.Person {
		files = append(files, p.PasswordFile)
	}
	for _, d := range c.Device {
		files = append(files, d.TokenFile)
	}
	if c.Broker != nil {
		for _, u := range c.Broker.User {
			files = append(files, u.PasswordFile)
		}
	}
	if c.MQTT != nil {
		files = append(files, c.MQTT.PasswordFile, c.MQTT.KeyFile)
	}
	if c.Influx != nil {
		files = append(files, c.Influx.TokenFile)
	}
	if c.Heartbeat != nil {
		files = append(files, c.Heartbeat.URLFile)
	}
	for _, w := range c.Webhook {
		files = append(files, w.URLFile, w.KeyFile)
	}
	for _, m := range c.Mail {
		files = append(files, m.PasswordFile)
	}
	for _, s := range c.Service {
		files = append(files, s.URLFile)
	}
	return slices.DeleteFunc(files, func(f string) bool { return f == "" })
}

// secrets looks whether each can be read, and by whom else.
func (v *verifier) secrets(context.Context) {
	const part = "secrets"
	files, fine := v.cfg.secretFiles(), true
	for _, path := range files {
		if _, err := secret(path); err != nil {
			v.fail(part, err, "")
			fine = false
			continue
		}
		info, err := os.Stat(path)
		if err == nil && runtime.GOOS != "windows" && info.Mode().Perm()&0o004 != 0 && readable(path) {
			v.say(part, Look, "Take the right from others: chmod o-r "+path, "Everybody on this machine can read %s.", path)
			fine = false
		}
	}
	if fine {
		v.say(part, Well, "", "%d files, each can be read.", len(files))
	}
}

// readable reports whether others can reach path: a folder above it may keep them out.
func readable(path string) bool {
	path, err := filepath.Abs(path)
	if err != nil {
		return true
	}
	for folder := filepath.Dir(path); ; folder = filepath.Dir(folder) {
		if info, err := os.Stat(folder); err == nil && info.Mode().Perm()&0o001 == 0 {
			return false
		}
		if folder == filepath.Dir(folder) {
			return true
		}
	}
}
