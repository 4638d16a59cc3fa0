package main

import (
	"context"
	"encoding/json"
	"encoding/pem"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"weighbeam/home"
	"weighbeam/store"
)

// gated is a listener whose connections say nothing until the gate is open: TLS
// that takes for ever.
type gated struct {
	net.Listener
	open chan struct{}
}

func (g gated) Accept() (net.Conn, error) {
	c, err := g.Listener.Accept()
	if err != nil {
		return nil, err
	}
	return mute{c, g.open}, nil
}

type mute struct {
	net.Conn
	open chan struct{}
}

func (m mute) Read(b []byte) (int, error) {
	<-m.open
	return m.Conn.Read(b)
}

// bad is a web server with one path for each way to be bad, until it is mended.
type bad struct {
	web, tls *httptest.Server
	mended   atomic.Bool
	gate     chan struct{}
	once     sync.Once

	mu    sync.Mutex
	tries map[string]int
	took  map[string]int
}

func newBad(t *testing.T) *bad {
	t.Helper()
	b := &bad{gate: make(chan struct{}), tries: map[string]int{}, took: map[string]int{}}
	b.web = httptest.NewUnstartedServer(b)
	b.tls = httptest.NewUnstartedServer(b)
	b.tls.Listener = gated{b.tls.Listener, b.gate}
	for _, s := range []*httptest.Server{b.web, b.tls} {
		s.Config.ErrorLog = slog.NewLogLogger(slog.DiscardHandler, slog.LevelError)
		t.Cleanup(s.Close)
	}
	b.web.Start()
	b.tls.StartTLS()
	t.Cleanup(b.mend) // before the servers are closed
	return b
}

// mend makes every path take what it gets.
func (b *bad) mend() {
	b.mended.Store(true)
	b.once.Do(func() { close(b.gate) })
}

func (b *bad) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	_, _ = io.Copy(io.Discard, r.Body) // a program that was killed
	b.mu.Lock()
	b.tries[r.URL.Path]++
	b.mu.Unlock()
	if r.URL.Path != "/well" && !b.mended.Load() && b.fails(w, r) {
		return
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	b.took[r.URL.Path]++
}

// fails answers badly; false for a path that is only slow to shake hands.
func (b *bad) fails(w http.ResponseWriter, r *http.Request) bool {
	switch r.URL.Path {
	case "/hangs":
		<-b.gate
	case "/busy":
		w.Header().Set("Retry-After", "1")
		w.WriteHeader(http.StatusTooManyRequests)
	case "/broken":
		w.WriteHeader(http.StatusInternalServerError)
	case "/garbage":
		c, _, err := w.(http.Hijacker).Hijack()
		if err == nil {
			_, _ = c.Write([]byte("\x00\xff not HTTP at all\r\n\r\n"))
			c.Close()
		}
	default:
		return false
	}
	return true
}

func (b *bad) counts() (tries, took map[string]int) {
	b.mu.Lock()
	defer b.mu.Unlock()
	tries, took = map[string]int{}, map[string]int{}
	for k, n := range b.tries {
		tries[k] = n
	}
	for k, n := range b.took {
		took[k] = n
	}
	return tries, took
}

// Receivers that hang, are busy, broken, talk garbage or take for ever to shake
// hands delay nobody else, are each tried again, and are told once they are
// mended, also by a program that was killed meanwhile.
func TestServe_BadReceivers(t *testing.T) {
	b := newBad(t)
	t.Setenv("SSL_CERT_FILE", write(t, "ca.pem", string(pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: b.tls.Certificate().Raw}))))
	household := write(t, "household.toml", "[[cat]]\nid = \"juniper\"\nname = \"Juniper\"\n")
	settings := fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\nhousehold = %q\n[broker]\nlisten = \"127.0.0.1:%d\"\n",
		filepath.Join(t.TempDir(), "house.db"), port(t), household, port(t))
	names := []string{"hangs", "busy", "broken", "garbage", "well"}
	for _, name := range names {
		settings += fmt.Sprintf("[[webhook]]\nname = %q\nurl = \"%s/%s\"\n", name, b.web.URL, name)
	}
	settings += fmt.Sprintf("[[webhook]]\nname = \"slow\"\nurl = \"%s/slow\"\n", b.tls.URL)
	config := write(t, "weighbeam.toml", settings)
	first := launch(t, "serve", "--config", config)
	redFlag(t, first.pages())
	eventually(t, "the one that is well is told while the others fail", func() (bool, string) {
		tries, took := b.counts()
		return took["/well"] == 1 && tries["/hangs"] == 1 && tries["/busy"] >= 1 && tries["/broken"] >= 1 && tries["/garbage"] >= 1, first.output()
	})
	metric(t, first.pages(), `weighbeam_notices{channel="well",state="sent"} 1`) // or it is told once more after the kill
	eventually(t, "health names what fails", func() (bool, string) {
		_, body := get(first.pages() + "/notices")
		return strings.Contains(body, "HTTP 429") && strings.Contains(body, "HTTP 500") && strings.Contains(body, "the connection broke before an answer"), body
	})
	first.kill()
	b.mend()
	second := launch(t, "serve", "--config", config)
	second.pages()
	eventually(t, "everybody is told", func() (bool, string) {
		_, took := b.counts()
		return len(took) == 6, fmt.Sprint(took, second.output())
	})
	if _, took := b.counts(); took["/well"] != 1 || took["/busy"] != 1 || took["/broken"] != 1 || took["/garbage"] != 1 {
		t.Errorf("told %v times", took)
	}
}

