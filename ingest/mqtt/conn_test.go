package mqtt

import (
	"errors"
	"io"
	"net"
	"sync"
	"testing"
	"time"
)

// wire is a network that a test holds up or breaks; its reading side waits until
// it is closed.
type wire struct {
	net.Conn // for the addresses and deadlines, of which only the write deadline is asked
	mu       sync.Mutex
	writes   []string
	gate     chan struct{} // writes wait for it
	broken   error
	closed   chan struct{}
	once     sync.Once
}

func newWire() *wire { return &wire{gate: make(chan struct{}, 100), closed: make(chan struct{})} }

func (w *wire) Read([]byte) (int, error) {
	<-w.closed
	return 0, io.EOF
}

func (w *wire) Write(p []byte) (int, error) {
	select {
	case <-w.gate:
	case <-w.closed:
		return 0, net.ErrClosed
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	w.writes = append(w.writes, string(p))
	return len(p), w.broken
}

func (w *wire) Close() error {
	w.once.Do(func() { close(w.closed) })
	return nil
}

// SetWriteDeadline lets writes through at the deadline, as failures.
func (w *wire) SetWriteDeadline(t time.Time) error {
	time.AfterFunc(time.Until(t), func() { w.Close() })
	return nil
}

func (w *wire) written() []string {
	w.mu.Lock()
	defer w.mu.Unlock()
	return append([]string{}, w.writes...)
}

// eventually waits for a condition.
func eventually(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for end := time.Now().Add(10 * time.Second); !ok(); {
		if time.Now().After(end) {
			t.Fatalf("waited in vain for: %s", what)
		}
		<-time.After(time.Millisecond)
	}
}

// The first write goes out at once; what comes while it is under way goes together.
func TestConn_Write_Gathers(t *testing.T) {
	w := newWire()
	c := gather(w)
	defer c.Close()
	for i, p := range []string{"a", "b", "c"} {
		if _, err := c.Write([]byte(p)); err != nil {
			t.Fatal(err)
		}
		if i == 0 {
			eventually(t, "the first is under way", func() bool {
				c.mu.Lock()
				defer c.mu.Unlock()
				return c.writing
			})
		}
	}
	w.gate <- struct{}{}
	w.gate <- struct{}{}
	eventually(t, "all is written", func() bool { return len(w.written()) == 2 })
	if got := w.written(); got[0] != "a" || got[1] != "bc" {
		t.Errorf("written %q", got)
	}
}

// A network that takes nothing holds the writer up, not the memory.
func TestConn_Write_Bounded(t *testing.T) {
	w := newWire()
	c := gather(w)
	done := make(chan error)
	go func() {
		for range 100 {
			if _, err := c.Write(make([]byte, 8<<10)); err != nil {
				done <- err
				return
			}
		}
		done <- nil
	}()
	eventually(t, "the writer waits", func() bool {
		c.mu.Lock()
		defer c.mu.Unlock()
		return len(c.pending) > maxPending
	})
	select {
	case err := <-done:
		t.Errorf("the writer went on: %v", err)
	case <-time.After(10 * time.Millisecond):
	}
	c.Close()
	if err := <-done; err == nil {
		t.Error("writing went on after the close")
	}
}

// An error in writing ends reading, since the writer may not come again, and is
// told to the next write.
func TestConn_Write_Broken(t *testing.T) {
	w := newWire()
	w.broken = errors.New("broken")
	c := gather(w)
	w.gate <- struct{}{}
	if _, err := c.Write([]byte("a")); err != nil {
		t.Fatal(err)
	}
	if _, err := c.Read(make([]byte, 1)); !errors.Is(err, w.broken) {
		t.Errorf("reading ends with %v", err)
	}
	if _, err := c.Write([]byte("b")); !errors.Is(err, w.broken) {
		t.Errorf("error %v", err)
	}
	c.Close() // and again, to no harm
}

// Closing writes what is pending (the last packet says goodbye), but does not
// wait for ever for a network that takes nothing.
func TestConn_Close(t *testing.T) {
	for name, lets := range map[string]int{"flushes": 2, "gives up": 0} {
		t.Run(name, func(t *testing.T) {
			w := newWire()
			c := gather(w)
			for range lets {
				w.gate <- struct{}{}
			}
			if _, err := c.Write([]byte("bye")); err != nil {
				t.Fatal(err)
			}
			start := time.Now()
			c.Close()
			if took := time.Since(start); took > 5*time.Second {
				t.Errorf("it took %s", took)
			}
			if got := len(w.written()); got != min(lets, 1) {
				t.Errorf("%d writes", got)
			}
			if _, err := c.Write([]byte("more")); err == nil {
				t.Error("written after the close")
			}
		})
	}
}
