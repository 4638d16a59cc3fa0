// Package mail hands a message to a mail server (SMTP, RFC 5321).
//
// It guarantees: the Message-ID is the same each time the same message is sent,
// so that a mail program shows it once; the connection is encrypted unless the
// keeper said otherwise; a server that hangs is left at the deadline; and neither
// the user nor the password nor what the server said appears in an error.
package mail

import (
	"context"
	"crypto/sha256"
	"crypto/tls"
	"encoding/hex"
	"errors"
	"fmt"
	"net"
	netmail "net/mail"
	"net/textproto"
	"strings"
	"time"

	"weighbeam/home"
	"weighbeam/notify"

	"github.com/wneessen/go-mail"
)

// Encryption of the connection.
const (
	StartTLS = "starttls" // required, as is usual on port 587
	TLS      = "tls"      // from the first byte, as is usual on port 465
	Plain    = "none"     // for a server on this machine
)

// Config is a mail server and whom to write to. A channel is one person: a
// server that refuses one of several would leave the others without.
type Config struct {
	Host      string
	Port      int    // 0: 587 for StartTLS, 465 for TLS, 25 for Plain
	Encrypt   string // StartTLS, TLS or Plain; "": StartTLS
	User      string // "": no login
	Password  notify.Secret
	From, To  string      // addresses, as "Weighbeam <cats@example.org>"
	TLSConfig *tls.Config // nil: the usual one
}

// patience is how long the server may take for one step, if the context allows longer.
const patience = time.Minute

// Mail is a [notify.Transport].
type Mail struct {
	conf   Config
	domain string // of the sender, for the Message-ID
}

// New returns a transport for c, or what is wrong with c.
func New(c Config) (*Mail, error) {
	from, err := netmail.ParseAddress(c.From)
	if err != nil {
		return nil, wrong("from is no mail address")
	}
	if _, err := netmail.ParseAddress(c.To); err != nil {
		return nil, wrong("to is no mail address: give one, a channel is one person")
	}
	switch {
	case c.Host == "":
		return nil, wrong("the host is missing")
	case c.Port < 0 || c.Port > 65535:
		return nil, wrong("port %d is not between 1 and 65535", c.Port)
	case c.User == "" && c.Password != "":
		return nil, wrong("there is a password but no user")
	case c.Encrypt == "":
		c.Encrypt = StartTLS
	}
	usual, ok := map[string]int{StartTLS: 587, TLS: 465, Plain: 25}[c.Encrypt]
	if !ok {
		return nil, wrong("encryption is starttls, tls or none, not %q", c.Encrypt)
	}
	if c.Port == 0 {
		c.Port = usual
	}
	_, domain, _ := strings.Cut(from.Address, "@")
	m := &Mail{conf: c, domain: domain}
	if _, err := m.client(context.Background()); err != nil {
		return nil, wrong("the mail library does not take these settings")
	}
	return m, nil
}

// String hides what m holds: fmt would print its fields.
func (m *Mail) String() string { return "mail" }

// GoString hides it from %#v.
func (m *Mail) GoString() string { return "mail" }

func wrong(format string, args ...any) error {
	return home.Hinted("set up mail", "See the mail part of the sample configuration.", format, args...)
}

// Send hands m to the server. It returns nil once the server took it, whatever
// happens to the connection afterwards: trying again would send it twice.
func (m *Mail) Send(ctx context.Context, msg notify.Message) error {
	letter, err := m.letter(msg)
	if err != nil {
		return notify.Refused("the message cannot be written as mail")
	}
	client, err := m.client(ctx)
	if err != nil {
		return notify.Refused("the mail settings cannot be used")
	}
	conn, err := client.DialToSMTPClientWithContext(ctx)
	if err != nil {
		return verdict(err, true)
	}
	err = client.SendWithSMTPClient(conn, letter)
	if letter.IsDelivered() {
		_ = client.CloseWithSMTPClient(conn)
		return nil
	}
	_ = conn.Close()
	return verdict(err, false)
}