// A clock that ran a year ahead when something was found, and one that jumps
// ahead: what waits is told by the right clock, once.
func TestServe_ClockJumps(t *testing.T) {
	for _, row := range []struct {
		name string
		jump time.Duration // after the finding, while its receiver is down
	}{
		{"set back a year", -365 * 24 * time.Hour},
		{"ahead by a month", 30 * 24 * time.Hour},
	} {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel() // each waits for a pause of the real clock
			r := newReceivers(t)
			r.down(true)
			data := filepath.Join(t.TempDir(), "house.db")
			h := startTimed(t, data, litterHouse(t, data, r.web.URL+"/hook"), time.Date(2025, 6, 1, 12, 0, 0, 0, time.UTC))
			redFlag(t, h.url)
			eventually(t, "it was tried in vain", func() (bool, string) {
				_, body := get(h.url + "/notices")
				return strings.Contains(body, "HTTP 503"), body
			})
			r.down(false)
			h.set(h.now.Add(row.jump))
			h.settle()
			h.set(h.now.Add(time.Minute)) // past the pause before the next try
			eventually(t, "the phone has it", func() (bool, string) {
				hooks, _, _ := r.took()
				return len(hooks) > 0, fmt.Sprint(h.notices(), h.output())
			})
			h.settle()
			ids := map[string]int{}
			hooks, _, _ := r.took()
			for _, told := range hooks {
				id, _, _ := strings.Cut(told, " ")
				ids[id]++
			}
			for id, n := range ids {
				if n != 1 {
					t.Errorf("%s came %d times", id, n)
				}
			}
		})
	}
}

// A thousand findings at once are one message, which says how many there are.
func TestServe_ThousandFindingsAreOneMessage(t *testing.T) {
	t.Parallel()
	unraced(t)
	const cats = 1000
	ctx := context.Background()
	data := filepath.Join(t.TempDir(), "house.db")
	db, err := store.Open(ctx, data)
	if err != nil {
		t.Fatal(err)
	}
	var h home.Household
	for i := range cats {
		h.Cats = append(h.Cats, home.Cat{ID: fmt.Sprintf("cat-%d", i), Name: fmt.Sprintf("Cat %d", i)})
	}
	if err := db.SetHousehold(ctx, h); err != nil {
		t.Fatal(err)
	}
	seen := time.Now().UTC().Add(-time.Minute).Truncate(home.TimeStep)
	batch := home.Batch{}
	for _, c := range h.Cats {
		batch.Checks = append(batch.Checks, home.HomeCheck{ID: "check-" + c.ID, Cat: c.ID, Time: seen, By: "Ada", RedFlags: []home.RedFlag{home.OpenMouth}})
	}
	if _, err := db.Append(ctx, batch); err != nil {
		t.Fatal(err)
	}
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	r := newReceivers(t)
	p := launch(t, "serve", "--config", write(t, "weighbeam.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\n[broker]\nlisten = \"127.0.0.1:%d\"\n[[webhook]]\nname = \"phone\"\nurl = \"%s/hook\"\n",
		data, port(t), port(t), r.web.URL)))
	url := p.pages()
	began := time.Now()
	eventually(t, "told", func() (bool, string) {
		hooks, _, _ := r.took()
		return len(hooks) > 0, p.output()
	})
	t.Logf("told %s after the start", time.Since(began))
	eventually(t, "all are sent", func() (bool, string) {
		_, body := get(url + "/metrics")
		return strings.Contains(body, fmt.Sprintf(`weighbeam_notices{channel="phone",state="sent"} %d`, cats)), p.output()
	})
	t.Logf("noted %s after the start", time.Since(began))
	hooks, _, _ := r.took()
	if len(hooks) != 1 {
		t.Fatalf("%d messages", len(hooks))
	}
	_, body, _ := strings.Cut(hooks[0], " ")
	var m struct {
		Subject string
		Notices []string
	}
	if err := json.Unmarshal([]byte(body), &m); err != nil || len(m.Notices) != cats || !strings.HasPrefix(m.Subject, "1000 notices. First: Cat ") {
		t.Errorf("%q with %d notices, %v", m.Subject, len(m.Notices), err)
	}
}
