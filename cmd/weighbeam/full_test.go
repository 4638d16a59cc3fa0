package main

import (
	"errors"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"golang.org/x/sys/unix"
)

// full is a place for the store that can be filled up and emptied again.
type full struct {
	dir   string
	fill  func(*program)
	empty func(*program)
}

// smallDisk is a file system of its own, of a few MiB in memory, where this
// process may mount one.
func smallDisk(t *testing.T) (full, bool) {
	t.Helper()
	dir := t.TempDir()
	if err := syscall.Mount("none", dir, "tmpfs", 0, "size=8m"); err != nil {
		return full{}, false
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(dir, syscall.MNT_DETACH); err != nil {
			t.Error(err)
		}
	})
	filler := filepath.Join(dir, "filler")
	return full{dir: dir,
		fill: func(*program) {
			f, err := os.Create(filler)
			if err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			for err == nil { // to the last byte
				_, err = f.Write(make([]byte, 4096))
			}
			if !errors.Is(err, syscall.ENOSPC) {
				t.Fatal(err)
			}
		},
		empty: func(*program) {
			if err := os.Remove(filler); err != nil {
				t.Fatal(err)
			}
		}}, true
}

// smallFiles is an ordinary folder where the kernel refuses the program to make
// a file longer.
func smallFiles(t *testing.T) full {
	t.Helper()
	limit := func(p *program, n uint64) {
		t.Helper()
		if err := unix.Prlimit(p.cmd.Process.Pid, unix.RLIMIT_FSIZE, &unix.Rlimit{Cur: n, Max: unix.RLIM_INFINITY}, nil); err != nil {
			t.Fatal(err)
		}
	}
	return full{dir: t.TempDir(),
		fill:  func(p *program) { limit(p, 4096) },
		empty: func(p *program) { limit(p, unix.RLIM_INFINITY) }}
}

// A full disk: nothing is acknowledged, the program says so and why, and once there
// is room it goes on by itself. What was acknowledged before and after is there.
func TestServe_DiskFull(t *testing.T) {
	for name, place := range map[string]func(*testing.T) (full, bool){
		"file system": smallDisk,
		"file size":   func(t *testing.T) (full, bool) { return smallFiles(t), true },
	} {
		t.Run(name, func(t *testing.T) {
			disk, ok := place(t)
			if !ok {
				t.Skip("SKIPPED: no file system may be mounted here; the file-size limit is tried instead")
			}
			fullThenEmpty(t, disk)
		})
	}
}

func fullThenEmpty(t *testing.T, disk full) {
	data, addr := filepath.Join(disk.dir, "house.db"), fmt.Sprintf("127.0.0.1:%d", port(t))
	config := write(t, "w.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\n[broker]\nlisten = %q\n", data, port(t), addr))
	p := launch(t, "serve", "--config", config)
	url := p.pages()
	all := devices(t, addr, 4, 0)
	moreAcknowledged(t, all, 100)
	disk.fill(p)
	p.says("nothing is acknowledged")
	eventually(t, "health is red and says why", func() (bool, string) {
		status, body := get(url + "/healthz")
		return status == http.StatusServiceUnavailable && strings.Contains(body, "has refused readings since"), body
	})
	metric(t, url, "weighbeam_ingest_failing 1")
	if _, page := get(url + "/"); !strings.Contains(page, "has refused readings since") {
		t.Errorf("the house is shown as if nothing were wrong:\n%s", page)
	}
	const failures = "weighbeam_ingest_append_failures_total"
	before, _ := look(t, url)
	stuck := acknowledged(all)
	eventually(t, "it tries again and again", func() (bool, string) {
		now, text := look(t, url)
		return now[failures] >= before[failures]+2, text
	})
	if n := acknowledged(all); n != stuck {
		t.Errorf("%d messages were acknowledged by a program whose disk is full", n-stuck)
	}
	disk.empty(p)
	moreAcknowledged(t, all, 100)
	p.says("the store takes readings again")
	eventually(t, "health is green again", func() (bool, string) {
		status, body := get(url + "/healthz")
		return status == http.StatusOK, body
	})
	if _, page := get(url + "/"); strings.Contains(page, "has refused readings since") {
		t.Errorf("what is over is told:\n%s", page)
	}
	look(t, url)
	if code := p.interrupt(); code != 0 {
		t.Errorf("ended with %d:\n%s", code, p.output())
	}
	holdAgainst(t, all, data)
}
