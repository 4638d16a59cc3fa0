package app

import (
	"log/slog"
	"net"
	"net/http"
	"time"

	"golang.org/x/net/netutil"
)

const (
	// sentIn is how long a request may take to come in, with what is sent: the longest
	// batch of readings over a line of 150 kbit/s. Pictures have longer, see manual.
	sentIn = time.Minute
	// maxOpen is how many connections the pages serve at a time: some forty browsers. Who
	// comes later waits for one to end, and no file of the store is without a handle.
	maxOpen = 256
)

// newServer serves h to connections that have an end. How long an answer may take is not
// bounded: some pages follow what happens.
func newServer(h http.Handler, log *slog.Logger) *http.Server {
	return &http.Server{Handler: h, ReadHeaderTimeout: 10 * time.Second, ReadTimeout: sentIn, IdleTimeout: 2 * time.Minute,
		ErrorLog: slog.NewLogLogger(log.Handler(), slog.LevelDebug)} // strangers' broken handshakes
}

// bounded is l with a bound to its connections.
func bounded(l net.Listener) net.Listener { return netutil.LimitListener(l, maxOpen) }
