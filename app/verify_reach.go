package app

import (
	"context"
	"crypto/tls"
	"errors"
	"net"
	"net/url"
	"os"
	"path/filepath"
	"time"

	paho "github.com/eclipse/paho.mqtt.golang"
	"github.com/gofrs/flock"

	"weighbeam/home"
	"weighbeam/store"
)

// dialWait is how long another machine may take to answer.
const dialWait = 5 * time.Second

// runs reports whether a program has the store.
func (v *verifier) runs() bool {
	if _, err := os.Stat(filepath.Dir(v.cfg.Data)); err != nil {
		return false
	}
	lock := flock.New(v.cfg.Data + ".lock")
	held, err := lock.TryLock()
	if err != nil || !held {
		return err == nil
	}
	_ = lock.Unlock() // it is ours, and a new one is taken at the next start
	return false
}

// listens looks whether an address can be listened on, or is by the program.
func (v *verifier) listens(part, address string) {
	l, err := net.Listen("tcp", address)
	switch {
	case err == nil:
		l.Close()
		v.say(part, Well, "", "%s is free; weighbeam does not run.", address)
	case v.runs():
		v.say(part, Well, "", "%s is taken, and weighbeam runs.", address)
	default:
		v.say(part, Wrong, "Stop the other program, or choose another address with the key listen.", "%v, and weighbeam does not run.", err)
	}
}

func (v *verifier) pages(context.Context) { v.listens("pages", v.cfg.Listen.String()) }

// door says who may see the pages.
func (v *verifier) door(context.Context) {
	const part = "door"
	conf, err := v.cfg.doorConfig()
	if err == nil {
		err = conf.Valid()
	}
	switch {
	case err != nil:
		v.fail(part, err, "Correct the table [door].")
	case len(conf.People) == 0:
		v.say(part, Well, "", "Everybody on this machine may do everything; nobody else reaches the pages.")
	case conf.Plain && !home.Loopback(conf.Listen):
		v.say(part, Look, "Name cert_file and key_file, or a proxy that does TLS, under [door].", "%d people may sign in, and everybody on the network can read their passwords.", len(conf.People))
	default:
		v.say(part, Well, "", "%d people may sign in.", len(conf.People))
	}
}

// certificateWarns is how long before its end a certificate is worth a word.
const certificateWarns = 14 * 24 * time.Hour

func (v *verifier) certificate(context.Context) {
	const part = "certificate"
	d := v.cfg.Door
	if d.CertFile == "" && d.KeyFile == "" {
		return
	}
	pair, err := tls.LoadX509KeyPair(d.CertFile, d.KeyFile)
	if err != nil {
		v.fail(part, err, "cert_file and key_file under [door] name PEM files that belong together.")
		return
	}
	leaf := pair.Leaf
	const renew = "Renew it. The files are read again without a restart."
	switch end := leaf.NotAfter.Format(time.DateOnly); {
	case v.now.After(leaf.NotAfter):
		v.say(part, Wrong, renew, "It ended on %s: browsers refuse the pages.", end)
	case v.now.Before(leaf.NotBefore):
		v.say(part, Wrong, "Look at the clock of this machine.", "It begins on %s.", leaf.NotBefore.Format(time.DateOnly))
	case v.now.Add(certificateWarns).After(leaf.NotAfter):
		v.say(part, Look, renew, "It ends on %s.", end)
	default:
		v.say(part, Well, "", "Good until %s.", end)
	}
}

// broker connects to the broker outside as somebody else than the program, so that
// the program's session stays as it is.
func (v *verifier) broker(context.Context) {
	const part = "broker"
	if b := v.cfg.Broker; b != nil {
		v.listens(part+" inside", b.Listen.String())
	}
	if v.cfg.MQTT == nil {
		return
	}
	opts, err := v.cfg.Listening("")
	if err != nil {
		v.fail(part, err, "Correct the table [mqtt].")
		return
	}
	opts.SetClientID("weighbeam-verify").SetConnectTimeout(dialWait).SetConnectRetry(false).SetAutoReconnect(false)
	client := paho.NewClient(opts)
	token := client.Connect()
	if !token.WaitTimeout(2*dialWait) || token.Error() != nil {
		v.fail(part, errors.Join(token.Error(), home.Hinted("", "Look whether the broker runs at that address and knows the user.", "%s does not let weighbeam in", v.cfg.MQTT.Server)), "")
		return
	}
	client.Disconnect(0)
	v.say(part, Well, "", "%s lets weighbeam in.", v.cfg.MQTT.Server)
}

