package mqtt

import (
	"bufio"
	"context"
	"crypto/tls"
	"net"
	"net/url"
	"sync"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
)

// conn is a connection that reads ahead and gathers what is written. The client
// reads a packet in three calls and writes each acknowledgement in one; with a
// backlog that is most of the work. Gathering adds no delay: what is there is
// written at once, what comes while the network is busy goes together.
type conn struct {
	net.Conn
	r *bufio.Reader

	mu      sync.Mutex
	change  *sync.Cond
	pending []byte
	writing bool // a write to the network is under way
	err     error
	closed  bool
}

// maxPending bounds what may wait to be written: acknowledgements for all that
// may be in flight fit in.
const maxPending = 64 << 10

func gather(c net.Conn) *conn {
	g := &conn{Conn: c, r: bufio.NewReaderSize(c, 32<<10)}
	g.change = sync.NewCond(&g.mu)
	go g.flush()
	return g
}

// Read tells why writing broke, if it did: the client takes the bare error of a
// connection that was closed for its own goodbye and would wait for ever.
func (c *conn) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	if err == nil {
		return n, nil
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.err != nil {
		err = c.err
	}
	return n, err
}

// Write takes p over; an error of the network comes with a later Write and ends
// the reading side at once.
func (c *conn) Write(p []byte) (int, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	for len(c.pending) > maxPending && c.err == nil && !c.closed {
		c.change.Wait()
	}
	if c.closed {
		return 0, net.ErrClosed
	}
	if c.err != nil {
		return 0, c.err
	}
	c.pending = append(c.pending, p...)
	c.change.Broadcast()
	return len(p), nil
}

// flush writes what is pending until the connection closes or breaks.
func (c *conn) flush() {
	var out []byte
	c.mu.Lock()
	defer c.mu.Unlock()
	for {
		for len(c.pending) == 0 && !c.closed {
			c.change.Wait()
		}
		if len(c.pending) == 0 {
			return
		}
		out, c.pending = c.pending, out[:0]
		c.writing = true
		c.change.Broadcast() // there is room again
		c.mu.Unlock()
		_, err := c.Conn.Write(out)
		c.mu.Lock()
		c.writing = false
		if c.err = err; err != nil {
			c.pending = nil
			c.change.Broadcast()
			c.Conn.Close() // so that the reader learns of it
			return
		}
		c.change.Broadcast()
	}
}

// closeWait is how long a close waits for what is still to be written.
const closeWait = 250 * time.Millisecond

// Close writes what is pending, unless the network does not take it, and closes.
func (c *conn) Close() error {
	c.Conn.SetWriteDeadline(time.Now().Add(closeWait))
	c.mu.Lock()
	for (len(c.pending) > 0 || c.writing) && c.err == nil {
		c.change.Wait()
	}
	c.closed = true
	c.change.Broadcast()
	c.mu.Unlock()
	return c.Conn.Close()
}

// dial opens a gathering connection for the schemes that are plain TCP or TLS.
func (s *Session) dial(ctx context.Context) paho.OpenConnectionFunc {
	return func(u *url.URL, o paho.ClientOptions) (net.Conn, error) {
		ctx, cancel := context.WithTimeout(ctx, o.ConnectTimeout)
		defer cancel()
		dialer := &net.Dialer{}
		if encrypted(u.Scheme) {
			c, err := (&tls.Dialer{NetDialer: dialer, Config: s.tls}).DialContext(ctx, "tcp", u.Host)
			if err != nil {
				return nil, err
			}
			return gather(c), nil
		}
		c, err := dialer.DialContext(ctx, "tcp", u.Host)
		if err != nil {
			return nil, err
		}
		return gather(c), nil
	}
}

func encrypted(scheme string) bool { return scheme == "ssl" || scheme == "tls" || scheme == "mqtts" }

func webSocket(scheme string) bool { return scheme == "ws" || scheme == "wss" }
