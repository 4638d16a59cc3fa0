package ingest_test

import (
	"bufio"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"weighbeam/ingest"
	"weighbeam/ingest/broker"
	"weighbeam/ingest/mqtt"
	"weighbeam/ingest/mqtt/mqtttest"
)

// The child of a crash test is this test binary with these set.
const (
	envWay  = "WEIGHBEAM_CRASH_WAY"  // ingest.WayMQTT or ingest.WayBroker
	envAddr = "WEIGHBEAM_CRASH_ADDR" // where the broker is, or is to be
	envFile = "WEIGHBEAM_CRASH_FILE" // the file of the store
	envLong = "WEIGHBEAM_LONG"       // set for the long form
)

func TestMain(m *testing.M) {
	if way := os.Getenv(envWay); way != "" {
		fmt.Fprintln(os.Stderr, child(way, os.Getenv(envAddr), os.Getenv(envFile)))
		os.Exit(1)
	}
	os.Exit(m.Run())
}

// child is a program in small that runs until it is killed.
func child(way, addr, file string) error {
	store, err := openFileStore(file)
	if err != nil {
		return err
	}
	router, err := ingest.NewRouter(household)
	if err != nil {
		return err
	}
	a := ingest.NewAppender(store, router, ingest.Options{})
	if way == ingest.WayMQTT {
		session, err := mqtt.New(mqtt.Config{Broker: "tcp://" + addr, ClientID: "crash", Filters: mqtt.Filters("home/#"), Floor: 10 * time.Millisecond}, a)
		if err != nil {
			return err
		}
		go session.Run(context.Background())
	} else if _, err := broker.Start(broker.Config{Addr: addr}, a); err != nil {
		return err
	}
	fmt.Println("ready")
	return a.Run(context.Background())
}

// victim starts and kills the child.
type victim struct {
	t    *testing.T
	env  []string
	cmd  *exec.Cmd
	errs strings.Builder
}

func (v *victim) start() {
	v.t.Helper()
	v.cmd = exec.Command(os.Args[0])
	v.cmd.Env = append(os.Environ(), v.env...)
	v.cmd.Stderr = &v.errs
	out, err := v.cmd.StdoutPipe()
	if err != nil {
		v.t.Fatal(err)
	}
	if err := v.cmd.Start(); err != nil {
		v.t.Fatal(err)
	}
	if line, _ := bufio.NewReader(out).ReadString('\n'); line != "ready\n" {
		v.kill()
		v.t.Fatalf("the child does not start: %s", v.errs.String())
	}
}

func (v *victim) kill() {
	if v.cmd != nil {
		v.cmd.Process.Kill()
		v.cmd.Wait()
		v.cmd = nil
	}
}

// The program is killed at random while devices publish. Every message that was
// acknowledged to its device is stored, exactly once (the file refuses a second).
// It takes WEIGHBEAM_LONG=1 for 200 kills in 50,000 messages. A kill is no power
// cut: for that we lean on the synced commit.
func TestWays_KilledAtRandom(t *testing.T) {
	kills, messages := 6, 3000
	if os.Getenv(envLong) != "" {
		kills, messages = 200, 50_000
	}
	for _, way := range []string{ingest.WayMQTT, ingest.WayBroker} {
		t.Run(way, func(t *testing.T) {
			addr := mqtttest.FreeAddr(t)
			if way == ingest.WayMQTT {
				addr = mqtttest.Start(t).Addr()
				subscribeCrash(t, addr)
			}
			file := filepath.Join(t.TempDir(), "readings")
			v := &victim{t: t, env: []string{envWay + "=" + way, envAddr + "=" + addr, envFile + "=" + file}}
			t.Cleanup(v.kill)
			v.start()
			acked := publishAll(t, addr, messages)
			for range kills {
				<-time.After(time.Duration(20+rand.IntN(130)) * time.Millisecond)
				v.kill()
				if s, err := openFileStore(file); err != nil {
					t.Fatal(err)
				} else {
					s.file.Close()
				}
				v.start()
			}
			close(acked.enough)
			<-acked.done
			if n := acked.count(); n < messages {
				t.Fatalf("%d of %d acknowledged", n, messages)
			}
			waitStored(t, file, acked.count())
			v.kill()
			acked.check(t, file)
		})
	}
}

// subscribeCrash makes the kept session before anything is published.
func subscribeCrash(t *testing.T, addr string) {
	c := mqtttest.Client(t, "tcp://"+addr, "crash", func(o *paho.ClientOptions) { o.SetCleanSession(false) })
	mqtttest.Wait(t, c.Subscribe("home/#", 1, nil))
	c.Disconnect(100)
}

// ledger is what was acknowledged to the devices.
type ledger struct {
	mu     sync.Mutex
	seqs   []int
	enough chan struct{} // closed when the kills are over
	done   chan struct{} // closed when every device has its last answer
}

func (l *ledger) killing() bool {
	select {
	case <-l.enough:
		return false
	default:
		return true
	}
}

func (l *ledger) count() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return len(l.seqs)
}

func (l *ledger) check(t *testing.T, file string) {
	t.Helper()
	s, err := openFileStore(file)
	if err != nil {
		t.Fatal(err)
	}
	defer s.file.Close()
	for _, seq := range l.seqs {
		if !s.seen[int64(seq)] {
			t.Errorf("%d was acknowledged and is not stored", seq)
		}
	}
}

// publishAll publishes messages with sequence numbers from several devices that
// connect again by themselves and send again what was not acknowledged: at least
// the given number, and until the kills are over.
func publishAll(t *testing.T, addr string, messages int) *ledger {
	const devices = 8
	l := &ledger{done: make(chan struct{}), enough: make(chan struct{})}
	var wg sync.WaitGroup
	for d := range devices {
		c := mqtttest.Client(t, "tcp://"+addr, fmt.Sprint("device", d), func(o *paho.ClientOptions) {
			o.SetCleanSession(false).SetAutoReconnect(true).SetMaxReconnectInterval(20 * time.Millisecond).SetConnectRetryInterval(20 * time.Millisecond)
		})
		wg.Go(func() {
			for seq := d + 1; seq <= messages || l.killing(); seq += devices {
				token := c.Publish("home/litter/1", 1, false, reading(seq))
				if !token.WaitTimeout(mqtttest.Patience) || token.Error() != nil {
					t.Errorf("%d: %v", seq, token.Error())
					return
				}
				l.mu.Lock()
				l.seqs = append(l.seqs, seq)
				l.mu.Unlock()
			}
		})
	}
	go func() { wg.Wait(); close(l.done) }()
	return l
}

// waitStored waits until the file holds n readings.
func waitStored(t *testing.T, file string, n int) {
	t.Helper()
	mqtttest.Until(t, "everything is stored", func() bool {
		b, err := os.ReadFile(file)
		return err == nil && strings.Count(string(b), "\n") >= n
	})
}
