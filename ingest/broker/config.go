package broker

import (
	"crypto/tls"
	"fmt"
	"log/slog"
	"net"
	"time"

	"weighbeam/home"
	"weighbeam/ingest"
)

// Config of a [Broker].
type Config struct {
	Addr    string        // host:port to listen on; "127.0.0.1:1883" where empty; port 0 takes a free one
	Devices []Device      // who may connect; empty: anyone, on loopback only
	TLS     *tls.Config   // where not nil, only TLS is spoken
	Wait    time.Duration // how long a device waits for a commit before it is cut off; 10 s
	Greet   time.Duration // how long a connection may be open and not have said who it is; 10 s
	Most    int           // connections at a time; 256
	Log     *slog.Logger  // slog.Default
}

// Device is what one device logs in with and where it may publish and subscribe.
type Device struct {
	User     string
	Password string   // as it is, or its bcrypt hash ("$2a$..." or "$2b$...")
	Topics   []string // MQTT filters
}

const defaultAddr = "127.0.0.1:1883"

func (c Config) withDefaults() Config {
	if c.Addr == "" {
		c.Addr = defaultAddr
	}
	if c.Wait == 0 {
		c.Wait = 10 * time.Second
	}
	if c.Greet == 0 {
		c.Greet = 10 * time.Second
	}
	if c.Most == 0 {
		c.Most = 256
	}
	if c.Log == nil {
		c.Log = slog.Default()
	}
	return c
}

// Valid returns what is wrong with c, as an error with a hint.
func (c Config) Valid() error {
	c = c.withDefaults()
	if _, _, err := net.SplitHostPort(c.Addr); err != nil {
		return home.Hinted(op, "Write host:port, as 127.0.0.1:1883.", "address %q: %w", c.Addr, err)
	}
	if len(c.Devices) == 0 && !home.Loopback(c.Addr) {
		return home.Hinted(op, "Give each device a user, a password and its topics, or listen on 127.0.0.1.",
			"address %q is open to the house and no device has credentials", c.Addr)
	}
	seen := map[string]bool{}
	for _, d := range c.Devices {
		if err := d.valid(); err != nil {
			return err
		}
		if seen[d.User] {
			return home.Hinted(op, "Give each device a user of its own.", "two devices have the user %q", d.User)
		}
		seen[d.User] = true
	}
	return nil
}

const op = "start the inner broker"

func (d Device) valid() error {
	switch {
	case d.User == "" || d.Password == "":
		return home.Hinted(op, "Give it both.", "device %q has no user or no password", d.User)
	case len(d.Topics) == 0:
		return home.Hinted(op, "Name the topics that it may publish to.", "device %q has no topics", d.User)
	}
	for _, f := range d.Topics {
		if err := ingest.ValidFilter(f); err != nil {
			return fmt.Errorf("%s: device %q: %w", op, d.User, err)
		}
	}
	return nil
}
