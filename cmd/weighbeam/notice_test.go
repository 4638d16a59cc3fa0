package main

import (
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-smtp"

	"weighbeam/home"
)

// receivers are the far ends of the channels: a real web server and a real mail
// server on loopback, which keep what they took and when.
type receivers struct {
	web  *httptest.Server
	mail string

	mu      sync.Mutex
	refuse  bool // answer 503
	hooks   []string
	service []string
	letters []string
	at      time.Time // of the newest
}

func newReceivers(t *testing.T) *receivers {
	t.Helper()
	r := &receivers{}
	mux := http.NewServeMux()
	keep := func(to *[]string) http.HandlerFunc {
		return func(w http.ResponseWriter, req *http.Request) {
			b, err := io.ReadAll(req.Body)
			r.mu.Lock()
			defer r.mu.Unlock()
			if err != nil || r.refuse {
				w.WriteHeader(http.StatusServiceUnavailable)
				return
			}
			*to, r.at = append(*to, req.Header.Get("Weighbeam-Id")+" "+string(b)), time.Now()
		}
	}
	mux.HandleFunc("/hook", keep(&r.hooks))
	mux.HandleFunc("/service", keep(&r.service))
	r.web = httptest.NewServer(mux)
	t.Cleanup(r.web.Close)
	r.mail = serveMail(t, r)
	return r
}

// serveMail starts a mail server and returns its address; it ends with the test.
func serveMail(t *testing.T, b smtp.Backend) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	s := smtp.NewServer(b)
	s.Domain, s.ErrorLog = "localhost", log.New(io.Discard, "", 0)
	go func() { _ = s.Serve(l) }() // ends with the listener
	t.Cleanup(func() { s.Close() })
	return l.Addr().String()
}

// NewSession makes r a mail server.
func (r *receivers) NewSession(*smtp.Conn) (smtp.Session, error) { return session{r}, nil }

type session struct{ r *receivers }

func (session) Mail(string, *smtp.MailOptions) error { return nil }
func (session) Rcpt(string, *smtp.RcptOptions) error { return nil }
func (session) Reset()                               {}
func (session) Logout() error                        { return nil }
func (s session) Data(body io.Reader) error {
	b, err := io.ReadAll(body)
	s.r.mu.Lock()
	defer s.r.mu.Unlock()
	s.r.letters = append(s.r.letters, string(b))
	return err
}

func (r *receivers) took() (hooks, service, letters []string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return append([]string{}, r.hooks...), append([]string{}, r.service...), append([]string{}, r.letters...)
}

func (r *receivers) down(yes bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.refuse = yes
}

// redFlag fills in the form on the page, as a person without script does.
func redFlag(t *testing.T, pages string) {
	t.Helper()
	_, body := get(pages + "/check/juniper")
	id := regexp.MustCompile(`name="id" value="([^"]+)"`).FindStringSubmatch(body)
	if id == nil {
		t.Fatalf("no form:\n%s", body)
	}
	flag(t, pages, id[1], home.OpenMouth)
}

// flag posts a home check of juniper under an id.
func flag(t *testing.T, pages, id string, seen home.RedFlag) {
	t.Helper()
	flagOf(t, "juniper", pages, id, seen)
}

// flagOf posts a home check of a cat under an id.
func flagOf(t *testing.T, cat, pages, id string, seen home.RedFlag) {
	t.Helper()
	resp, err := http.PostForm(pages+"/check", url.Values{"id": {id}, "cat": {cat}, "flag": {string(seen)}})
	if err != nil {
		t.Fatal(err)
	}
	resp.Body.Close()
	if resp.StatusCode != http.StatusOK {
		t.Fatalf("the form answered %d", resp.StatusCode)
	}
}

func channelsHouse(t *testing.T, r *receivers) (config, out string) {
	t.Helper()
	out = filepath.Join(t.TempDir(), "told.json")
	script := write(t, "bell.sh", "#!/bin/sh\ncat >> "+out+"\n")
	if err := os.Chmod(script, 0o700); err != nil {
		t.Fatal(err)
	}
	service := write(t, "phone.url", "generic+"+r.web.URL+"/service?template=json")
	return write(t, "weighbeam.toml", webAndMail(t, r.web.URL, r.mail)+fmt.Sprintf(`
[[command]]
name = "bell"
run = [%q]
[[service]]
name = "phone"
url_file = %q
`, script, service)), out
}

