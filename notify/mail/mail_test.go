package mail

import (
	"crypto/tls"
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/quotedprintable"
	"net"
	netmail "net/mail"
	"strings"
	"testing"

	"weighbeam/home"
	"weighbeam/notify"

	"github.com/emersion/go-smtp"
)

const user, password = "planted-user", "planted-password"

// shy fails the test if a secret is in the text.
func shy(t *testing.T, what any) {
	t.Helper()
	text := fmt.Sprintf("%v %+v", what, what)
	for _, s := range []string{user, password, "cGxhbnRlZC"} { // the last: base64 of what both begin with
		if strings.Contains(text, s) {
			t.Errorf("%q is shown: %s", s, text)
		}
	}
}

func message() notify.Message {
	return notify.Message{ID: "juniper/weight-falling/x/raised/y/mail", Subject: "Ñandú: weight falling. Book a vet visit.",
		Body:    "Ñandú is losing weight.\n\n.hidden\n" + strings.Repeat("long line ", 30) + "\nFrom here on\n\n" + home.Caution + "\n",
		Urgency: home.Today, Notices: []string{"juniper/weight-falling/x/raised/y/mail"}}
}

func config(addr *net.TCPAddr, encrypt string) Config {
	return Config{Host: "127.0.0.1", Port: addr.Port, Encrypt: encrypt,
		From: "Weighbeam <cats@example.org>", To: "Keeper <keeper@example.org>"}
}

func transport(t *testing.T, c Config) *Mail {
	t.Helper()
	m, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func failure(t *testing.T, err error) *notify.Failure {
	t.Helper()
	var f *notify.Failure
	if !errors.As(err, &f) {
		t.Fatalf("%T: %v", err, err)
	}
	shy(t, err)
	return f
}

// Over each kind of connection, with and without a login, the letter arrives
// whole, once, and with the same Message-ID when it is sent again.
func TestMail_Send_Delivers(t *testing.T) {
	for _, encrypt := range []string{StartTLS, TLS, Plain} {
		for _, login := range []bool{false, true} {
			if login && encrypt == Plain {
				continue // refused, see TestMail_Send_NoPasswordInTheClear
			}
			t.Run(fmt.Sprintf("%s login %v", encrypt, login), func(t *testing.T) {
				p := open(t, encrypt)
				c := config(p.addr, encrypt)
				c.TLSConfig = &tls.Config{RootCAs: p.pool}
				if login {
					c.User, c.Password = user, password
				}
				m := transport(t, c)
				for range 2 {
					if err := m.Send(t.Context(), message()); err != nil {
						t.Fatal(err)
					}
				}
				got := p.taken()
				if len(got) != 2 || login != (p.logins > 0) {
					t.Fatalf("%d letters, %d logins", len(got), p.logins)
				}
				first, second := parse(t, got[0]), parse(t, got[1])
				if first.Header.Get("Message-Id") != second.Header.Get("Message-Id") {
					t.Error("the second copy has another Message-ID")
				}
			})
		}
	}
}

// parse checks a letter that a server took and returns it.
func parse(t *testing.T, l letter) *netmail.Message {
	t.Helper()
	if l.from != "cats@example.org" || l.to != "keeper@example.org" {
		t.Errorf("from %s to %s", l.from, l.to)
	}
	msg, err := netmail.ReadMessage(strings.NewReader(l.data))
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]string{
		"Message-Id":     "<" + MessageID(message().ID, "example.org") + ">",
		"Weighbeam-Id":   message().ID,
		"Auto-Submitted": "auto-generated",
		"Subject":        message().Subject,
		"Importance":     "high",
	}
	for name, value := range want {
		got, err := new(mime.WordDecoder).DecodeHeader(msg.Header.Get(name))
		if err != nil || got != value {
			t.Errorf("%s is %q, want %q", name, got, value)
		}
	}
	if _, err := msg.Header.Date(); err != nil {
		t.Error(err)
	}
	shy(t, l.data)
	body, err := io.ReadAll(quotedprintable.NewReader(msg.Body))
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.ReplaceAll(string(body), "\r\n", "\n"); strings.TrimSpace(got) != strings.TrimSpace(message().Body) {
		t.Errorf("the body arrived as\n%s", got)
	}
	return msg
}

