package topic

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"errors"
	"net/url"
	"strings"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"

	"weighbeam/home"
	"weighbeam/notify"
)

// Broker is where to publish. A notice is rare, so each has a connection of its
// own, which cannot go stale.
type Broker struct {
	Server   string // as mqtt://127.0.0.1:1883 or mqtts://broker:8883
	User     string
	Password notify.Secret
	TLS      *tls.Config // for a broker that is met over TLS; nil for the system's roots
}

// patience is how long a connection may take where the context has no deadline.
const patience = 20 * time.Second

// Publisher returns how to publish there, or what is wrong with b.
func (b Broker) Publisher() (Publish, error) {
	server, err := b.address()
	if err != nil {
		return nil, err
	}
	return func(ctx context.Context, topic string, payload []byte) error {
		opts := paho.NewClientOptions().AddBroker(server).SetClientID("weighbeam-notice-" + rand.Text()[:8]).
			SetUsername(b.User).SetPassword(string(b.Password)).
			SetAutoReconnect(false).SetConnectTimeout(left(ctx))
		if b.TLS != nil {
			opts.SetTLSConfig(b.TLS)
		}
		client := paho.NewClient(opts)
		defer client.Disconnect(0)
		if err := answered(ctx, client.Connect()); err != nil {
			return err
		}
		return answered(ctx, client.Publish(topic, 1, false, payload))
	}, nil
}

// address is the broker as the library writes it.
func (b Broker) address() (string, error) {
	scheme, rest, ok := strings.Cut(b.Server, "://")
	u, err := url.Parse(b.Server)
	if !ok || err != nil || u.Host == "" {
		return "", home.Hinted("set up a topic", "Write the broker as mqtt://host:1883 or mqtts://host:8883.", "the broker's address cannot be used")
	}
	port := func(p string) string {
		if u.Port() == "" {
			return u.Host + ":" + p
		}
		return u.Host
	}
	switch scheme {
	case "ws", "wss":
		return scheme + "://" + rest, nil
	case "mqtts", "ssl", "tls":
		return "ssl://" + port("8883"), nil
	}
	return "tcp://" + port("1883"), nil
}

func left(ctx context.Context) time.Duration {
	if end, ok := ctx.Deadline(); ok {
		return max(min(time.Until(end), patience), time.Millisecond)
	}
	return patience
}

// errUnanswered is all that is told of a failure: the library's own may quote
// the address, and with it a password.
var errUnanswered = errors.New("the broker did not answer")

// answered waits for the broker's answer, or the end of ctx.
func answered(ctx context.Context, t paho.Token) error {
	select {
	case <-t.Done():
		if t.Error() != nil {
			return errUnanswered
		}
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