// webAndMail are the settings of a house with one cat that tells everything to a
// web server and a mail server.
func webAndMail(t *testing.T, web, mail string) string {
	t.Helper()
	household := write(t, "household.toml", "[[cat]]\nid = \"juniper\"\nname = \"Juniper\"\n")
	return fmt.Sprintf(`
data = %q
listen = "127.0.0.1:%d"
household = %q
[broker]
listen = "127.0.0.1:%d"
[[webhook]]
name = "house"
url = "%s/hook"
[[mail]]
name = "ada"
server = %q
tls = "none"
from = "cats@example.org"
to = "ada@example.org"
`, filepath.Join(t.TempDir(), "house.db"), port(t), household, port(t), web, mail)
}

// A red flag that a person saw reaches every channel: a webhook, mail, a command
// on the machine and a service that a library speaks to. Each has the caution.
func TestServe_TellsOverEveryChannel(t *testing.T) {
	r := newReceivers(t)
	config, out := channelsHouse(t, r)
	p := launch(t, "serve", "--config", config)
	pages := p.pages()
	began := time.Now()
	redFlag(t, pages)
	eventually(t, "every channel has it", func() (bool, string) {
		hooks, service, letters := r.took()
		bell, _ := os.ReadFile(out) // not there yet
		return len(hooks) == 1 && len(service) == 1 && len(letters) == 1 && len(bell) > 0,
			fmt.Sprintf("hooks %d, service %d, letters %d, bell %d\n%s", len(hooks), len(service), len(letters), len(bell), p.output())
	})
	hooks, _, letters := r.took()
	r.mu.Lock()
	t.Logf("from the form to the last web receiver: %s", r.at.Sub(began))
	r.mu.Unlock()
	for _, told := range []string{hooks[0], letters[0]} {
		if !strings.Contains(told, "Juniper") || !strings.Contains(told, "does not diagnose") {
			t.Errorf("told: %s", told)
		}
	}
	if _, body := get(pages + "/"); !strings.Contains(body, "sent") {
		t.Errorf("the page does not say that it was sent")
	}
}

var messageID = regexp.MustCompile(`(?im)^message-id: *<[^>]+>`)

// A receiver that is down when a finding is made is told when it is back, also by
// a program that was killed meanwhile, and with the same id.
func TestServe_TellsAfterKillAndOutage(t *testing.T) {
	t.Parallel() // it waits more than it works
	r := newReceivers(t)
	r.down(true)
	config, _ := channelsHouse(t, r)
	first := launch(t, "serve", "--config", config)
	redFlag(t, first.pages())
	eventually(t, "the other channels have it", func() (bool, string) {
		_, _, letters := r.took()
		return len(letters) == 1, first.output()
	})
	eventually(t, "health tells of the failing channel", func() (bool, string) {
		status, body := get(first.pages() + "/healthz")
		return status == http.StatusServiceUnavailable && strings.Contains(body, "channel"), body
	})
	first.kill()
	r.down(false)
	second := launch(t, "serve", "--config", config)
	second.pages()
	eventually(t, "the webhook has it", func() (bool, string) {
		hooks, _, _ := r.took()
		return len(hooks) >= 1, second.output()
	})
	hooks, _, letters := r.took()
	// The kill may fall between a receiver taking a notice and that being noted: then
	// it comes once more, under the same id, so that the receiver can drop it.
	ids := map[string]bool{}
	for _, told := range hooks {
		id, _, _ := strings.Cut(told, " ")
		ids[id] = true
		if !strings.Contains(id, "red-flag") {
			t.Errorf("its id is %q", id)
		}
	}
	messages := map[string]bool{}
	for _, letter := range letters {
		messages[messageID.FindString(letter)] = true
	}
	if len(hooks) > 2 || len(letters) > 2 || len(ids) != 1 || len(messages) != 1 || messages[""] {
		t.Errorf("told %d times by webhook as %v, %d by mail as %v", len(hooks), ids, len(letters), messages)
	}
}
