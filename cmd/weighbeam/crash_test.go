package main

import (
	"context"
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

// killed runs rounds of: start the program, publish, kill -9 in the middle. The
// stream of messages never stops.
func killed(t *testing.T, settings string, brokerAddr string, rounds int) {
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
		s.publish() // to nobody
	}
	last := launch(t, "serve", "--config", config)
	url := last.pages()
	for n := range 30 {
		if s.publish(); n >= 20 && len(s.tokens)%timed == 0 {
			break
		}
	}
	// The last message of the stream comes after all that a broker kept.
	newest := fmt.Sprintf("weighbeam_source_last_reading_timestamp_seconds{source=\"box-2\"} %s", metricTime(int64(firstSecond+len(s.tokens))))
	eventually(t, "the last message is stored", func() (bool, string) {
		_, metrics := get(url + "/metrics")
		return strings.Contains(metrics, newest), metrics
	})
	if code := last.interrupt(); code != 0 {
		t.Fatalf("ended with %d:\n%s", code, last.output())
	}
	s.compare(t, data)
}

// metricTime is a time as the metrics print it.
func metricTime(seconds int64) string { return strconv.FormatFloat(float64(seconds), 'g', -1, 64) }

// With a broker outside, what the broker acknowledged survives any kill of the program.
func TestServe_KillNine_BrokerOutside(t *testing.T) {
	addr := mosquitto(t)
	killed(t, fmt.Sprintf("[mqtt]\nserver = \"mqtt://%s\"\nclient = \"weighbeam-test\"\n", addr), addr, killRounds(t))
}

// With the broker inside, the acknowledgement itself comes after the commit.
func TestServe_KillNine_BrokerInside(t *testing.T) {
	addr := fmt.Sprintf("127.0.0.1:%d", port(t))
	killed(t, fmt.Sprintf("[broker]\nlisten = %q\n", addr), addr, killRounds(t))
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

// compare holds what was acknowledged against the store.
func (s *stream) compare(t *testing.T, data string) {
	t.Helper()
	db, err := store.Open(t.Context(), data)
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if err := db.Check(context.Background()); err != nil {
		t.Error(err)
	}
	seen, stored := map[int64]int{}, 0
	for _, source := range []string{"box-1", "box-2"} {
		readings, err := db.Readings(t.Context(), source, home.Weight, time.Time{}, time.Time{})
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range readings {
			seen[r.Seq]++
		}
		stored += len(readings)
	}
	acked := 0
	for i, token := range s.tokens {
		if !token.WaitTimeout(0) || token.Error() != nil {
			continue
		}
		acked++
		if seq := int64(i + 1); seen[seq] != 1 {
			t.Errorf("message %d was acknowledged and is stored %d times", seq, seen[seq])
		}
	}
	if acked < len(s.tokens)/4 {
		t.Errorf("only %d of %d messages were acknowledged: the test proves little", acked, len(s.tokens))
	}
	t.Logf("%d published, %d acknowledged, %d stored", len(s.tokens), acked, stored)
}
