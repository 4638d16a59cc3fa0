package broker

import (
	"context"
	"errors"
	"io"
	"log/slog"
	"net"
	"sync"
	"syscall"
	"time"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/listeners"

	"weighbeam/home"
	"weighbeam/ingest"
	"weighbeam/ingest/payload"
)

// Sink takes what devices publish. After nil, Settle is called once.
type Sink interface {
	Deliver(ctx context.Context, d ingest.Delivery) error
}

// Broker is a running broker.
type Broker struct {
	cfg    Config
	server *mochi.Server
	socket net.Listener
	listen *listeners.Net
	hook   *hook
	once   sync.Once
}

// maxPacket is longer than what can be read, so that a payload somewhat too long
// is set aside like any other, and short enough that a device cannot fill the memory.
const maxPacket = 2 * payload.MaxBytes

// Start listens and serves. The error, with a hint, says what is wrong with the
// configuration or that the port is in use.
func Start(cfg Config, sink Sink) (*Broker, error) {
	cfg = cfg.withDefaults()
	if err := cfg.Valid(); err != nil {
		return nil, err
	}
	b := &Broker{cfg: cfg, hook: newHook(cfg, sink)}
	caps := mochi.NewDefaultServerCapabilities()
	caps.SharedSubAvailable = 0
	caps.MaximumPacketSize = maxPacket
	b.server = mochi.New(&mochi.Options{
		Capabilities: caps,
		Logger:       slog.New(slog.NewTextHandler(io.Discard, nil)), // the hook says what matters, once
	})
	if err := b.server.AddHook(b.hook, nil); err != nil {
		return nil, &home.Error{Op: op, Err: err}
	}
	l, err := listen(cfg)
	if err != nil {
		return nil, listenError(err)
	}
	b.socket, b.listen = l, listeners.NewNet("mqtt", l)
	if err := errors.Join(b.server.AddListener(b.listen), b.server.Serve()); err != nil {
		l.Close()
		return nil, &home.Error{Op: op, Err: err}
	}
	return b, nil
}

func listenError(err error) error {
	hint := "Choose another address."
	if errors.Is(err, syscall.EADDRINUSE) {
		hint = "Another program, perhaps another broker, listens there: stop it, use it as the broker, or choose another port."
	}
	if errors.Is(err, syscall.EACCES) {
		hint = "Ports under 1024 need rights that this program should not have: choose a higher one."
	}
	return &home.Error{Op: op, Hint: hint, Err: err}
}

// Addr is where the broker listens.
func (b *Broker) Addr() string { return b.listen.Address() }

// Port is the port of Addr.
func (b *Broker) Port() string {
	_, port, _ := net.SplitHostPort(b.Addr())
	return port
}

// Clients is how many devices are connected.
func (b *Broker) Clients() int { return b.hook.connected() }

// Close cuts off every device and stops listening. What was not acknowledged stays
// with its device. Close the broker before the appender stops, or after: neither
// acknowledges what is not committed. A second call does nothing.
func (b *Broker) Close() error {
	var err error
	b.once.Do(func() {
		b.socket.Close() // first, so that nobody comes while the others are cut off
		b.hook.stop()
		err = within(closing, b.server.Close)
	})
	return err
}

// closing is how long the library may take to cut off every device.
const closing = 2 * time.Second

// within is f, or nil once it has taken too long. The library locks its list of devices
// for reading twice (GetByListener calls Len, as of mochi-mqtt 2.7.9) and waits for ever
// where a device leaves in between; nothing is acknowledged any more by then, and what
// hangs ends with the program.
func within(limit time.Duration, f func() error) error {
	ended := make(chan error, 1)
	go func() { ended <- f() }()
	select {
	case err := <-ended:
		return err
	case <-time.After(limit):
		return nil
	}
}
