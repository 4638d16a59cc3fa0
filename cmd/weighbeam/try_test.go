package main

import (
	"fmt"
	"net/http"
	"net/url"
	"os"
	"strings"
	"testing"
)

// commanded runs a command of the program to its end, as a person does in a shell.
func commanded(t *testing.T, args ...string) (code int, said string) {
	t.Helper()
	p := launch(t, args...)
	<-p.done
	return p.code, p.output()
}

// A keeper sets channels up: tries each from the shell before the program runs
// and while it does, and from the page; a channel that does not work says why,
// and what happened is still known after a restart.
func TestTry_EveryChannel(t *testing.T) {
	r := newReceivers(t)
	config, out := channelsHouse(t, r)
	for _, name := range []string{"house", "ada", "bell", "phone"} {
		code, said := commanded(t, "try", name, "--config", config)
		if code != 0 || !strings.Contains(said, name+" took a message") {
			t.Errorf("try %s ended with %d:\n%s", name, code, said)
		}
	}
	hooks, service, letters := r.took()
	bell, err := os.ReadFile(out)
	if len(hooks) != 1 || len(service) != 1 || len(letters) != 1 || !strings.Contains(string(bell), "asked for") {
		t.Errorf("hooks %q, service %q, letters %q, bell %q, %v", hooks, service, letters, bell, err)
	}
	first := launch(t, "serve", "--config", config)
	pages := first.pages()
	r.down(true)
	code, said := commanded(t, "try", "house", "--config", config)
	if code != 1 || !strings.Contains(said, "503") || !strings.Contains(said, "would be tried again") {
		t.Errorf("a receiver that is down: %d\n%s", code, said)
	}
	for channel, want := range map[string]string{"house": "house did not take the trial: it answered HTTP 503", "bell": "bell took the trial"} {
		resp, err := http.PostForm(pages+"/notices/try", url.Values{"channel": {channel}})
		if err != nil {
			t.Fatal(err)
		}
		resp.Body.Close()
		if _, body := get(resp.Request.URL.String()); !strings.Contains(body, want) {
			t.Errorf("the page does not say %q:\n%s", want, body)
		}
	}
	first.kill()
	second := launch(t, "serve", "--config", config)
	if _, body := get(second.pages() + "/notices"); !strings.Contains(body, "It does not work now: it answered HTTP 503") {
		t.Errorf("after a restart the page does not know:\n%s", body)
	}
	code, said = commanded(t, "try", "--config", config)
	if code != 0 || !strings.Contains(said, "house did not take the last one: it answered HTTP 503") || strings.Contains(said, r.web.URL) {
		t.Errorf("the list: %d\n%s", code, said)
	}
}

// What cannot be tried is refused with what can.
func TestTry_Refuses(t *testing.T) {
	config, _ := channelsHouse(t, newReceivers(t))
	none := write(t, "none.toml", fmt.Sprintf("data = %q\n", "nowhere.db"))
	for _, row := range []struct {
		name string
		args []string
		code int
		want string
	}{
		// A slip of the pen is answered with the names that there are.
		{"no such channel", []string{"fax", "--config", config}, 1, "There are: house, ada, bell, phone."},
		// Nothing is set: said, and how to mend it.
		{"no channel at all", []string{"fax", "--config", none}, 1, "deploy/weighbeam.toml"},
		{"a list of none but the browsers", []string{"--config", none}, 0, "No channel is set"},
	} {
		t.Run(row.name, func(t *testing.T) {
			code, said := commanded(t, append([]string{"try"}, row.args...)...)
			if code != row.code || !strings.Contains(said, row.want) {
				t.Errorf("ended with %d:\n%s", code, said)
			}
		})
	}
}
