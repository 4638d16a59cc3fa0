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
			acked := publishAll(t, addr)
			for range kills {
				acked.send(messages / kills)
				<-time.After(time.Duration(20+rand.IntN(130)) * time.Millisecond)
				v.kill()
				if _, err := readFileStore(file); err != nil {
					t.Fatal(err)
				}
				v.start()
			}
			acked.finish()
			if n := acked.count(); n < messages/2 {
				t.Fatalf("only %d of %d acknowledged", n, messages)
			}
			mqtttest.Until(t, "everything acknowledged is stored", func() bool { return len(acked.missing(t, file)) == 0 })
			v.kill()
			if lost := acked.missing(t, file); len(lost) > 0 {
				t.Errorf("acknowledged and not stored: %v", lost)
			}
		})
	}
}

// subscribeCrash makes the kept session before anything is published.
func subscribeCrash(t *testing.T, addr string) {
	c := mqtttest.Client(t, "tcp://"+addr, "crash", func(o *paho.ClientOptions) { o.SetCleanSession(false) })
	mqtttest.Wait(t, c.Subscribe("home/#", 1, nil))
	c.Disconnect(100)
}

// ledger is what was acknowledged to the devices, and what they may send: as much
// a kill as to be in the middle of it, and no more than a broker queues.
type ledger struct {
	mu   sync.Mutex
	seqs []int
	next chan int // sequence numbers to send
	wg   sync.WaitGroup
	last int
}

// send lets n more messages be sent.
func (l *ledger) send(n int) {
	for range n {
		l.last++
		l.next <- l.last
	}
}

// finish waits until the devices have the answer to the last.
func (l *ledger) finish() {
	close(l.next)
	l.wg.Wait()
}

func (l *ledger) count() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return len(l.seqs)
}

// missing is what was acknowledged and is not in the file.
func (l *ledger) missing(t *testing.T, file string) (lost []int) {
	t.Helper()
	s, err := readFileStore(file)
	if err != nil {
		t.Fatal(err)
	}
	for _, seq := range l.seqs {
		if !s[int64(seq)] {
			lost = append(lost, seq)
		}
	}
	return lost
}

// publishAll runs devices that publish what the ledger hands out, connect again by
// themselves and send again what was not acknowledged. A message whose writing met
// the end of a connection counts as not acknowledged, though it is sent again.
func publishAll(t *testing.T, addr string) *ledger {
	l := &ledger{next: make(chan int, 100_000)}
	for d := range 8 {
		c := mqtttest.Client(t, "tcp://"+addr, fmt.Sprint("device", d), func(o *paho.ClientOptions) {
			o.SetCleanSession(false).SetAutoReconnect(true).SetMaxReconnectInterval(20 * time.Millisecond).SetConnectRetryInterval(20 * time.Millisecond)
		})
		l.wg.Go(func() {
			for seq := range l.next {
				token := c.Publish("home/litter/1", 1, false, reading(seq))
				if !token.WaitTimeout(mqtttest.Patience) {
					t.Errorf("%d: no answer", seq)
				}
				if mqtttest.Acknowledged(token) {
					l.mu.Lock()
					l.seqs = append(l.seqs, seq)
					l.mu.Unlock()
				}
			}
		})
	}
	return l
}
