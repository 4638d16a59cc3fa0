// Package mqtttest runs a real mosquitto and plain clients for tests. Only tests
// may import it. Where mosquitto is not installed a test is skipped with the name
// of what is missing, or fails where the environment says CI.
package mqtttest

import (
	"context"
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// Mosquitto is a broker process with a configuration and a folder of its own.
type Mosquitto struct {
	t    testing.TB
	conf string
	addr string
	cmd  *exec.Cmd
}

// Need returns the path of a program, or skips the test; in CI it fails it.
func Need(t testing.TB, program string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil {
		path, err = exec.LookPath(filepath.Join("/usr/sbin", program)) // not in a user's PATH on Debian
	}
	if err == nil {
		return path
	}
	if os.Getenv("CI") != "" {
		t.Fatalf("%s is not installed, and in CI nothing is skipped", program)
	}
	t.Skipf("SKIPPED, %s is not installed: apt-get install mosquitto mosquitto-clients", program)
	return ""
}

// Start starts mosquitto on a free loopback port, with a persistent store and the
// given further lines of configuration, and stops it when the test ends.
func Start(t testing.TB, lines ...string) *Mosquitto {
	t.Helper()
	Need(t, "mosquitto")
	m := Configure(t, lines...)
	m.Start()
	return m
}

// Configure prepares a broker without starting it.
func Configure(t testing.TB, lines ...string) *Mosquitto {
	t.Helper()
	dir := t.TempDir()
	addr := FreeAddr(t)
	_, port, _ := net.SplitHostPort(addr)
	conf := []string{
		"listener " + port + " 127.0.0.1",
		"persistence true", "persistence_location " + dir + "/", "autosave_interval 5",
		"max_queued_messages 100000", "user " + user(),
	}
	if !strings.Contains(strings.Join(lines, "\n"), "allow_anonymous") {
		conf = append(conf, "allow_anonymous true")
	}
	path := filepath.Join(dir, "mosquitto.conf")
	if err := os.WriteFile(path, []byte(strings.Join(append(conf, lines...), "\n")+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	m := &Mosquitto{t: t, conf: path, addr: addr}
	t.Cleanup(func() { m.Stop() })
	return m
}

// user keeps mosquitto from giving up the rights to its folder when run by root.
func user() string {
	if os.Getuid() == 0 {
		return "root"
	}
	return os.Getenv("USER")
}

// FreeAddr is a loopback address that nothing listened on a moment ago.
func FreeAddr(t testing.TB) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	return l.Addr().String()
}

// Addr is host:port.
func (m *Mosquitto) Addr() string { return m.addr }

// URL is the address as a client writes it.
func (m *Mosquitto) URL() string { return "tcp://" + m.addr }

// Start starts the process and waits until it answers.
func (m *Mosquitto) Start() {
	m.t.Helper()
	m.cmd = exec.Command(Need(m.t, "mosquitto"), "-c", m.conf)
	var out strings.Builder
	m.cmd.Stdout, m.cmd.Stderr = &out, &out
	if err := m.cmd.Start(); err != nil {
		m.t.Fatal(err)
	}
	ctx, cancel := context.WithTimeout(context.Background(), 10*time.Second)
	defer cancel()
	for {
		conn, err := (&net.Dialer{}).DialContext(ctx, "tcp", m.addr)
		if err == nil {
			conn.Close()
			return
		}
		select {
		case <-ctx.Done():
			m.Stop()
			m.t.Fatalf("mosquitto does not answer: %s", out.String())
		case <-time.After(10 * time.Millisecond):
		}
	}
}

// Stop ends the process in good order, so that it saves its sessions.
func (m *Mosquitto) Stop() { m.end(os.Interrupt) }

// Kill ends the process at once.
func (m *Mosquitto) Kill() { m.end(os.Kill) }

func (m *Mosquitto) end(sig os.Signal) {
	if m.cmd == nil {
		return
	}
	if err := m.cmd.Process.Signal(sig); err == nil {
		timer := time.AfterFunc(5*time.Second, func() { m.cmd.Process.Kill() })
		m.cmd.Wait()
		timer.Stop()
	}
	m.cmd = nil
}

// Publish runs mosquitto_pub with QoS 1 and returns when it has its answer.
func (m *Mosquitto) Publish(topic, payload string, args ...string) error {
	return PublishTo(m.t, m.addr, topic, payload, args...)
}

// PublishTo runs mosquitto_pub against any broker.
func PublishTo(t testing.TB, addr, topic, payload string, args ...string) error {
	t.Helper()
	host, port, _ := net.SplitHostPort(addr)
	all := append([]string{"-h", host, "-p", port, "-q", "1", "-t", topic, "-m", payload}, args...)
	ctx, cancel := context.WithTimeout(context.Background(), 20*time.Second)
	defer cancel()
	out, err := exec.CommandContext(ctx, Need(t, "mosquitto_pub"), all...).CombinedOutput()
	if err != nil {
		return fmt.Errorf("mosquitto_pub: %w: %s", err, out)
	}
	return nil
}
