package main

import (
	"fmt"
	"net/http"
	"path/filepath"
	"strings"
	"testing"
)

// A stranger starts the demo and sees the job being done: a loss, rising
// breaths, a cat that is well, and the notices that were sent. Stopping and
// starting keeps it and tells nobody twice.
func TestDemo_TellsTheStory(t *testing.T) {
	folder := filepath.Join(t.TempDir(), "a house")
	demo := func() *program {
		return launch(t, "demo", "--data", folder, "--listen", "127.0.0.1:0", "--speed", "3600")
	}
	first := demo()
	url := first.pages()
	first.says("Notice: Bramble: weight falling")
	first.says("Notice: Quill: breath")
	eventually(t, "the house page tells it", func() (bool, string) {
		_, body := get(url + "/")
		return strings.Contains(body, "Weight is falling") && strings.Contains(body, "Sleeping breaths are rising") &&
			strings.Contains(body, "Nothing found that needs you"), body
	})
	eventually(t, "devices are heard over MQTT", func() (bool, string) {
		_, body := get(url + "/metrics")
		return !strings.Contains(body, `weighbeam_readings_stored_total{way="broker"} 0`) &&
			strings.Contains(body, `weighbeam_readings_stored_total{way="broker"}`), body
	})
	for _, path := range []string{"/cats/bramble", "/check", "/check/saffron", "/set-aside"} {
		if status, body := get(url + path); status != http.StatusOK {
			t.Errorf("%s: %d\n%s", path, status, body)
		}
	}
	// By a clock that runs sixty times as fast, a busy machine is late with a notice for a moment.
	eventually(t, "all is well", func() (bool, string) {
		status, body := get(url + "/healthz")
		return status == http.StatusOK, body
	})
	if code := first.interrupt(); code != 0 {
		t.Fatalf("ended with %d:\n%s", code, first.output())
	}

	second := demo()
	url = second.pages()
	eventually(t, "the same house again", func() (bool, string) {
		_, body := get(url + "/")
		return strings.Contains(body, "Weight is falling"), body
	})
	if out := second.output(); strings.Contains(out, "Notice: Bramble: weight falling") || strings.Contains(out, "Loaded") {
		t.Errorf("told twice, or loaded twice:\n%s", out)
	}
	if code := second.interrupt(); code != 0 {
		t.Errorf("ended with %d:\n%s", code, second.output())
	}
}

// What cannot work is refused with the mend, and the exit code says so.
func TestServe_Refuses(t *testing.T) {
	taken := fmt.Sprintf("127.0.0.1:%d", port(t))
	holder := launch(t, "serve", "--config", write(t, "a.toml", fmt.Sprintf("listen = %q\n[broker]\nlisten = \"127.0.0.1:%d\"", taken, port(t))))
	holder.says("Watching")
	shared := filepath.Join(holder.cmd.Dir, "weighbeam-data", "house.db")
	for _, row := range []struct {
		name, settings string
		want           []string
	}{
		// A slip of the pen is shown where it is.
		{"unknown key", "data = \"x\"\n\nlisen = \"127.0.0.1:1\"", []string{"line 3", "lisen", "weighbeam.toml"}},
		// Two programs cannot have one port.
		{"port in use", fmt.Sprintf("listen = %q", taken), []string{"in use", "listen"}},
		// Two programs cannot have one store.
		{"store in use", fmt.Sprintf("data = %q", shared), []string{"another process", "Stop the other"}},
		// A secret that is not there is named by its file.
		{"no password file", "[mqtt]\nserver = \"mqtt://127.0.0.1:1\"\npassword_file = \"nowhere\"", []string{"nowhere", "secret"}},
	} {
		t.Run(row.name, func(t *testing.T) {
			settings := row.settings
			if !strings.Contains(settings, "listen =") {
				settings = fmt.Sprintf("listen = \"127.0.0.1:%d\"\n", port(t)) + settings
			}
			if strings.Contains(row.settings, "lisen") {
				settings = row.settings
			}
			p := launch(t, "serve", "--config", write(t, "b.toml", settings))
			<-p.done
			out := p.output()
			for _, want := range row.want {
				if !strings.Contains(out, want) {
					t.Errorf("%q is not in\n%s", want, out)
				}
			}
			if p.code != 1 {
				t.Errorf("exit code %d, want 1", p.code)
			}
		})
	}
}

func TestRun_UsageIsTwo(t *testing.T) {
	var out, errOut strings.Builder
	if code := run([]string{"weigh"}, &out, &errOut); code != 2 || !strings.Contains(errOut.String(), "weigh") {
		t.Errorf("code %d: %s", code, errOut.String())
	}
	if code := run([]string{"--help"}, &out, &errOut); code != 0 || !strings.Contains(out.String(), "demo") {
		t.Errorf("help: code %d: %s", code, out.String())
	}
}
