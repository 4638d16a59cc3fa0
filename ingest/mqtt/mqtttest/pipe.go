package mqtttest

import (
	"net"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// Pipe is a stretch of network between a client and a broker that can be cut,
// slowed, and frozen: open, and losing everything without a word.
type Pipe struct {
	listener net.Listener
	to       string
	frozen   atomic.Bool
	slow     atomic.Int64 // ns before each piece of at most 64 bytes; 0: as fast as it goes

	mu    sync.Mutex
	conns map[net.Conn]bool
}

// NewPipe lays a pipe to an address; it ends with the test.
func NewPipe(t testing.TB, to string) *Pipe {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p := &Pipe{listener: l, to: to, conns: map[net.Conn]bool{}}
	t.Cleanup(func() {
		l.Close()
		p.Cut()
	})
	go func() {
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			go p.join(conn)
		}
	}()
	return p
}

// Addr is where the pipe begins.
func (p *Pipe) Addr() string { return p.listener.Addr().String() }

// Freeze lets nothing through, or everything again.
func (p *Pipe) Freeze(frozen bool) { p.frozen.Store(frozen) }

// Slow makes every few bytes wait.
func (p *Pipe) Slow(wait time.Duration) { p.slow.Store(int64(wait)) }

// Cut ends every connection that is open, in the middle of whatever it says.
func (p *Pipe) Cut() {
	p.mu.Lock()
	defer p.mu.Unlock()
	for c := range p.conns {
		c.Close()
		delete(p.conns, c)
	}
}

func (p *Pipe) join(a net.Conn) {
	b, err := net.Dial("tcp", p.to)
	if err != nil {
		a.Close()
		return
	}
	p.mu.Lock()
	p.conns[a], p.conns[b] = true, true
	p.mu.Unlock()
	go p.pass(a, b)
	go p.pass(b, a)
}

func (p *Pipe) pass(to, from net.Conn) {
	buf := make([]byte, 4096)
	for {
		piece := buf
		if wait := time.Duration(p.slow.Load()); wait > 0 {
			<-time.After(wait)
			piece = buf[:64]
		}
		n, err := from.Read(piece)
		if err == nil && !p.frozen.Load() {
			_, err = to.Write(piece[:n])
		}
		if err != nil {
			to.Close()
			from.Close()
			return
		}
	}
}
