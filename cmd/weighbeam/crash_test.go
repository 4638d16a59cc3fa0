package main

import (
	"context"
	"database/sql"
	"fmt"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"weighbeam/home"
	"weighbeam/store"
)

// stream publishes numbered messages with QoS 1, and keeps the token of each: it
// says later whether the message was acknowledged.
type stream struct {
	client paho.Client
	tokens []paho.Token // of message 1, 2, ...
}

func newStream(t *testing.T, addr string) *stream {
	t.Helper()
	opts := paho.NewClientOptions().AddBroker("tcp://" + addr).SetClientID("scale").SetCleanSession(false).
		SetConnectRetry(true).SetConnectRetryInterval(20 * time.Millisecond).SetMaxReconnectInterval(20 * time.Millisecond)
	s := &stream{client: paho.NewClient(opts)}
	s.client.Connect()
	t.Cleanup(func() { s.client.Disconnect(0) })
	return s
}

// publish sends the next message and waits a moment for its acknowledgement, as
// a device does that sends what it has when it has it. Each tenth message has a time,
// and is of another source; of the others only their number tells that they are the
// same once more.
func (s *stream) publish() {
	seq := len(s.tokens) + 1
	source, at := "box-1", ""
	if seq%timed == 0 {
		source, at = "box-2", fmt.Sprintf(`,"t":%d`, firstSecond+seq)
	}
	body := fmt.Sprintf(`[{"bn":"%s:","n":"weight","u":"kg","v":4.5%s},{"n":"seq","v":%d}]`, source, at, seq)
	token := s.client.Publish("home/litter/1", 1, false, body)
	token.WaitTimeout(25 * time.Millisecond)
	s.tokens = append(s.tokens, token)
}

const (
	firstSecond = 1_760_000_000
	timed       = 10
)

// killed runs rounds of: start the program, publish, kill -9 in the middle, look at what
// is left. The stream of messages never stops. What was acknowledged may wait at a broker
// that keeps it, until the end.
func killed(t *testing.T, settings, brokerAddr string, keeps bool, rounds int) {
	t.Helper()
	data := filepath.Join(t.TempDir(), "house.db")
	config := write(t, "weighbeam.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\n%s", data, port(t), settings))
	s := newStream(t, brokerAddr)
	longer := 1
	if rounds >= 200 { // the long run, of 50,000 messages
		longer = 5
	}
	for round := range rounds {
		p := launch(t, "serve", "--config", config)
		url := p.pages()
		if round == 0 { // a broker keeps nothing for a client that it has never met
			eventually(t, "the broker has met the program", func() (bool, string) {
				status, body := get(url + "/healthz")
				return status == http.StatusOK, body
			})
		}
		for range longer * (30 + 17*round%40) { // the kill falls at another place of the stream in each round
			s.publish()
		}
		p.kill()
		s.compare(t, data, keeps)
		s.publish() // to nobody
	}
	last := launch(t, "serve", "--config", config)
	last.pages()
	for range 30 {
		s.publish()
	}
	s.arrive(t, data)
	if code := last.interrupt(); code != 0 {
		t.Fatalf("ended with %d:\n%s", code, last.output())
	}
	s.compare(t, data, false)
	n := len(s.acknowledged())
	t.Logf("%d published, %d acknowledged", len(s.tokens), n)
	if n < len(s.tokens)/4 {
		t.Errorf("only %d of %d messages were acknowledged: the test proves little", n, len(s.tokens))
	}
}

// With a broker outside, what the broker acknowledged survives any kill of the program.
func TestServe_KillNine_BrokerOutside(t *testing.T) {
	addr := mosquitto(t)
	killed(t, fmt.Sprintf("[mqtt]\nserver = \"mqtt://%s\"\nclient = \"weighbeam-test\"\n", addr), addr, true, killRounds(t))
}

// With the broker inside, the acknowledgement itself comes after the commit.
func TestServe_KillNine_BrokerInside(t *testing.T) {
	addr := fmt.Sprintf("127.0.0.1:%d", port(t))
	killed(t, fmt.Sprintf("[broker]\nlisten = %q\n", addr), addr, false, killRounds(t))
}

