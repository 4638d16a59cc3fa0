package broker

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"log/slog"
	"strings"
	"sync/atomic"
	"time"

	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"

	"weighbeam/home"
	"weighbeam/ingest"
)

// hook ties a PUBACK to a commit. The broker calls OnPublish on the goroutine of
// the device's connection before it acknowledges, so waiting there holds up that
// device alone.
type hook struct {
	mochi.HookBase
	accounts accounts
	sink     Sink
	wait     time.Duration
	log      *slog.Logger
	ctx      context.Context
	stop     context.CancelFunc
	clients  atomic.Int64
}

func newHook(cfg Config, sink Sink) *hook {
	h := &hook{accounts: newAccounts(cfg.Devices), sink: sink, wait: cfg.Wait, log: cfg.Log}
	h.ctx, h.stop = context.WithCancel(context.Background())
	return h
}

func (h *hook) connected() int { return int(h.clients.Load()) }

// ID is part of mochi.Hook.
func (h *hook) ID() string { return "commit-before-ack" }

// Provides is part of mochi.Hook.
func (h *hook) Provides(b byte) bool {
	return bytes.IndexByte([]byte{mochi.OnConnectAuthenticate, mochi.OnACLCheck, mochi.OnPublish,
		mochi.OnSessionEstablished, mochi.OnDisconnect}, b) >= 0
}

// OnConnectAuthenticate is part of mochi.Hook.
func (h *hook) OnConnectAuthenticate(cl *mochi.Client, pk packets.Packet) bool {
	ok := h.accounts.admit(string(pk.Connect.Username), pk.Connect.Password)
	if !ok {
		h.log.Warn("a device was refused: unknown user or wrong password", "user", string(pk.Connect.Username), "client", cl.ID, "from", cl.Net.Remote)
	}
	return ok
}

// OnACLCheck is part of mochi.Hook.
func (h *hook) OnACLCheck(cl *mochi.Client, topic string, write bool) bool {
	ok := h.accounts.may(string(cl.Properties.Username), topic, write)
	if !ok {
		h.log.Warn("a device was refused a topic that is not its own", "user", string(cl.Properties.Username), "topic", topic, "publish", write)
	}
	return ok
}

// OnSessionEstablished is part of mochi.Hook.
func (h *hook) OnSessionEstablished(*mochi.Client, packets.Packet) { h.clients.Add(1) }

// OnDisconnect is part of mochi.Hook. A packet that is too long is never read, and
// its device is cut off: that is told, since it will come again with the same.
func (h *hook) OnDisconnect(cl *mochi.Client, err error, _ bool) {
	h.clients.Add(-1)
	if !errors.Is(err, packets.ErrPacketTooLarge) {
		return
	}
	h.log.Warn("a device was cut off: its message is too long", "client", cl.ID, "from", cl.Net.Remote)
	ctx, cancel := context.WithTimeout(h.ctx, h.wait)
	defer cancel()
	_ = h.sink.Deliver(ctx, ingest.Delivery{ // where there is no room it is told by the next one
		Way: ingest.WayBroker, Topic: "client " + cl.ID,
		Ready: &home.Batch{SetAside: []home.SetAside{{
			Arrived: time.Now(), Way: ingest.WayBroker, Topic: "client " + cl.ID, Latest: true,
			Reason: fmt.Sprintf("a message longer than %d bytes; the device was cut off", maxPacket),
		}}},
	})
}

// errNotCommitted is why a device is cut off: MQTT 3.1.1 has no word for "not
// yet", and a device sends again only after it has connected anew.
var errNotCommitted = errors.New("not committed")

// OnPublish is part of mochi.Hook. It returns after the commit, or refuses the
// packet so that no acknowledgement is sent.
func (h *hook) OnPublish(cl *mochi.Client, pk packets.Packet) (packets.Packet, error) {
	ctx, cancel := context.WithTimeout(h.ctx, h.wait)
	defer cancel()
	settled := make(chan error, 1) // filled after the wait is over as well
	err := h.sink.Deliver(ctx, ingest.Delivery{
		Way: ingest.WayBroker, Payload: pk.Payload, Resent: pk.FixedHeader.Dup,
		Topic:  strings.Clone(pk.TopicName), // the library's is a piece of the packet, and would hold all of it
		Settle: func(err error) { settled <- err },
	})
	if err == nil && pk.FixedHeader.Qos > 0 {
		select {
		case err = <-settled:
		case <-ctx.Done():
			err = ctx.Err()
		}
	}
	if err != nil {
		cl.Stop(errNotCommitted)
		return pk, packets.ErrRejectPacket
	}
	return pk, nil
}
