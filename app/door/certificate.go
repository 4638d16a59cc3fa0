package door

import (
	"crypto/tls"
	"os"
	"sync"
	"time"

	"weighbeam/home"
)

// Certificate is a key pair in two files, read again once they have changed, as
// they do every few months.
type Certificate struct {
	cert, key string

	mu    sync.Mutex
	pair  *tls.Certificate
	as    time.Time // of the files that pair was read from
	asked time.Time
}

// lookAgain is how long the files are not looked at once they were.
const lookAgain = 10 * time.Second

// NewCertificate reads a certificate and its key.
func NewCertificate(cert, key string) (*Certificate, error) {
	c := &Certificate{cert: cert, key: key}
	if err := c.read(); err != nil {
		return nil, &home.Error{Op: "read the certificate", Err: err,
			Hint: "cert_file and key_file under [door] name PEM files that belong together and that the program may read."}
	}
	return c, nil
}

// Config is how TLS is spoken with c.
func (c *Certificate) Config() *tls.Config {
	return &tls.Config{MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"},
		GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return c.current(), nil }}
}

// current is the newest pair that could be read: half a pair, as while one is
// written, changes nothing.
func (c *Certificate) current() *tls.Certificate {
	c.mu.Lock()
	defer c.mu.Unlock()
	if time.Since(c.asked) >= lookAgain {
		_ = c.read() // the one before goes on; verify tells of one that has run out
	}
	return c.pair
}

func (c *Certificate) read() error {
	c.asked = time.Now()
	changed := time.Time{}
	for _, path := range []string{c.cert, c.key} {
		info, err := os.Stat(path)
		if err != nil {
			return err
		}
		if info.ModTime().After(changed) {
			changed = info.ModTime()
		}
	}
	if c.pair != nil && changed.Equal(c.as) {
		return nil
	}
	pair, err := tls.LoadX509KeyPair(c.cert, c.key)
	if err != nil {
		return err
	}
	c.pair, c.as = &pair, changed
	return nil
}
