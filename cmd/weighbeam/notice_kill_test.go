package main

import (
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync"
	"testing"

	"github.com/emersion/go-smtp"

	"weighbeam/home"
)

// stopper is the far end of two channels, one HTTP and one SMTP, that can hold a
// message in its hands: taken, and not yet answered.
type stopper struct {
	mu      sync.Mutex
	hold    bool          // do not answer
	release chan struct{} // closed at the end of the test
	ids     []string      // of what came, by both ways
}

// came notes a message and, where told to, never answers.
func (s *stopper) came(id string) {
	s.mu.Lock()
	s.ids = append(s.ids, id)
	hold := s.hold
	s.mu.Unlock()
	if hold {
		<-s.release
	}
}

func (s *stopper) holds(yes bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.hold = yes
}

// copies is how often each message came.
func (s *stopper) copies() map[string]int {
	s.mu.Lock()
	defer s.mu.Unlock()
	n := map[string]int{}
	for _, id := range s.ids {
		n[id]++
	}
	return n
}

// NewSession makes s a mail server.
func (s *stopper) NewSession(*smtp.Conn) (smtp.Session, error) { return letters{s}, nil }

type letters struct{ s *stopper }

func (letters) Mail(string, *smtp.MailOptions) error { return nil }
func (letters) Rcpt(string, *smtp.RcptOptions) error { return nil }
func (letters) Reset()                               {}
func (letters) Logout() error                        { return nil }
func (l letters) Data(body io.Reader) error {
	b, err := io.ReadAll(body)
	l.s.came(messageID.FindString(string(b)))
	return err
}

// newStopper starts both servers and returns the settings of a house that tells
// them of everything.
func newStopper(t *testing.T) (*stopper, string) {
	t.Helper()
	s := &stopper{release: make(chan struct{})}
	web := httptest.NewServer(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) { s.came(r.Header.Get("Weighbeam-Id")) }))
	t.Cleanup(web.Close)
	mail := serveMail(t, s)
	t.Cleanup(func() { close(s.release) }) // before the servers are closed
	return s, write(t, "weighbeam.toml", webAndMail(t, web.URL, mail))
}

// kill -9 before, during and after a send, to a real web server and a real mail
// server that count: each message comes at least once, at most once more, and a
// second copy carries the id of the first.
func TestServe_KilledAroundASend(t *testing.T) {
	for _, row := range []struct {
		name string
		when func(t *testing.T, s *stopper, p *program) // returns when the kill is to fall
		most int                                        // copies
	}{
		// Nothing is lost that was committed, though nobody was told yet.
		{"before", func(*testing.T, *stopper, *program) {}, 2},
		// They have it in their hands and have not answered.
		{"during", func(t *testing.T, s *stopper, p *program) {
			eventually(t, "both have it", func() (bool, string) { return len(s.copies()) == 2, p.output() })
		}, 2},
		// They have answered, and that is noted: no second copy.
		{"after", func(t *testing.T, s *stopper, p *program) {
			eventually(t, "both are noted as sent", func() (bool, string) {
				_, body := get(p.pages() + "/metrics")
				return strings.Contains(body, `weighbeam_notices{channel="ada",state="sent"} 1`) && strings.Contains(body, `weighbeam_notices{channel="house",state="sent"} 1`), body
			})
		}, 1},
	} {
		t.Run(row.name, func(t *testing.T) {
			s, config := newStopper(t)
			first := launch(t, "serve", "--config", config)
			s.holds(row.name == "during")
			redFlag(t, first.pages())
			row.when(t, s, first)
			first.kill()
			s.holds(false)
			second := launch(t, "serve", "--config", config)
			url := second.pages()
			eventually(t, "both are noted as sent", func() (bool, string) {
				_, body := get(url + "/metrics")
				return strings.Contains(body, `weighbeam_notices{channel="ada",state="sent"} 1`) && strings.Contains(body, `weighbeam_notices{channel="house",state="sent"} 1`), body
			})
			got := s.copies()
			if len(got) != 2 {
				t.Errorf("messages %v, want one by each way", got)
			}
			for id, n := range got {
				if n < 1 || n > row.most {
					t.Errorf("%s came %d times", id, n)
				}
			}
		})
	}
}

// One form posted again and again, another check that saw the same, and a start
// that reads all of it once more: one finding, told once.
func TestServe_SameFindingByManyWays(t *testing.T) {
	s, config := newStopper(t)
	first := launch(t, "serve", "--config", config)
	url := first.pages()
	flag(t, url, "a-form", home.OpenMouth)
	flag(t, url, "a-form", home.OpenMouth)
	flag(t, url, "another", home.OpenMouth)
	eventually(t, "both have it", func() (bool, string) { return len(s.copies()) == 2, first.output() })
	if code := first.interrupt(); code != 0 {
		t.Fatalf("ended with %d:\n%s", code, first.output())
	}
	second := launch(t, "serve", "--config", config)
	url = second.pages()
	flag(t, url, "a-form", home.OpenMouth)
	flag(t, url, "a-third", home.OpenMouth)
	eventually(t, "the stages have seen it", func() (bool, string) {
		status, body := get(url + "/healthz")
		_, metrics := get(url + "/metrics")
		return status == http.StatusOK && strings.Contains(metrics, `weighbeam_stage_behind{stage="watch"} 0`), body
	})
	if code := second.interrupt(); code != 0 { // ends only after tries under way
		t.Fatalf("ended with %d:\n%s", code, second.output())
	}
	for id, n := range s.copies() {
		if n != 1 {
			t.Errorf("%s came %d times", id, n)
		}
	}
	if got := s.copies(); len(got) != 2 {
		t.Errorf("told %v", got)
	}
}
