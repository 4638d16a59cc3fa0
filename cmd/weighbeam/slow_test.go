package main

import (
	"bufio"
	"fmt"
	"io"
	"os"
	"os/exec"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"
)

// slowDisk makes every sync of a running program take longer by delay, as a worn
// card does, and returns how many there were so far. It ends with the program.
func slowDisk(t *testing.T, p *program, delay time.Duration) (synced func() int64) {
	t.Helper()
	const traced = "fsync,fdatasync"
	cmd := exec.Command("strace", "-f", "-p", fmt.Sprint(p.cmd.Process.Pid),
		"-e", "trace="+traced, "-e", fmt.Sprintf("inject=%s:delay_exit=%d", traced, delay.Microseconds()))
	said, w := io.Pipe()
	cmd.Stderr = w
	if err := cmd.Start(); err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal(err)
		}
		t.Skip("SKIPPED: no strace: apt-get install strace")
	}
	ready, refused := make(chan struct{}), make(chan string, 1)
	var n atomic.Int64
	go func() {
		for s := bufio.NewScanner(said); s.Scan(); {
			switch line := s.Text(); {
			case strings.Contains(line, "(DELAYED)"):
				n.Add(1)
			case strings.Contains(line, "not permitted"):
				refused <- line
			case strings.Contains(line, "attached"):
				select {
				case <-ready:
				default:
					close(ready)
				}
			}
		}
	}()
	t.Cleanup(func() {
		p.kill()
		_ = cmd.Process.Signal(syscall.SIGTERM) // it ends with what it traces
		_ = cmd.Wait()
		w.Close()
	})
	select {
	case <-ready:
	case line := <-refused:
		t.Skip("SKIPPED: no program may be traced here: " + line)
	case <-time.After(30 * time.Second):
		t.Fatal("strace does not say that it is attached")
	}
	return n.Load
}

// A disk that takes a sixth of a second for each sync: a device waits that long for
// its acknowledgement and all wait together, nothing fails or is given up, and what
// was acknowledged is there.
func TestServe_SlowDisk(t *testing.T) {
	t.Parallel() // it waits more than it works
	for name, broker := range brokers(t) {
		t.Run(name, func(t *testing.T) {
			settings, addr := broker()
			p, url, data := serveWith(t, settings)
			all := devices(t, addr, 16, 10*time.Millisecond)
			moreAcknowledged(t, all, 100)
			synced := slowDisk(t, p, 160*time.Millisecond)
			from, before, atFirst := time.Now(), synced(), stored(t, data)
			eventually(t, "readings go on being stored", func() (bool, string) {
				n := stored(t, data)
				return n >= atFirst+200, fmt.Sprint(n - atFirst)
			})
			took, syncs := time.Since(from), synced()-before
			if syncs < 2 || took < time.Duration(syncs-2)*160*time.Millisecond {
				t.Errorf("%d syncs in %v: the disk was not slow", syncs, took)
			}
			values, _ := look(t, url)
			if n := values["weighbeam_ingest_append_failures_total"]; n != 0 {
				t.Errorf("%g commits failed on a disk that is only slow", n)
			}
			t.Logf("%d readings by %d syncs in %v", stored(t, data)-atFirst, syncs, took.Round(time.Millisecond))
			if code := p.terminate(); code != 0 {
				t.Errorf("ended with %d:\n%s", code, p.output())
			}
			if name == "inside" { // outside the broker acknowledges, and keeps what was not taken yet
				holdAgainst(t, all, data)
			}
		})
	}
}