// client is made anew for each message, bounded by ctx.
func (m *Mail) client(ctx context.Context) (*mail.Client, error) {
	// Each connection carries one letter: nothing to ask (NOOP) before it, nothing to clear (RSET) after it.
	opts := []mail.Option{mail.WithPort(m.conf.Port), mail.WithTimeout(left(ctx)), mail.WithoutNoop(), mail.WithoutRset()}
	switch m.conf.Encrypt {
	case StartTLS:
		opts = append(opts, mail.WithTLSPolicy(mail.TLSMandatory), mail.WithDialContextFunc(closing(ctx)))
	case Plain:
		opts = append(opts, mail.WithTLSPolicy(mail.NoTLS), mail.WithDialContextFunc(closing(ctx)))
	case TLS:
		// With a dial function of ours the library would think the connection
		// is in the clear and refuse to log in.
		opts = append(opts, mail.WithSSL())
	}
	if m.conf.TLSConfig != nil {
		conf := m.conf.TLSConfig.Clone()
		if conf.ServerName == "" {
			conf.ServerName = m.conf.Host
		}
		opts = append(opts, mail.WithTLSConfig(conf))
	}
	if m.conf.User != "" {
		opts = append(opts, mail.WithSMTPAuth(mail.SMTPAuthAutoDiscover),
			mail.WithUsername(m.conf.User), mail.WithPassword(string(m.conf.Password)))
	}
	return mail.NewClient(m.conf.Host, opts...)
}

// left is how long a step may take: the library bounds each step of the talk by
// a time of its own and looks at the context only while it dials.
func left(ctx context.Context) time.Duration {
	if end, ok := ctx.Deadline(); ok {
		return max(min(time.Until(end), patience), time.Millisecond)
	}
	return patience
}

// closing dials connections that close when ctx ends, at whatever step.
func closing(ctx context.Context) mail.DialContextFunc {
	return func(dialCtx context.Context, network, addr string) (net.Conn, error) {
		conn, err := (&net.Dialer{}).DialContext(dialCtx, network, addr)
		if err != nil {
			return nil, err
		}
		context.AfterFunc(ctx, func() { _ = conn.Close() })
		return conn, nil
	}
}

func (m *Mail) letter(msg notify.Message) (*mail.Msg, error) {
	l := mail.NewMsg(mail.WithNoDefaultUserAgent())
	if err := l.From(m.conf.From); err != nil {
		return nil, err
	}
	if err := l.To(m.conf.To); err != nil {
		return nil, err
	}
	l.SetMessageIDWithValue(MessageID(msg.ID, m.domain))
	l.SetDate()
	l.Subject(msg.Subject)
	l.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834: no holiday replies
	l.SetGenHeader("Weighbeam-Id", msg.ID)
	if msg.Urgency == home.Now || msg.Urgency == home.Today {
		l.SetImportance(mail.ImportanceHigh)
	}
	l.SetBodyString(mail.TypeTextPlain, msg.Body)
	if len(msg.Chart.PNG) == 0 {
		return l, nil
	}
	return l, illustrate(l, msg)
}

// MessageID is the Message-ID, without angle brackets, of the message id.
func MessageID(id, domain string) string {
	sum := sha256.Sum256([]byte(id))
	return hex.EncodeToString(sum[:16]) + "@" + domain
}

// verdict says what an error means. A reply of 5yz is final (RFC 5321, 4.2.1)
// except to a login: a keeper can mend a password. What the server wrote beside
// the code is not repeated, it may quote the user.
func verdict(err error, dialing bool) error {
	code := 0
	var sent *mail.SendError
	var reply *textproto.Error
	switch {
	case errors.As(err, &sent) && sent.ErrorCode() != 0:
		code = sent.ErrorCode()
	case errors.As(err, &reply):
		code = reply.Code
	}
	switch {
	case code == 530 || code == 534 || code == 535:
		return notify.Unreached("the mail server refuses the login (SMTP %d)", code)
	case code >= 500 && !dialing:
		return notify.Refused("the mail server refuses it (SMTP %d)", code)
	case code > 0:
		return notify.Unreached("the mail server does not take it now (SMTP %d)", code)
	}
	return notify.Unreached("%s", broken(err))
}

// broken says why there was no reply. The library's own error does not unwrap,
// so what it wraps can only be told from its text.
func broken(err error) string {
	var dns *net.DNSError
	var op *net.OpError
	var cert *tls.CertificateVerificationError
	text := fmt.Sprint(err)
	switch {
	case errors.As(err, &dns):
		return "the name of the mail server cannot be found"
	case errors.As(err, &cert):
		return "the certificate of the mail server is not trusted"
	case errors.Is(err, context.DeadlineExceeded), strings.Contains(text, "i/o timeout"), strings.Contains(text, net.ErrClosed.Error()):
		return "the mail server did not answer in time"
	case errors.As(err, &op) && op.Op == "dial":
		return "the mail server cannot be reached"
	case strings.Contains(text, "STARTTLS"):
		return "the mail server offers no encryption"
	}
	return "the talk with the mail server broke off"
}