// A broker that is gone turns /healthz red, with the reason; back again, green. The
// program itself never stops.
func TestServe_HealthFollowsTheBroker(t *testing.T) {
	addr, stop := startMosquitto(t, port(t))
	p := launch(t, "serve", "--config", write(t, "w.toml", fmt.Sprintf("listen = \"127.0.0.1:%d\"\n[mqtt]\nserver = \"mqtt://%s\"\n", port(t), addr)))
	url := p.pages()
	health := func(want int, text string) {
		t.Helper()
		eventually(t, fmt.Sprintf("health %d with %q", want, text), func() (bool, string) {
			status, body := get(url + "/healthz")
			return status == want && strings.Contains(body, text), body
		})
	}
	health(http.StatusOK, `"well": true`)
	stop()
	health(http.StatusServiceUnavailable, "no connection to the broker")
	_, port, err := net.SplitHostPort(addr)
	if err != nil {
		t.Fatal(err)
	}
	n, err := strconv.Atoi(port)
	if err != nil {
		t.Fatal(err)
	}
	startMosquitto(t, n)
	health(http.StatusOK, `"well": true`)
	if code := p.interrupt(); code != 0 {
		t.Errorf("ended with %d:\n%s", code, p.output())
	}
}

// killRounds is how often the program is killed: few times here, WEIGHBEAM_KILLS
// times in a long run.
func killRounds(t *testing.T) int {
	text := os.Getenv("WEIGHBEAM_KILLS")
	if text == "" {
		return 6
	}
	n, err := strconv.Atoi(text)
	if err != nil {
		t.Fatalf("WEIGHBEAM_KILLS: %v", err)
	}
	return n
}

// acknowledged are the numbers of the messages whose acknowledgement came.
func (s *stream) acknowledged() (numbers []int64) {
	for i, token := range s.tokens {
		select {
		case <-token.Done():
			if token.Error() == nil {
				numbers = append(numbers, int64(i+1))
			}
		default:
		}
	}
	return numbers
}

// arrive waits until all that was acknowledged is stored, while the program runs. The last
// message would not tell: a broker may hand out what is new before what it kept.
func (s *stream) arrive(t *testing.T, data string) {
	t.Helper()
	db, err := sql.Open("sqlite", "file:"+data+"?mode=ro")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	eventually(t, "all that was acknowledged is stored", func() (bool, string) {
		acked, missing := s.acknowledged(), 0
		stored, err := numbersStored(t.Context(), db)
		for _, seq := range acked {
			if !stored[seq] {
				missing++
			}
		}
		return missing == 0 && err == nil, fmt.Sprintf("%d of %d are missing (%v)", missing, len(acked), err)
	})
}

func numbersStored(ctx context.Context, db *sql.DB) (map[int64]bool, error) {
	rows, err := db.QueryContext(ctx, `SELECT seq FROM reading`)
	if err != nil {
		return nil, err
	}
	defer rows.Close()
	stored := map[int64]bool{}
	for rows.Next() {
		var seq int64
		if err := rows.Scan(&seq); err != nil {
			return nil, err
		}
		stored[seq] = true
	}
	return stored, rows.Err()
}

// compare holds what was acknowledged against the store: it is whole, nothing is there
// twice, and nothing is missing but what may still wait at a broker.
func (s *stream) compare(t *testing.T, data string, waits bool) {
	t.Helper()
	acked := s.acknowledged() // before anything that is acknowledged later
	db, err := store.Open(t.Context(), data)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.Check(context.Background()); err != nil {
		t.Error(err)
	}
	seen := map[int64]int{}
	for _, source := range []string{"box-1", "box-2"} {
		readings, err := db.Readings(t.Context(), source, home.Weight, time.Time{}, time.Time{})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range readings {
			if seen[r.Seq]++; seen[r.Seq] == 2 {
				t.Errorf("message %d is stored twice", r.Seq)
			}
		}
	}
	for _, seq := range acked {
		if seen[seq] == 0 && !waits {
			t.Errorf("message %d was acknowledged and is not stored", seq)
		}
	}
	if t.Failed() {
		t.FailNow()
	}
}
