package mqtt

import (
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/url"
	"os"
	"slices"
	"strings"
	"time"

	"weighbeam/home"
	"weighbeam/ingest"
)

// Config of a [Session].
type Config struct {
	Broker   string   // tcp://host:1883, ssl://host:8883, ws://host/path or wss://host/path
	ClientID string   // needed: the broker keeps the session under it
	Filters  []Filter // what to subscribe to
	User     string
	Password string

	Clean bool // start with no session: messages sent while away are lost
	Will  *Will
	TLS   Files

	// Memory keeps what was subscribed to, so that a filter that left the configuration
	// while the program was down is unsubscribed. nil: not remembered.
	Memory Memory

	KeepAlive time.Duration // 30 s
	Floor     time.Duration // shortest pause between two connects; 1 s
	Cap       time.Duration // longest pause; 1 min
	Silence   time.Duration // connect and subscribe anew where nothing came for so long; 1 h
	Doubt     time.Duration // so long from a connect on a message may have come before, see below; 1 min
	InFlight  int           // messages taken and not yet acknowledged; 2048
	Log       *slog.Logger  // slog.Default

	// A broker that was killed hands out again, and does not say so, what it had handed
	// out since it last wrote down what it held. Doubt is for how long that is reckoned with.
}

// Memory outlasts the program.
type Memory interface {
	Recall() ([]byte, error)    // nil where nothing was remembered yet
	Remember(text []byte) error // whole or not at all
}

// Filter is one subscription.
type Filter struct {
	Topic string
	QoS   byte // 0, 1 or 2; only 1 and 2 outlast a restart
	Spare bool // where the broker refuses it the others hold all the same, and Health says so
}

// Filters returns subscriptions with QoS 1, what a house should use.
func Filters(topics ...string) []Filter {
	fs := make([]Filter, len(topics))
	for i, t := range topics {
		fs[i] = Filter{Topic: t, QoS: 1}
	}
	return fs
}

// disjoint leaves out what another filter covers. The one that covers takes over
// the higher QoS, and is spare where all of them are.
func disjoint(filters []Filter) []Filter {
	var kept []Filter
	for i, f := range filters {
		covered := false
		for j, o := range filters {
			switch {
			case i == j:
			case ingest.Covers(o.Topic, f.Topic):
				covered = true
			case ingest.Covers(f.Topic, o.Topic):
				f.QoS, f.Spare = max(f.QoS, o.QoS), f.Spare && o.Spare
			}
		}
		if !covered {
			kept = append(kept, f)
		}
	}
	return kept
}

// Will is what the broker publishes when the program is gone without a word.
type Will struct {
	Topic   string
	Payload []byte
	QoS     byte
	Retain  bool
}

// Files are PEM files for TLS; all empty: the system's roots and no client certificate.
type Files struct {
	CA   string // roots to believe instead of the system's
	Cert string // client certificate, with its key
	Key  string
}

func (c Config) withDefaults() Config {
	if c.KeepAlive == 0 {
		c.KeepAlive = 30 * time.Second
	}
	if c.Floor == 0 {
		c.Floor = time.Second
	}
	if c.Cap == 0 {
		c.Cap = time.Minute
	}
	if c.Silence == 0 {
		c.Silence = time.Hour
	}
	if c.Doubt == 0 {
		c.Doubt = time.Minute
	}
	if c.InFlight == 0 {
		c.InFlight = 2048
	}
	if c.Log == nil {
		c.Log = slog.Default()
	}
	return c
}

// address is the broker's with the port that its scheme stands for, where none is
// given.
func (c Config) address() (*url.URL, error) {
	u, err := url.Parse(c.Broker)
	if err != nil || u.Hostname() == "" || u.Port() != "" {
		return u, err
	}
	switch {
	case encrypted(u.Scheme):
		u.Host = net.JoinHostPort(u.Hostname(), "8883")
	case !webSocket(u.Scheme):
		u.Host = net.JoinHostPort(u.Hostname(), "1883")
	}
	return u, nil
}

const op = "configure MQTT"

func (c Config) valid() error {
	u, err := c.address()
	schemes := []string{"tcp", "mqtt", "ssl", "tls", "mqtts", "ws", "wss"}
	switch {
	case err != nil || u.Host == "" || !slices.Contains(schemes, u.Scheme):
		return home.Hinted(op, "Write it as tcp://host:1883 or ssl://host:8883.", "the broker's address cannot be read: it is no URL with a known scheme and a host")
	case c.ClientID == "":
		return home.Hinted(op, "Choose a client id and keep it: the broker keeps what arrives while the program is down under it.", "no client id")
	case c.Floor > c.Cap:
		return home.Hinted(op, "", "the floor of the pause (%s) is above its cap (%s)", c.Floor, c.Cap)
	case c.Will != nil && (c.Will.QoS > 2 || ingest.ValidFilter(c.Will.Topic) != nil || strings.ContainsAny(c.Will.Topic, "+#")):
		return home.Hinted(op, "A will needs a topic without '+' and '#', and a QoS of 0, 1 or 2.", "the last will for %q cannot be sent", c.Will.Topic)
	}
	return validFilters(c.Filters)
}

func validFilters(filters []Filter) error {
	for i, f := range filters {
		if err := ingest.ValidFilter(f.Topic); err != nil {
			return &home.Error{Op: op, Err: err}
		}
		if f.QoS > 2 {
			return home.Hinted(op, "Use 0, 1 or 2.", "topic filter %q: QoS %d", f.Topic, f.QoS)
		}
		if slices.ContainsFunc(filters[:i], func(o Filter) bool { return o.Topic == f.Topic }) {
			return home.Hinted(op, "Write each filter once.", "topic filter %q is there twice", f.Topic)
		}
	}
	return nil
}

// Config loads the files; nil, nil where none is named.
func (f Files) Config() (*tls.Config, error) {
	if f == (Files{}) {
		return nil, nil
	}
	conf := &tls.Config{MinVersion: tls.VersionTLS12}
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
		return nil, &home.Error{Op: op, Hint: "Name both the client certificate and its key, in PEM form.", Err: fmt.Errorf("client certificate: %w", err)}
	}
	conf.Certificates = []tls.Certificate{pair}
	return conf, nil
}

// Why a connection is given up on purpose.
var (
	errNoRoom = errors.New("messages found no room: connecting anew fetches them")
	errSilent = errors.New("nothing came for long: connecting anew in case the broker lost the subscriptions")
)