func (v *verifier) mirror(ctx context.Context) {
	const part = "mirror"
	if v.cfg.Influx == nil {
		return
	}
	m, err := v.cfg.newMirror(nil, nil)
	if err == nil {
		defer m.Close()
		err = m.Ask(ctx)
	}
	if err != nil {
		v.fail(part, err, "Correct the table [influx].")
		return
	}
	v.say(part, Well, "", "%s takes points.", v.cfg.Influx.URL)
}

// contacts adds those who are told by what the store holds. Where it cannot be read,
// that was said already.
func (v *verifier) contacts(ctx context.Context) {
	db, err := store.Peek(ctx, v.cfg.Data)
	if err != nil {
		return
	}
	defer db.Close()
	cfg, err := v.cfg.WithStore(ctx, db)
	if err != nil {
		v.fail("channels", err, "Correct who is told on the page of the household.")
		return
	}
	v.cfg = cfg
}

// topics looks at the topics of scales and notices. That the household cannot be read
// was said already.
func (v *verifier) topics(ctx context.Context) {
	const part = "topics"
	h, err := v.living(ctx)
	if err != nil {
		return
	}
	if err := v.cfg.crossed(h); err != nil {
		v.fail(part, err, "")
		return
	}
	v.say(part, Well, "", "No scale listens where notices go.")
}

// living is who lives in the house and what weighs them, by the household file where
// there is one.
func (v *verifier) living(ctx context.Context) (home.Household, error) {
	if v.cfg.Household != "" {
		return ReadHousehold(v.cfg.Household)
	}
	db, err := store.Peek(ctx, v.cfg.Data)
	if err != nil {
		return home.Household{}, err
	}
	defer db.Close()
	return db.Household(ctx)
}

// channels looks whether each channel is well described and its server answers.
func (v *verifier) channels(ctx context.Context) {
	if len(v.cfg.entries()) == 0 {
		v.say("channels", Look, "Say who on the page Notices, or set one up as [[mail]] or [[webhook]].", "Nobody is told of anything: findings are shown on the pages only.")
	}
	for _, e := range v.cfg.written() {
		part := "channel " + e.Name
		t, err := e.make()
		if m, ok := t.(mute); ok {
			err = m.why
		}
		if err != nil {
			v.fail(part, err, "Correct the channel.")
			continue
		}
		server := v.cfg.server(e)
		if server == "" {
			v.say(part, Well, "", "Well described. Try it: weighbeam try %s", e.Name)
			continue
		}
		dialer := net.Dialer{Timeout: dialWait}
		conn, err := dialer.DialContext(ctx, "tcp", server)
		if err != nil {
			v.say(part, Wrong, "Look at the address, and at the network of this machine.", "%s does not answer: %v", server, err)
			continue
		}
		conn.Close()
		v.say(part, Well, "", "%s answers. Try it: weighbeam try %s", server, e.Name)
	}
}

// server is the host:port that a channel speaks to; "" where it is none or a secret.
func (c Config) server(e entry) string {
	for _, k := range c.contacts {
		if e.table == contactTable && k.ID == e.Name {
			return k.Server
		}
	}
	for _, m := range c.Mail {
		if e.table == "mail" && m.Name == e.Name {
			return m.Server
		}
	}
	for _, w := range c.Webhook {
		u, err := url.Parse(w.URL)
		if e.table != "webhook" || w.Name != e.Name || err != nil || u.Host == "" {
			continue
		}
		port := u.Port()
		if port == "" {
			port = u.Scheme // net knows the ports of http and https by name
		}
		return net.JoinHostPort(u.Hostname(), port)
	}
	return ""
}
