package topic

import (
	"context"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"net/url"
	"os"
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
	Files    Files
}

// Files are the PEM files of a broker that is met over TLS; "" for none.
type Files struct{ CA, Cert, Key string }

// patience is how long a connection may take where the context has no deadline.
const patience = 20 * time.Second

// Publisher returns how to publish there, or what is wrong with b.
func (b Broker) Publisher() (Publish, error) {
	server, encrypted, err := b.address()
	if err != nil {
		return nil, err
	}
	var conf *tls.Config
	if encrypted {
		if conf, err = b.Files.config(); err != nil {
			return nil, err
		}
	}
	return func(ctx context.Context, topic string, payload []byte) error {
		opts := paho.NewClientOptions().AddBroker(server).SetClientID("weighbeam-notice-" + rand.Text()[:8]).
			SetUsername(b.User).SetPassword(string(b.Password)).SetTLSConfig(conf).
			SetAutoReconnect(false).SetConnectTimeout(left(ctx))
		client := paho.NewClient(opts)
		defer client.Disconnect(0)
		if err := answered(ctx, client.Connect()); err != nil {
			return err
		}
		return answered(ctx, client.Publish(topic, 1, false, payload))
	}, nil
}

// address is the broker as the library writes it.
func (b Broker) address() (server string, encrypted bool, err error) {
	scheme, rest, ok := strings.Cut(b.Server, "://")
	u, err := url.Parse(b.Server)
	if !ok || err != nil || u.Host == "" {
		return "", false, home.Hinted("set up a topic", "Write the broker as mqtt://host:1883 or mqtts://host:8883.", "the broker's address cannot be used")
	}
	port := func(p string) string {
		if u.Port() == "" {
			return u.Host + ":" + p
		}
		return u.Host
	}
	switch scheme {
	case "ws", "wss":
		return scheme + "://" + rest, scheme == "wss", nil
	case "mqtts", "ssl", "tls":
		return "ssl://" + port("8883"), true, nil
	}
	return "tcp://" + port("1883"), false, nil
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

func (f Files) config() (*tls.Config, error) {
	conf := &tls.Config{MinVersion: tls.VersionTLS12}
	const op = "set up a topic"
	if f.CA != "" {
		pem, err := os.ReadFile(f.CA)
		if err != nil {
			return nil, &home.Error{Op: op, Hint: "Name the PEM file with the broker's certificate authority.", Err: err}
		}
		conf.RootCAs = x509.NewCertPool()
		if !conf.RootCAs.AppendCertsFromPEM(pem) {
			return nil, home.Hinted(op, "It must be in PEM form.", "%s holds no certificate", f.CA)
		}
	}
	if f.Cert == "" && f.Key == "" {
		return conf, nil
	}
	pair, err := tls.LoadX509KeyPair(f.Cert, f.Key)
	if err != nil {
		return nil, &home.Error{Op: op, Hint: "Name both the client certificate and its key, in PEM form.", Err: err}
	}
	conf.Certificates = []tls.Certificate{pair}
	return conf, nil
}
