package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"
)

// TestMain lets the test binary be the program itself, so that what is killed
// and read here is the real process.
func TestMain(m *testing.M) {
	if addr := os.Getenv("WEIGHBEAM_BE_BARE"); addr != "" {
		os.Exit(bareSubscriber(addr))
	}
	if os.Getenv("WEIGHBEAM_BE_THE_PROGRAM") == "1" {
		signal.Ignore(syscall.SIGXFSZ) // a file that may not grow is then an error like any other, see smallFiles
		os.Exit(terminal{out: os.Stdout, err: os.Stderr, house: houseOf(os.Getenv("WEIGHBEAM_CLOCK"))}.run(os.Args[1:]))
	}
	code := m.Run()
	if built != "" {
		os.RemoveAll(built)
	}
	os.Exit(code)
}

// program is a running weighbeam.
type program struct {
	t    testing.TB
	cmd  *exec.Cmd
	done chan struct{}
	code int

	mu   sync.Mutex
	text bytes.Buffer
	grew chan struct{}
}

// launch starts the program; it is killed when the test ends.
func launch(t testing.TB, args ...string) *program {
	t.Helper()
	return launchBy(t, "", args...)
}

// launchBy starts the program by the clock that a file shows; "": the machine's.
func launchBy(t testing.TB, clock string, args ...string) *program {
	t.Helper()
	return launchTold(t, clock, nil, args...)
}

// launchTold starts the program with what somebody types, nil for nobody.
func launchTold(t testing.TB, clock string, typed *os.File, args ...string) *program {
	t.Helper()
	return launchWith(t, []string{"WEIGHBEAM_BE_THE_PROGRAM=1", "WEIGHBEAM_CLOCK=" + clock}, typed, args...)
}

// launchWith starts the test binary as what env makes of it.
func launchWith(t testing.TB, env []string, typed *os.File, args ...string) *program {
	t.Helper()
	return launchCmd(t, exec.Command(programPath(t), args...), env, typed)
}

// launchCmd starts a command that is, or becomes, the test binary.
func launchCmd(t testing.TB, cmd *exec.Cmd, env []string, typed *os.File) *program {
	t.Helper()
	p := &program{t: t, cmd: cmd, done: make(chan struct{}), grew: make(chan struct{}, 1)}
	p.cmd.Env = append(os.Environ(), env...)
	p.cmd.Dir = t.TempDir()
	out, w := io.Pipe()
	p.cmd.Stdout, p.cmd.Stderr = w, w
	if typed != nil {
		p.cmd.Stdin = typed
	}
	if err := p.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	read := make(chan struct{})
	go func() {
		defer close(read)
		for s := bufio.NewScanner(out); s.Scan(); {
			p.mu.Lock()
			p.text.WriteString(s.Text() + "\n")
			p.mu.Unlock()
			select {
			case p.grew <- struct{}{}:
			default:
			}
		}
	}()
	go func() {
		_ = p.cmd.Wait() // the exit code is looked at below
		p.code = p.cmd.ProcessState.ExitCode()
		w.Close()
		<-read
		close(p.done)
	}()
	t.Cleanup(func() { p.kill() })
	return p
}

func (p *program) output() string {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.text.String()
}

// said returns the line with text, if the program has printed one.
func (p *program) said(text string) (string, bool) {
	for line := range strings.Lines(p.output()) {
		if strings.Contains(line, text) {
			return strings.TrimSpace(line), true
		}
	}
	return "", false
}

// says waits until the program has printed text, and returns the line with it.
func (p *program) says(text string) string {
	p.t.Helper()
	deadline := time.After(30 * time.Second)
	for {
		if line, ok := p.said(text); ok {
			return line
		}
		select {
		case <-p.grew:
		case <-p.done:
			if !strings.Contains(p.output(), text) {
				p.t.Fatalf("ended with %d without saying %q:\n%s", p.code, text, p.output())
			}
		case <-deadline:
			p.t.Fatalf("did not say %q:\n%s", text, p.output())
		}
	}
}

// pages is the address of the pages, from what the program printed.
func (p *program) pages() string {
	p.t.Helper()
	fields := strings.Fields(p.says("  pages "))
	return fields[1]
}

func (p *program) kill() {
	_ = p.cmd.Process.Kill() // it may have ended by itself
	<-p.done
}

