package broker

import (
	"crypto/tls"
	"errors"
	"net"
	"time"

	"golang.org/x/net/netutil"
)

// greeted is a listener whose connections have so long to send their CONNECT. The
// server beneath waits for it without end, and sets deadlines of its own from then
// on, by the keep-alive of the device. It also stops listening, for good and without
// a word, at the first error: so one that passes is waited for here.
type greeted struct {
	net.Listener
	wait time.Duration
}

// breath is how long to wait after an error, as for a file that cannot be opened
// because too many are.
const breath = 50 * time.Millisecond

func (g greeted) Accept() (net.Conn, error) {
	for {
		c, err := g.Listener.Accept()
		if errors.Is(err, net.ErrClosed) {
			return nil, err
		}
		if err != nil {
			time.Sleep(breath)
			continue
		}
		if err := c.SetDeadline(time.Now().Add(g.wait)); err == nil {
			return c, nil
		}
		c.Close() // it has ended already
	}
}

// listen opens the address of cfg.
func listen(cfg Config) (net.Listener, error) {
	l, err := net.Listen("tcp", cfg.Addr)
	if err != nil {
		return nil, err
	}
	l = greeted{netutil.LimitListener(l, cfg.Most), cfg.Greet}
	if cfg.TLS != nil {
		l = tls.NewListener(l, cfg.TLS)
	}
	return l, nil
}
