package mail

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"io"
	"log"
	"math/big"
	"net"
	"sync"
	"testing"
	"time"

	"github.com/emersion/go-sasl"
	"github.com/emersion/go-smtp"
)

// postbox is a real mail server on loopback that keeps what it took.
type postbox struct {
	addr *net.TCPAddr
	pool *x509.CertPool // vouches for its certificate

	mu      sync.Mutex
	letters []letter
	logins  int
	refuse  map[string]error // by step: "login", "from", "to", "data"
}

type letter struct{ from, to, data string }

func (p *postbox) err(step string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.refuse[step]
}

func (p *postbox) taken() []letter {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.letters
}

// NewSession makes p a smtp.Backend.
func (p *postbox) NewSession(*smtp.Conn) (smtp.Session, error) { return &session{p: p}, nil }

type session struct {
	p *postbox
	l letter
}

func (s *session) AuthMechanisms() []string { return []string{sasl.Plain} }

func (s *session) Auth(string) (sasl.Server, error) {
	return sasl.NewPlainServer(func(_, u, pw string) error {
		s.p.mu.Lock()
		s.p.logins++
		s.p.mu.Unlock()
		if u != user || pw != password {
			// A server that is careless with what it was told.
			return &smtp.SMTPError{Code: 535, EnhancedCode: smtp.EnhancedCode{5, 7, 8}, Message: "not you, " + u + " " + pw}
		}
		return s.p.err("login")
	}), nil
}

func (s *session) Mail(from string, _ *smtp.MailOptions) error {
	s.l.from = from
	return s.p.err("from")
}

func (s *session) Rcpt(to string, _ *smtp.RcptOptions) error {
	s.l.to = to
	return s.p.err("to")
}

func (s *session) Data(r io.Reader) error {
	b, err := io.ReadAll(r)
	if err != nil {
		return err
	}
	if err := s.p.err("data"); err != nil {
		return err
	}
	s.l.data = string(b)
	s.p.mu.Lock()
	s.p.letters = append(s.p.letters, s.l)
	s.p.mu.Unlock()
	return nil
}

func (s *session) Reset()        {}
func (s *session) Logout() error { return nil }

// open starts a mail server: it offers STARTTLS, or talks TLS from the first
// byte, or neither.
func open(t *testing.T, encrypt string) *postbox {
	t.Helper()
	p := &postbox{refuse: map[string]error{}}
	cert := certificate(t)
	p.pool = x509.NewCertPool()
	p.pool.AddCert(cert.Leaf)
	conf := &tls.Config{Certificates: []tls.Certificate{cert}}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	p.addr = l.Addr().(*net.TCPAddr)
	s := smtp.NewServer(p)
	s.Domain, s.ErrorLog = "localhost", log.New(io.Discard, "", 0)
	switch encrypt {
	case StartTLS:
		s.TLSConfig = conf
	case TLS:
		l = tls.NewListener(l, conf)
	case Plain:
		s.AllowInsecureAuth = true
	}
	done := make(chan struct{})
	go func() { defer close(done); _ = s.Serve(l) }()
	t.Cleanup(func() { _ = s.Close(); <-done })
	return p
}

// certificate is one for 127.0.0.1 that vouches for itself.
func certificate(t *testing.T) tls.Certificate {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	form := &x509.Certificate{SerialNumber: big.NewInt(1), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IsCA: true, BasicConstraintsValid: true}
	der, err := x509.CreateCertificate(rand.Reader, form, form, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key, Leaf: leaf}
}

// script is a server that plays the lines given, one for each line it reads
// (the first at once), and then does last with the connection.
func script(t *testing.T, lines []string, last func(net.Conn)) *net.TCPAddr {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { l.Close() })
	go func() {
		for {
			c, err := l.Accept()
			if err != nil {
				return
			}
			go func() { defer c.Close(); play(c, lines, last) }()
		}
	}()
	return l.Addr().(*net.TCPAddr)
}

func play(c net.Conn, lines []string, last func(net.Conn)) {
	buf := make([]byte, 4096)
	for i, line := range lines {
		if i > 0 {
			if _, err := c.Read(buf); err != nil {
				return
			}
		}
		if _, err := io.WriteString(c, line); err != nil {
			return
		}
	}
	last(c)
}

func hang(c net.Conn) { _, _ = io.Copy(io.Discard, c) }
func slam(c net.Conn) { c.Close() }
