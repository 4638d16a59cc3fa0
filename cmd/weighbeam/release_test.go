package main

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// release builds a release into a new folder and returns its checksums.
func release(t *testing.T) (folder, sums string) {
	t.Helper()
	folder = t.TempDir()
	cmd := exec.CommandContext(t.Context(), filepath.Join("..", "..", "deploy", "release.sh"), "0.0.1", folder)
	cmd.Env = append(os.Environ(), "GOFLAGS=")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	text, err := os.ReadFile(filepath.Join(folder, "SHA256SUMS"))
	if err != nil {
		t.Fatal(err)
	}
	return folder, string(text)
}

// A release that is built twice has the same bytes: programs, packages, list of parts
// and manual page. Those for small computers start and answer, each under an
// emulator of its processor.
func TestRelease_SameBytes_AndStartsOnARM(t *testing.T) {
	if os.Getenv("WEIGHBEAM_LONG") == "" {
		t.Skip("SKIPPED: builds a release twice; WEIGHBEAM_LONG=1 runs it")
	}
	folder, first := release(t)
	if _, second := release(t); first != second {
		t.Errorf("built twice, two releases:\n%s\n%s", first, second)
	}
	for file, emulator := range map[string]string{"linux-arm64": "qemu-aarch64-static", "linux-armv7": "qemu-arm-static", "linux-armv6": "qemu-arm-static"} {
		t.Run(file, func(t *testing.T) {
			answers(t, needed(t, emulator, "qemu-user-static"), filepath.Join(folder, "weighbeam-0.0.1-"+file))
		})
	}
}

// answers starts a program of another processor and asks it for the house page.
func answers(t *testing.T, emulator, program string) {
	t.Helper()
	addr := fmt.Sprintf("127.0.0.1:%d", port(t))
	settings := write(t, "weighbeam.toml", fmt.Sprintf("data = %q\nlisten = %q\n[broker]\nlisten = \"127.0.0.1:0\"\n", t.TempDir()+"/house.db", addr))
	var said strings.Builder
	cmd := exec.Command(emulator, program, "serve", "--config", settings)
	cmd.Stdout, cmd.Stderr = &said, &said
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		_ = cmd.Process.Kill() // it is ours
		_ = cmd.Wait()
	})
	body := ""
	for deadline := time.Now().Add(2 * time.Minute); time.Now().Before(deadline); <-time.After(200 * time.Millisecond) {
		var status int
		if status, body = get("http://" + addr + "/"); status == 200 && strings.Contains(body, "Weighbeam 0.0.1") {
			return
		}
	}
	t.Errorf("does not answer: %s\n%s", body, said.String())
}

// The manual page and the completion of shells come from the commands themselves.
func TestMan_AndCompletion_KnowEveryCommand(t *testing.T) {
	page, code := once(t, "", "man")
	if code != 0 || !strings.HasPrefix(page, ".TH WEIGHBEAM 1 ") {
		t.Fatalf("%d: %s", code, page)
	}
	t.Setenv("COMP_LINE", "weighbeam ")
	offered, _ := once(t, "")
	for _, command := range []string{"serve", "demo", "verify", "backup", "restore", "replay", "password"} {
		if !strings.Contains(page, `\fB`+command) || !strings.Contains(offered, command+"\n") {
			t.Errorf("%s is missing on the page or is not offered:\n%s", command, offered)
		}
	}
	if strings.Contains(offered, "carry") {
		t.Error("a hidden command is offered")
	}
}