// A password never goes over a connection that others can read.
func TestMail_Send_NoPasswordInTheClear(t *testing.T) {
	p := open(t, Plain)
	c := config(p.addr, Plain)
	c.User, c.Password = user, password
	failure(t, transport(t, c).Send(t.Context(), message()))
	if p.logins != 0 {
		t.Error("it logged in")
	}
	// A server that does not offer encryption gets nothing where it is required.
	c.Encrypt = StartTLS
	if f := failure(t, transport(t, c).Send(t.Context(), message())); !strings.Contains(f.Why, "no encryption") {
		t.Errorf("%+v", f)
	}
	if p.logins != 0 || len(p.taken()) != 0 {
		t.Error("something was sent in the clear")
	}
}

func TestMail_Send_Refusals(t *testing.T) {
	reply := func(code int) error {
		return &smtp.SMTPError{Code: code, EnhancedCode: smtp.EnhancedCode{code / 100, 7, 1}, Message: "no, " + user + ":" + password}
	}
	tests := []struct {
		step  string
		code  int
		retry bool
	}{
		// A keeper may mend a password within the day that it is tried.
		{"login", 535, true},
		// 4yz may pass (RFC 5321, 4.2.1): greylisting, a full box, an overload.
		{"from", 451, true}, {"to", 450, true}, {"to", 452, true}, {"data", 451, true},
		// 5yz will not.
		{"from", 550, false}, {"to", 550, false}, {"to", 553, false}, {"data", 554, false},
	}
	for _, tt := range tests {
		t.Run(fmt.Sprintf("%s %d", tt.step, tt.code), func(t *testing.T) {
			p := open(t, StartTLS)
			p.refuse[tt.step] = reply(tt.code)
			c := config(p.addr, StartTLS)
			c.User, c.Password, c.TLSConfig = user, password, &tls.Config{RootCAs: p.pool}
			f := failure(t, transport(t, c).Send(t.Context(), message()))
			if f.Retry != tt.retry || !strings.Contains(f.Why, fmt.Sprint(tt.code)) {
				t.Errorf("%+v", f)
			}
			if len(p.taken()) != 0 {
				t.Error("it arrived all the same")
			}
		})
	}
}

// A wrong password: the careless server quotes it, the error does not.
func TestMail_Send_WrongPassword(t *testing.T) {
	p := open(t, StartTLS)
	c := config(p.addr, StartTLS)
	c.User, c.Password, c.TLSConfig = user, password+"x", &tls.Config{RootCAs: p.pool}
	if f := failure(t, transport(t, c).Send(t.Context(), message())); !f.Retry || !strings.Contains(f.Why, "login") {
		t.Errorf("%+v", f)
	}
}

func TestMail_Send_UntrustedCertificate(t *testing.T) {
	for _, encrypt := range []string{StartTLS, TLS} {
		p := open(t, encrypt)
		if f := failure(t, transport(t, config(p.addr, encrypt)).Send(t.Context(), message())); !strings.Contains(f.Why, "certificate") {
			t.Errorf("%s: %+v", encrypt, f)
		}
	}
}

func TestNew_Refuses(t *testing.T) {
	good := Config{Host: "h", From: "a@b.example", To: "c@d.example"}
	tests := []struct {
		name   string
		change func(*Config)
		want   string
	}{
		{"no host", func(c *Config) { c.Host = "" }, "host is missing"},
		{"from", func(c *Config) { c.From = "nobody" }, "from is no mail address"},
		// Two people are two channels.
		{"two", func(c *Config) { c.To = "a@b.example, c@d.example" }, "one person"},
		{"port", func(c *Config) { c.Port = 70000 }, "port 70000"},
		{"encryption", func(c *Config) { c.Encrypt = "ssl" }, "starttls, tls or none"},
		{"password alone", func(c *Config) { c.Password = password }, "no user"},
		// A line break must not smuggle in a header.
		{"smuggle", func(c *Config) { c.From = "a@b.example>\r\nBcc: all@example.org" }, "from is no mail address"},
	}
	if _, err := New(good); err != nil {
		t.Fatal(err)
	}
	for _, tt := range tests {
		c := good
		tt.change(&c)
		_, err := New(c)
		if err == nil || !strings.Contains(err.Error(), tt.want) || home.Hint(err) == "" {
			t.Errorf("%s: %v", tt.name, err)
		}
		shy(t, err)
	}
}

func TestMail_Format_Shy(t *testing.T) {
	c := config(&net.TCPAddr{Port: 1}, StartTLS)
	c.User, c.Password = "somebody", password
	m := transport(t, c)
	shy(t, fmt.Sprintf("%v %+v %#v %+v %#v", m, m, m, c, c))
}
