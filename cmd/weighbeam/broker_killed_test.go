package main

import (
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"
)

// shippedBroker is mosquitto with the settings of deploy/, but for its users and port.
type shippedBroker struct {
	t        *testing.T
	path     string
	conf     string
	addr     string
	database string // where it writes what it holds
	cmd      *exec.Cmd
}

func newShippedBroker(t *testing.T) *shippedBroker {
	t.Helper()
	startMosquitto(t, port(t)) // or the test is skipped
	path, err := exec.LookPath("mosquitto")
	if err != nil {
		path = "/usr/sbin/mosquitto"
	}
	dir, n := t.TempDir(), port(t)
	if err := os.Mkdir(filepath.Join(dir, "data"), 0o700); err != nil {
		t.Fatal(err)
	}
	b := &shippedBroker{t: t, path: path, addr: fmt.Sprintf("127.0.0.1:%d", n), conf: filepath.Join(dir, "mosquitto.conf"),
		database: filepath.Join(dir, "data", "mosquitto.db")}
	text := shipped(t, "mosquitto.conf", dir, "listener 1883", fmt.Sprintf("listener %d 127.0.0.1\nuser root", n),
		"allow_anonymous false", "allow_anonymous true", "password_file", "# password_file", "acl_file", "# acl_file")
	if err := os.WriteFile(b.conf, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(b.kill)
	b.start()
	return b
}

func (b *shippedBroker) start() {
	b.t.Helper()
	b.cmd = exec.Command(b.path, "-c", b.conf)
	if err := b.cmd.Start(); err != nil {
		b.t.Fatal(err)
	}
	eventually(b.t, "the broker answers", func() (bool, string) {
		c, err := net.Dial("tcp", b.addr)
		if err != nil {
			return false, err.Error()
		}
		return true, fmt.Sprint(c.Close())
	})
}

func (b *shippedBroker) kill() {
	if b.cmd != nil {
		_ = b.cmd.Process.Kill() // it is ours
		_ = b.cmd.Wait()
		b.cmd = nil
	}
}

// saved waits until the broker has written down what it held at that moment.
func (b *shippedBroker) saved() {
	b.t.Helper()
	now := time.Now()
	eventually(b.t, "the broker saves what it holds", func() (bool, string) {
		info, err := os.Stat(b.database)
		return err == nil && info.ModTime().After(now), fmt.Sprint(err)
	})
}

// With the shipped settings the broker is killed while it holds messages for a
// program that is away, and again while the program is there: what was acknowledged
// to the scale is stored once.
func TestDeploy_BrokerKilled(t *testing.T) {
	t.Parallel() // it waits more than it works
	b := newShippedBroker(t)
	data := filepath.Join(t.TempDir(), "house.db")
	config := write(t, "w.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\n[mqtt]\nserver = \"mqtt://%s\"\n", data, port(t), b.addr))
	p := launch(t, "serve", "--config", config)
	url := p.pages()
	eventually(t, "the broker has met the program", func() (bool, string) {
		status, body := get(url + "/healthz")
		return status == http.StatusOK, body
	})
	s := newStream(t, b.addr)
	publish := func(n int) {
		for range n {
			s.publish()
		}
	}
	publish(20)
	p.kill()
	publish(1200) // more than mosquitto's own default keeps for a client that is away
	b.saved()
	b.kill()
	b.start()
	p = launch(t, "serve", "--config", config)
	url = p.pages()
	publish(20)
	s.arrive(t, data)
	look(t, url)
	for range 2 {
		b.kill()
		publish(3) // to nobody: they wait with the scale
		b.start()
		publish(17)
		s.arrive(t, data)
		look(t, url)
	}
	if code := p.interrupt(); code != 0 {
		t.Errorf("ended with %d:\n%s", code, p.output())
	}
	s.compare(t, data, false)
}