// interrupt asks the program to end, as Ctrl-C does, and returns its exit code.
func (p *program) interrupt() int {
	p.t.Helper()
	if err := p.cmd.Process.Signal(syscall.SIGINT); err != nil {
		p.t.Fatal(err)
	}
	select {
	case <-p.done:
	case <-time.After(20 * time.Second):
		p.t.Fatalf("still runs 20 s after being asked to end:\n%s", p.output())
	}
	return p.code
}

// get fetches a page, or returns status 0 while nobody answers.
func get(url string) (status int, body string) { return getAs(url, "") }

// getAs fetches a page with a bearer token.
func getAs(url, token string) (status int, body string) {
	ctx, cancel := context.WithTimeout(context.Background(), 5*time.Second)
	defer cancel()
	req, err := http.NewRequestWithContext(ctx, http.MethodGet, url, nil)
	if err != nil {
		return 0, err.Error()
	}
	if token != "" {
		req.Header.Set("Authorization", "Bearer "+token)
	}
	resp, err := http.DefaultClient.Do(req)
	if err != nil {
		return 0, err.Error()
	}
	defer resp.Body.Close()
	b, err := io.ReadAll(resp.Body)
	if err != nil {
		return 0, err.Error()
	}
	return resp.StatusCode, string(b)
}

// eventually asks again and again, at most two minutes, until ok.
func eventually(t testing.TB, what string, ok func() (bool, string)) {
	t.Helper()
	asking(t, 50*time.Millisecond, what, ok)
}

// asking is eventually with a pause of its own between two questions.
func asking(t testing.TB, pause time.Duration, what string, ok func() (bool, string)) {
	t.Helper()
	last := ""
	tick := time.NewTicker(pause)
	defer tick.Stop()
	for deadline := time.Now().Add(2 * time.Minute); time.Now().Before(deadline); <-tick.C {
		var done bool
		if done, last = ok(); done {
			return
		}
	}
	t.Fatalf("never: %s\nlast seen:\n%s", what, last)
}

// ports counts the ports that were handed out, from another beginning in each process.
var ports atomic.Int64

func init() { ports.Store(int64(os.Getpid()) * 97) }

// port is a free port of this machine, below those that connections are given, so that
// nobody has it before the program does.
func port(t testing.TB) int {
	t.Helper()
	for range 1000 {
		n := 20_000 + int(ports.Add(1)%12_000)
		if l, err := net.Listen("tcp", fmt.Sprintf("127.0.0.1:%d", n)); err == nil {
			l.Close()
			return n
		}
	}
	t.Fatal("no port is free")
	return 0
}

// write makes a file in a folder of the test and returns its path.
func write(t testing.TB, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// mosquitto starts the real broker on a free port and returns its address.
func mosquitto(t testing.TB) string {
	t.Helper()
	addr, _ := startMosquitto(t, port(t))
	return addr
}

// startMosquitto starts the real broker on a port; stop kills it, as the end of
// the test does. On a machine without it the test is skipped, loudly, but not in CI.
func startMosquitto(t testing.TB, port int) (addr string, stop func()) {
	t.Helper()
	path, err := exec.LookPath("mosquitto")
	if err != nil {
		if path, err = exec.LookPath("/usr/sbin/mosquitto"); err != nil {
			if os.Getenv("CI") != "" {
				t.Fatal("mosquitto is not installed: apt-get install mosquitto")
			}
			t.Skip("SKIPPED: mosquitto is not installed (apt-get install mosquitto); nothing was tested against a real broker")
		}
	}
	conf := write(t, "mosquitto.conf", fmt.Sprintf("listener %d 127.0.0.1\nallow_anonymous true\nmax_queued_messages 1000000\nuser root\n", port))
	cmd := exec.Command(path, "-c", conf)
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	var once sync.Once
	stop = func() {
		once.Do(func() {
			_ = cmd.Process.Kill() // it is ours
			_ = cmd.Wait()
		})
	}
	t.Cleanup(stop)
	addr = fmt.Sprintf("127.0.0.1:%d", port)
	eventually(t, "mosquitto answers", func() (bool, string) {
		c, err := net.Dial("tcp", addr)
		if err != nil {
			return false, err.Error()
		}
		return true, fmt.Sprint(c.Close())
	})
	return addr, stop
}
