package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"weighbeam/home"
	"weighbeam/store"
)

// stream publishes numbered messages with QoS 1 until told to stop, and keeps
// which were acknowledged.
type stream struct {
	client paho.Client
	mu     sync.Mutex
	acked  map[int64]bool
	sent   int64
}

func newStream(t *testing.T, addr string) *stream {
	t.Helper()
	opts := paho.NewClientOptions().AddBroker("tcp://" + addr).SetClientID("scale").SetCleanSession(true).
		SetConnectRetry(true).SetConnectRetryInterval(50 * time.Millisecond).SetMaxReconnectInterval(100 * time.Millisecond).
		SetWriteTimeout(time.Second)
	s := &stream{client: paho.NewClient(opts), acked: map[int64]bool{}}
	s.client.Connect()
	t.Cleanup(func() { s.client.Disconnect(0) })
	return s
}

// publish sends n messages, one after the other's acknowledgement or a timeout:
// as a device does that keeps a reading until it is taken.
func (s *stream) publish(n int) {
	for range n {
		s.sent++
		seq := s.sent
		body := fmt.Sprintf(`[{"bn":"box-1:","n":"weight","u":"kg","v":4.5,"t":%d},{"n":"seq","v":%d}]`, 1_760_000_000+seq, seq)
		token := s.client.Publish("home/litter/1", 1, false, body)
		if token.WaitTimeout(200*time.Millisecond) && token.Error() == nil {
			s.mu.Lock()
			s.acked[seq] = true
			s.mu.Unlock()
		}
	}
}

// killed runs rounds of: start the program, publish, kill -9 in the middle.
func killed(t *testing.T, settings string, brokerAddr string, rounds int) {
	t.Helper()
	data := filepath.Join(t.TempDir(), "house.db")
	config := write(t, "weighbeam.toml", fmt.Sprintf("data = %q\nlisten = \"127.0.0.1:%d\"\n%s", data, port(t), settings))
	var s *stream
	for round := range rounds {
		p := launch(t, "serve", "--config", config)
		p.says("Watching")
		if s == nil {
			s = newStream(t, brokerAddr)
		}
		done := make(chan struct{})
		go func() {
			defer close(done)
			s.publish(60)
		}()
		// The kill falls at another place of the stream in each round.
		timer := time.NewTimer(time.Duration(20+37*round%150) * time.Millisecond)
		<-timer.C
		p.kill()
		<-done
	}
	last := launch(t, "serve", "--config", config)
	url := last.pages()
	s.publish(20)
	// The last message of the stream comes after all that a broker kept.
	newest := fmt.Sprintf("weighbeam_source_last_reading_timestamp_seconds{source=\"box-1\"} %s", metricTime(1_760_000_000+s.sent))
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
	readings, err := db.Readings(t.Context(), "box-1", home.Weight, time.Time{}, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	seen := map[int64]int{}
	for _, r := range readings {
		seen[r.Seq]++
	}
	for seq := range s.acked {
		if seen[seq] != 1 {
			t.Errorf("message %d was acknowledged and is stored %d times", seq, seen[seq])
		}
	}
	if len(s.acked) < 50 {
		t.Errorf("only %d of %d messages were acknowledged: the test proves little", len(s.acked), s.sent)
	}
	t.Logf("%d published, %d acknowledged, %d stored", s.sent, len(s.acked), len(readings))
}
