package main

import (
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// The real program tells systemd that it is ready, then again and again that it
// lives, and that it stops.
func TestServe_TellsSystemd(t *testing.T) {
	dir, err := os.MkdirTemp("", "s") // a socket's path must be short
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	socket := filepath.Join(dir, "n")
	l, err := net.ListenUnixgram("unixgram", &net.UnixAddr{Name: socket, Net: "unixgram"})
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	t.Setenv("NOTIFY_SOCKET", socket)
	t.Setenv("WATCHDOG_USEC", "300000")
	hears := func(want string) {
		t.Helper()
		if err := l.SetReadDeadline(time.Now().Add(30 * time.Second)); err != nil {
			t.Fatal(err)
		}
		for {
			b := make([]byte, 200)
			n, err := l.Read(b)
			if err != nil {
				t.Fatalf("never %s: %v", want, err)
			}
			if string(b[:n]) == want {
				return
			}
		}
	}
	p := launch(t, "serve", "--config", write(t, "w.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:0\"\n[broker]\nlisten = \"127.0.0.1:0\"\n", t.TempDir()+"/house.db")))
	hears("READY=1")
	hears("WATCHDOG=1")
	hears("WATCHDOG=1")
	if code := p.interrupt(); code != 0 {
		t.Errorf("ended with %d", code)
	}
	hears("STOPPING=1")
}

// The shipped unit is well formed and leaves little to attack: systemd's own
// measure goes from 0 (nothing) to 10.
func TestDeploy_Unit(t *testing.T) {
	analyze := needed(t, "systemd-analyze", "systemd")
	unit := filepath.Join("..", "..", "deploy", "weighbeam.service")
	if out, err := exec.CommandContext(t.Context(), analyze, "security", "--offline=true", "--threshold=20", unit).CombinedOutput(); err != nil {
		lines := strings.Split(strings.TrimSpace(string(out)), "\n")
		t.Errorf("%v: %s", err, lines[len(lines)-1])
	}
	text, err := os.ReadFile(unit)
	if err != nil {
		t.Fatal(err)
	}
	for _, line := range []string{"Type=notify", "WatchdogSec=", "DynamicUser=yes"} {
		if !strings.Contains(string(text), line) {
			t.Errorf("the unit has no %s", line)
		}
	}
}
