package main

import (
	"fmt"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// traced starts the program under strace, which writes what it asks of networks into the
// file that is returned.
func traced(t *testing.T, args ...string) (p *program, trace string) {
	t.Helper()
	path, err := exec.LookPath("strace")
	if err != nil {
		if os.Getenv("CI") != "" {
			t.Fatal("strace is not installed: apt-get install strace")
		}
		t.Skip("SKIPPED: strace is not installed (apt-get install strace)")
	}
	trace = filepath.Join(t.TempDir(), "trace")
	cmd := exec.Command(path, append([]string{"-D", "-f", "-q", "-e", "trace=bind,connect,sendto,sendmsg", "-o", trace, os.Args[0]}, args...)...)
	return launchCmd(t, cmd, []string{"WEIGHBEAM_BE_THE_PROGRAM=1"}, nil), trace
}

var address = regexp.MustCompile(`sin6?_port=htons\((\d+)\).*?(?:inet_addr\(|inet_pton\(AF_INET6, )"([^"]+)"`)

// Started without a word about others, the program listens on loopback alone and speaks
// to nobody, nor tries to: no account, no telemetry, no look for updates, no name asked for.
func TestServe_StaysInTheHouse(t *testing.T) {
	pages, broker := port(t), port(t)
	p, trace := traced(t, "serve", "--config", write(t, "w.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\n[broker]\nlisten = \"127.0.0.1:%d\"\n",
		filepath.Join(t.TempDir(), "house.db"), pages, broker)))
	url := p.pages()
	if strings.Contains(p.output(), "not permitted") {
		t.Skip("SKIPPED: no program may be traced here: " + p.output())
	}
	for _, path := range []string{"/", "/check", "/household", "/notices", "/metrics"} {
		if status, body := get(url + path); status != 200 {
			t.Errorf("%s: %d\n%s", path, status, body)
		}
	}
	if code := p.interrupt(); code != 0 {
		t.Errorf("ended with %d:\n%s", code, p.output())
	}
	var said []byte
	eventually(t, "the trace is written", func() (bool, string) {
		said, _ = os.ReadFile(trace) // asked again
		return regexp.MustCompile(fmt.Sprintf(`(?m)^%d +\+\+\+ exited`, p.cmd.Process.Pid)).Match(said), string(said)
	})
	bound := ""
	for line := range strings.Lines(string(said)) {
		for _, at := range address.FindAllStringSubmatch(line, -1) {
			bound += " " + at[1]
			if ip := net.ParseIP(at[2]); !ip.IsLoopback() {
				t.Errorf("not of loopback: %s", line)
			}
		}
	}
	for _, n := range []int{pages, broker} {
		if !strings.Contains(bound, fmt.Sprint(" ", n)) {
			t.Errorf("nothing is seen of port %d:\n%s", n, said)
		}
	}
}
